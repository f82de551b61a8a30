"""The objects around the part in a .blend read without a window, with the same roles as in Blender."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np

from ...engine.errors import InputError
from ...engine.filled import filled
from ...engine.mesh.part import Part
from ...engine.settings.job import Job, read_job
from ...engine.settings.sections import MODELS
from ...engine.units import MM
from . import capture, roles, settings, stage

# Keys and sections that place things: those set by the job are not taken from objects
OWN = ("tank", "anode", "shield", "thief", "place.centre_mm", "place.turn_deg", "rack.positions_mm", "rack.turns_deg")
TINY = 10 * MM  # m; a smaller tank was not drawn in the unit of the job


@contextmanager
def known() -> Iterator[None]:
    """Within it, the roles and settings of a file are registered, even if the extension is not enabled."""
    if hasattr(bpy.types.Scene, "platewright"):
        yield
        return
    roles.register()
    settings.register(typed=False)
    try:
        yield
    finally:
        settings.unregister()
        roles.unregister()


def furnished(
    context: bpy.types.Context, job: Job, part: Part, source: bpy.types.Object
) -> tuple[Job, dict[str, Part]]:
    """The job with what stands round the part in the context's scene, and the bodies that it names then.

    source : the object that is the part. Where the job says something of the tank or of what is in it, it is the job's
    own, and only objects that it names in place of a file are taken. Raises InputError naming the object that cannot
    serve.
    """
    settings.of(context.scene).objects.clear()
    settings.of(context.scene).objects.add().object = source
    specified = job.specified or frozenset()
    wires = job.wires if "wire" in specified else None
    if says_itself(job):
        furnished_job, bodies = _named(context, job, part)
        staged = job if not roles.every(context.scene, roles.WIRE) else stage.staged(context, job, part, np.zeros(3))[0]
        return replace(furnished_job, wires=staged.wires if wires is None else wires), bodies
    tank = roles.tank(context.scene)
    if tank is not None:
        _check_unit(job, tank, context.scene)
        shown = settings.table(context.scene)["tank"]
        job = replace(job, tank=read_job({"tank": shown}, job.part.file).tank)
    furnished_job, bodies = stage.staged(context, job, part, np.zeros(3))
    keys = {"tank.shape", "tank.size_mm", "tank.level_mm", "anode"} if tank is not None else set()
    return replace(
        furnished_job, specified=specified | keys, wires=furnished_job.wires if wires is None else wires
    ), bodies


def says_itself(job: Job) -> bool:
    """Whether the job itself places something in the tank."""
    return any(key in OWN or key.split(".")[0] in OWN for key in job.specified or ())


def _check_unit(job: Job, tank: bpy.types.Object, scene: bpy.types.Scene) -> None:
    size = roles.inside(tank, scene).size
    if size.max() < TINY and "part.unit" not in (job.specified or ()):
        inside = " x ".join(f"{length / MM:.3g}" for length in size)
        raise InputError(
            filled(
                "{path}: {name}: in mm its inside would be {inside} mm; say {part.unit}, 'scene' for the scene's own",
                path=job.part.file,
                name=tank.name,
                inside=inside,
            )
        )


def _named(context: bpy.types.Context, job: Job, part: Part) -> tuple[Job, dict[str, Part]]:
    """The bodies that the job calls by the name of an object, in the coordinates of the scene's tank."""
    tank = [job.tank] if job.tank.shape == "mesh" else []
    names = [section.file for section in (*(job.anodes or ()), *job.shields, *job.thieves, *tank)]
    names = [name for name in names if name and Path(name).suffix.lower() not in MODELS]
    if not names:
        return job, {}
    frame = stage.axes(context.scene, job)
    depsgraph, meters = context.evaluated_depsgraph_get(), capture.meters_per_unit(context.scene)
    bodies = {}
    for name in names:
        o: bpy.types.Object | None = context.scene.objects.get(name)
        if o is None:
            raise InputError(
                filled(
                    "{name}: neither a model file nor an object of {path}; check the name",
                    name=name,
                    path=job.part.file,
                )
            )
        bodies[name] = stage.in_tank(capture.body(o, depsgraph, meters), frame)
    return job, bodies
