"""release.py ZIP SITE TASKS FOLDER: what is published, under its version: zip, site, PDF, tasks, icon, their checksums.

ZIP : the extension, built and validated by Blender's own builder (tools/package.py); SITE : as tools/site.py built it
TASKS : as tools/tasks.py made it
The same input gives the same bytes. What the change log still lacks before this may be published is said in one line.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import sys
import tomllib
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest that a zip can tell: no file's own time, so that bytes repeat
SUMS = "SHA256SUMS"  # as `sha256sum --check` reads it


def main(package: Path, site: Path, tasks: Path, folder: Path) -> int:
    version = tomllib.loads((ROOT / "blender_manifest.toml").read_text(encoding="utf-8"))["version"]
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    shutil.copy2(package, folder / f"platewright-{version}.zip")
    packed(site / "html", folder / f"platewright-{version}-docs.zip")
    packed(tasks, folder / f"platewright-{version}-tasks.zip")
    if (site / "platewright.pdf").exists():
        shutil.copy2(site / "platewright.pdf", folder / f"platewright-{version}-docs.pdf")
    shutil.copy2(ROOT / "docs" / "pictures" / "icon.png", folder / "icon.png")
    files = sorted(folder.iterdir())
    lines = [f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n" for path in files]
    (folder / SUMS).write_text("".join(lines), encoding="utf-8")
    print(f"release: {version} in {folder}: {', '.join(path.name for path in files)}, {SUMS}")
    lacking = unready((ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), version)
    if lacking:
        print(f"release: a trial, not to be published: {lacking}")
    return 0


def packed(tree: Path, target: Path) -> None:
    """A folder as a zip whose bytes depend on its files alone."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(one for one in tree.rglob("*") if one.is_file() and one.name != ".buildinfo"):
            entry = zipfile.ZipInfo(str(path.relative_to(tree)), FIRST_DAY)
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(entry, path.read_bytes())


def unready(changes: str, version: str) -> str:
    """What the change log lacks for a version, or nothing."""
    sections = re.split(r"^## ", changes, flags=re.MULTILINE)[1:]
    content = {head.strip(): body.strip() for head, _, body in (one.partition("\n") for one in sections)}
    if content.get("Unreleased"):
        return (
            "CHANGELOG.md has entries under Unreleased; put them under a version, and that into blender_manifest.toml"
        )
    return "" if content.get(version) else f"CHANGELOG.md says nothing of {version}"


if __name__ == "__main__":
    sys.exit(main(*(Path(one) for one in sys.argv[1:5])))
