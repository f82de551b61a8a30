"""From a model file to a `Part`, for the command line: STL, GLB and OBJ by numpy, the others through Blender's
importers.

Axes are the file's own, apart from GLB, whose standard has Y up: there Y becomes Z, as Blender imports it.
A .blend is opened with its scripts disabled. What was in Blender's memory before is gone afterwards.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine import inputs
from ...engine.errors import InputError
from ...engine.filled import filled
from ...engine.mesh import weld
from ...engine.mesh.part import Part
from ...engine.mesh.skipped import Skipped, Why
from ...engine.settings.job import Job
from ...engine.settings.part import PartSection
from ...engine.settings.sections import MODELS
from ...engine.units import LENGTH
from ...quiet import quiet
from . import capture, glb, meshes, obj, ply, roles, scenes, stl

MAX_TRIANGLES = 20_000_000  # more triangles exceed a workshop computer's memory with the mesh alone
BLEND = (b"BLENDER", b"\x28\xb5\x2f\xfd", b"\x1f\x8b")  # how a .blend begins: plain, or packed with zstd or gzip
MAX_BYTES = MAX_TRIANGLES * stl.RECORD.itemsize


def part(section: PartSection) -> Part:
    """The part that a job names. Raises InputError naming the file, what is wrong with it and the remedy."""
    path = Path(section.file)
    _readable(path)
    kind = path.suffix.lower()
    if kind == ".stl":
        return _of_corners(path, section, stl.read(path))
    if kind == ".glb":
        return _of_corners(path, section, glb.read(path, MAX_TRIANGLES))
    return {".obj": _from_obj, ".ply": _from_ply, ".blend": _from_blend}[kind](path, section)


def staged(job: Job) -> tuple[Part, Job, dict[str, Part]]:
    """The part, the job with what stands round it in its .blend, and the models of both. Raises InputError as `part`
    does."""
    if not job.part.file.lower().endswith(".blend"):
        return part(job.part), job, bodies(job)
    with scenes.known():
        opened, source, scene = _opened(Path(job.part.file), job.part)
        with bpy.context.temp_override(scene=scene, view_layer=scene.view_layers[0]):
            job, standing = scenes.furnished(bpy.context, job, opened, source)
    return opened, job, {**bodies(job, leave=standing), **standing}


def bodies(job: Job, leave: Collection[str] = ()) -> dict[str, Part]:
    """The models that a job names for its tank, anodes, shields and thieves, by their file names, but those of `leave`.

    They are in the part file's unit. Raises InputError as `part` does.
    """
    return {file: part(_section(file, job.part)) for file in files(job)[1:] if file not in leave}


def files(job: Job) -> list[str]:
    """The model files that a job names: the part's, and those of the bodies in the tank."""
    tank = [job.tank] if job.tank.shape == "mesh" else []
    return [
        section.file for section in (job.part, *(job.anodes or ()), *job.shields, *job.thieves, *tank) if section.file
    ]


def _section(file: str, of: PartSection) -> PartSection:
    """How to read a body's file beside that part."""
    if Path(file).suffix.lower() not in MODELS:
        raise InputError(filled("{path}: no model file; give one of {known}", path=file, known=", ".join(MODELS)))
    if of.unit == "scene" and not file.lower().endswith(".blend"):
        raise InputError(filled("{path}: its unit is not known beside a .blend; give {part.unit}", path=file))
    return PartSection(file=file, unit=of.unit)


def _readable(path: Path) -> None:
    if not inputs.size(path, MAX_BYTES, "thin the mesh out first"):
        raise InputError(filled("{path}: the file is empty; export the model again", path=path))


def _check_finite(path: Path, points: NDArray[np.float64]) -> None:
    finite = np.isfinite(points)
    wrong = 0 if finite.all() else np.count_nonzero(~finite.all(axis=-1))  # to look at each point takes longer
    if wrong:
        raise InputError(
            filled(
                "{path}: {wrong} points have coordinates that are not finite numbers; export the model again",
                path=path,
                wrong=wrong,
            )
        )


def _of_corners(path: Path, section: PartSection, corners: NDArray[np.float64]) -> Part:
    """corners : (m, 3, 3) in the file's unit"""
    if not len(corners):
        raise InputError(filled("{path}: the model has no faces; choose a file with a surface", path=path))
    _check_finite(path, corners)
    points = corners.reshape(-1, 3) * LENGTH[section.unit]
    triangles = np.arange(len(points), dtype=np.int32).reshape(-1, 3)
    # each face has its own three; what lies at exactly one place was one point
    return Part.of(path.stem, *weld.compact(points, triangles, weld.exact(points)))


