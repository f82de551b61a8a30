"""Installs the zip into an empty user folder, enables it, and runs the main job through what was installed.

python tools/installed.py ZIP JOB.toml FOLDER

Run by a Python that has the bpy wheel. Everything that the job leaves goes to FOLDER.
"""

from __future__ import annotations

import importlib
import json
import os
import sys
import tempfile
from pathlib import Path

ID = "platewright"
MODULE = f"bl_ext.user_default.{ID}"
ENDINGS = {
    "report": ".json",
    "plan": ".txt",
    "arrays": ".npz",
    "blend": ".blend",
    "picture": ".png",
    "workshop": ".html",
}


def main(zip_file: Path, job: Path, folder: Path) -> int:
    with tempfile.TemporaryDirectory() as user:
        os.environ["BLENDER_USER_RESOURCES"] = user  # before bpy is imported: an empty world
        os.chdir(user)
        import bpy

        bpy.ops.extensions.package_install_files(filepath=str(zip_file), repo="user_default", enable_on_install=True)
        if MODULE not in bpy.context.preferences.addons:
            print(f"installed: Blender {bpy.app.version_string} did not enable {zip_file}", file=sys.stderr)
            return 1
        try:
            command = importlib.import_module(f"{MODULE}.suite.command")
            targets = {option: folder / f"installed{end}" for option, end in ENDINGS.items()}
            status = command.main(
                ["plan", str(job), *(word for o, path in targets.items() for word in (f"--{o}", str(path)))]
            )
        finally:
            bpy.ops.preferences.addon_disable(module=MODULE)  # else the wheel would hang at exit
        if status:
            return status
        missing = [str(path) for path in targets.values() if not path.stat().st_size]
        area = json.loads(targets["report"].read_text())["part"]["plated_area_dm2"]
        print(f"installed: Blender {bpy.app.version_string}: {area} dm2; all of {', '.join(ENDINGS)} written")
        return 1 if missing or not area > 0 else 0


if __name__ == "__main__":
    sys.exit(main(*(Path(name).absolute() for name in sys.argv[1:4])))
