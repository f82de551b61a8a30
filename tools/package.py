"""Builds the extension's zip with Blender's own builder, and lets it validate the result.

python tools/package.py ZIP

Run by a Python that has the bpy wheel: the builder lies inside it and runs as a script.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import manual  # beside this file

ROOT = Path(__file__).resolve().parent.parent
BESIDE = ("blender_manifest.toml", "README.md", "LICENSE")
LEFT_OUT = shutil.ignore_patterns("__pycache__", "*.pyc", ".*")


def main(target: Path) -> int:
    builder, tags = blender_tools()
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        stage = Path(folder, "stage")
        shutil.copytree(ROOT / "addon", stage, ignore=LEFT_OUT)
        for name in BESIDE:
            shutil.copy2(ROOT / name, stage)
        Path(stage, "guide.html").write_text(manual.page(ROOT / "docs" / "guide.md"), encoding="utf-8")
        made = Path(folder, target.name)
        tagged = ("--valid-tags", tags)
        if not run(builder, "build", "--source-dir", stage, "--output-filepath", made, *tagged):
            return 1
        if not run(builder, "validate", made, *tagged):
            return 1
        shutil.move(made, target)
    print(f"package: {target}, {target.stat().st_size / 1024:.0f} KiB, valid")
    return 0


def blender_tools() -> tuple[Path, Path]:
    """The builder and the list of tags that extensions may bear, inside the installed wheel."""
    spec = importlib.util.find_spec("bpy")
    if spec is None or spec.origin is None:
        sys.exit("package: this Python has no bpy wheel; run 'make zip', which installs it")
    inside = Path(spec.origin).parent
    builder = next(inside.glob("*/scripts/addons_core/bl_pkg/cli/blender_ext.py"))
    tags = next(inside.glob("*/scripts/modules/_bpy_internal/extensions/tags.py"))
    return builder, tags


def run(builder: Path, *arguments: object) -> bool:
    """Run the builder; what it said is shown where it failed."""
    done = subprocess.run([sys.executable, builder, *map(str, arguments)], capture_output=True, text=True, timeout=120)
    if done.returncode:
        print(done.stdout + done.stderr, file=sys.stderr)
    return done.returncode == 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