def _from_obj(path: Path, section: PartSection) -> Part:
    points, corners, sizes = obj.read(path)
    sound = obj.sound(corners, sizes)
    corners, starts = corners[np.repeat(sound, sizes)], np.append(0, np.cumsum(sizes[sound]))[:-1]
    triangles = corners.reshape(-1, 3) if (sizes[sound] == 3).all() else meshes.triangulated(points, corners, starts)
    part = _of_corners(path, section, points[triangles])
    lost = len(sizes) - int(sound.sum())
    if not lost:
        return part
    return replace(part, skipped=(Skipped(Why.DEGENERATE, path.name, count=lost, total=len(sizes)),))


def _from_ply(path: Path, section: PartSection) -> Part:
    """By Blender's importer, once the file is known to be whole."""
    promised = ply.polygons(path, path.read_bytes())
    empty_scene()
    with quiet():
        try:
            bpy.ops.wm.ply_import(filepath=str(path))
        except RuntimeError as error:
            reason = _last_line(str(error))
            raise InputError(
                filled("{path}: Blender cannot read it: {reason}; export it again", path=path, reason=reason)
            ) from None
    scene = bpy.context.scene
    meshes = {o: o.data for o in scene.objects if isinstance(o.data, bpy.types.Mesh) and len(o.data.polygons)}
    if not meshes:
        raise InputError(filled("{path}: the model has no faces; choose a file with a surface", path=path))
    for mesh in meshes.values():
        _check_finite(path, capture.positions(mesh))
    meters = LENGTH[section.unit]
    captured = capture.of_objects(meshes, bpy.context, meters, section.mask, section.show, path.stem).part
    lost = promised - sum(len(mesh.polygons) for mesh in meshes.values())
    if lost <= 0:
        return captured
    doubled = Skipped(Why.DOUBLED, path.name, count=lost, total=promised)
    return replace(captured, skipped=(*captured.skipped, doubled))


def _from_blend(path: Path, section: PartSection) -> Part:
    with scenes.known():
        return _opened(path, section)[0]


def _opened(path: Path, section: PartSection) -> tuple[Part, bpy.types.Object, bpy.types.Scene]:
    """The part of a .blend, its object and its scene, which stay in memory; one unit of the scene then means what the
    section says.
    """
    _readable(path)
    with open(path, "rb") as file:
        if not file.read(7).startswith(BLEND):
            raise InputError(
                filled("{path}: it does not begin as a .blend file does; save it again from Blender", path=path)
            )
    with quiet():
        try:
            bpy.ops.wm.open_mainfile(filepath=str(path), load_ui=False, use_scripts=False)
        except RuntimeError as error:
            reason = _last_line(str(error)).rsplit(": ", 1)[-1]
            raise InputError(
                filled("{path}: Blender cannot open it: {reason}; save it again from Blender", path=path, reason=reason)
            ) from None
    chosen = _named(path, section.object)
    scene = next((s for s in bpy.data.scenes if chosen.name in s.objects), bpy.context.scene)
    meters = capture.meters_per_unit(scene) if section.unit == "scene" else LENGTH[section.unit]
    scene.unit_settings.system, scene.unit_settings.scale_length = "METRIC", meters
    with bpy.context.temp_override(scene=scene, view_layer=scene.view_layers[0]):
        _show(chosen, scene)
        try:
            caught = capture.of_objects([chosen], bpy.context, meters, section.mask, section.show)
            return caught.part, chosen, scene
        except InputError as fault:
            raise InputError(filled("{path}: {fault}", path=path, fault=fault)) from None


def _named(path: Path, name: str) -> bpy.types.Object:
    """The object of that name; without a name, the only one with a surface."""
    surfaces = [o.name for o in bpy.data.objects if o.type in capture.SURFACES and not roles.of(o)]
    known = ", ".join(f"'{other}'" for other in surfaces[:8]) + (", ..." if len(surfaces) > 8 else "")
    if not surfaces:
        raise InputError(filled("{path}: no object in it has a surface; choose another file", path=path))
    if not name and len(surfaces) > 1:
        raise InputError(
            filled("{path}: several objects have a surface; name one as {part.object}: {known}", path=path, known=known)
        )
    chosen: bpy.types.Object | None = bpy.data.objects.get(name or surfaces[0])
    if chosen is None:
        raise InputError(
            filled(
                "{path}: {part.object}: there is no object '{name}'; known: {known}", path=path, name=name, known=known
            )
        )
    return chosen


def _show(o: bpy.types.Object, scene: bpy.types.Scene) -> None:
    """Unhide a named object: it is meant even if hidden, and Blender evaluates only visible ones."""
    o.hide_viewport = False
    if o.name not in scene.collection.objects:
        scene.collection.objects.link(o)
    scene.view_layers[0].update()
    o.hide_set(False, view_layer=scene.view_layers[0])


def empty_scene() -> None:
    """An empty file with factory settings in memory; enabled extensions stay."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)


def _last_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return lines[-1].removeprefix("Error: ").rstrip(".") if lines else ""
