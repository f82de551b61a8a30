"""tasks.py FOLDER: the models, the jobs and a .blend of every task in docs/tasks, ready to be checked.

A .blend holds the part in a scene in millimeters and the job's settings in the panels: open it and press Check Part.
Run by a Python that has the bpy wheel, in a process of its own, for the extension is registered.
"""

from __future__ import annotations

import sys
from pathlib import Path

import bpy

ROOT = Path(__file__).resolve().parent.parent

sys.path[:0] = [str(ROOT), str(ROOT / "docs" / "tasks")]


def main(folder: Path) -> int:
    import addon

    import jobs

    jobs.write(folder)
    addon.register()
    try:
        for name in jobs.JOBS:
            blend(folder / f"{name}.toml", folder / f"{name}.blend")
    finally:
        addon.unregister()
    print(f"tasks: {', '.join(jobs.JOBS)} in {folder}, each with its model and a .blend")
    return 0


def blend(job_file: Path, target: Path) -> None:
    """The part of a job and its settings as a .blend. The extension must be registered."""
    from addon.engine.settings.job_file import load_job
    from addon.engine.units import MM
    from addon.suite.scene import load, meshes, settings
    from addon.suite.session import session

    job = load_job(job_file)
    part = load.part(job.part)
    load.empty_scene()
    scene = bpy.context.scene
    units = scene.unit_settings
    units.system, units.scale_length, units.length_unit = "METRIC", MM, "MILLIMETERS"
    made = bpy.data.objects.new(part.name, meshes.new(part.name, part.points / MM, part.triangles))
    scene.collection.objects.link(made)
    bpy.context.view_layer.objects.active = made
    made.select_set(True)
    settings.fill(scene, job)
    session.choose(bpy.context, [made])
    bpy.ops.wm.save_as_mainfile(filepath=str(target), copy=True, compress=True)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
