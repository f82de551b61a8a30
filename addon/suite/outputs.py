"""The files that a job leaves: checked before anything is computed, made beside their places, moved together."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..engine.analyses import Study
from ..engine.errors import InputError
from ..engine.printing import prepare
from ..engine.units import MM
from .quiet import quiet
from .scene import load, meshes

ENDINGS = {
    "report": ".json",
    "plan": ".txt",
    "arrays": ".npz",
    "blend": ".blend",
    "picture": ".png",
    "cut": ".png",
    "inset": ".stl",
}


def check(outputs: Mapping[str, Path], inputs: list[Path]) -> None:
    """Raises InputError, naming option and file, where an output could not be written in the end.

    outputs : option -> file; inputs : files that must not be written over
    """
    taken = {path.resolve(): "is read by this job" for path in inputs}
    for option, path in outputs.items():
        where = f"--{option} {path}"
        if path.suffix.lower() != ENDINGS[option] and option in ("arrays", "blend", "picture", "cut", "inset"):
            raise InputError(f"{where}: the name must end in {ENDINGS[option]}")
        if path.resolve() in taken:
            raise InputError(f"{where}: this file {taken[path.resolve()]}; choose another name")
        taken[path.resolve()] = f"is --{option} already"
        if path.is_dir():
            raise InputError(f"{where}: this is a folder; name a file in it")
        try:
            _beside(path).unlink()
        except OSError as error:
            reason = error.strerror or str(error)
            remedy = "choose a folder that is there and that you may write to"
            raise InputError(f"{where}: cannot write there ({reason}); {remedy}") from None
        if path.exists() and not os.access(path, os.W_OK):
            raise InputError(f"{where}: the file is write-protected; choose another name")


@contextmanager
def together(outputs: Mapping[str, Path]) -> Iterator[dict[str, Path]]:
    """Files to write to, one an option. All move to their places when the block ends well, else none stays."""
    made: dict[str, Path] = {}
    try:
        for option, path in outputs.items():
            made[option] = _beside(path)
        yield made
        for option, path in outputs.items():
            os.replace(made[option], path)
    except OSError as error:
        raise InputError(f"{error.filename}: {error.strerror}; is the disk full?") from None
    finally:
        for path in made.values():
            path.unlink(missing_ok=True)


def _beside(path: Path) -> Path:
    """A new empty file in the same folder, of the same kind, with the rights that any new file has."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix)
    mask = os.umask(0)
    os.umask(mask)
    os.close(handle)
    os.chmod(name, 0o666 & ~mask)
    return Path(name)


def write_json(path: Path, table: Mapping[str, Any]) -> None:
    path.write_text(json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8")


def write_arrays(path: Path, arrays: Mapping[str, NDArray[Any]]) -> None:
    with open(path, "wb") as file:
        np.savez_compressed(file, **arrays)  # type: ignore[arg-type]


def inset(study: Study, deposit: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
    """Corners (n, 3, 3) in meters of the copy to print. deposit : as for `prepare.to_size`, which raises the Faults"""
    surface, job = study.surface, study.job
    assert surface is not None
    points = prepare.to_size(surface, job.target, job.coat, deposit).points
    return points[surface.triangles[surface.area > 0]]


def scene_of(study: Study) -> bpy.types.Object:
    """The part alone in an empty scene in millimeters: polygon i is triangle i of the part."""
    load.empty_scene()
    scene = bpy.context.scene
    units: Any = scene.unit_settings  # typed without the units that there are
    units.system, units.scale_length, units.length_unit = "METRIC", MM, "MILLIMETERS"
    points, triangles = _drawn(study)
    o = bpy.data.objects.new(study.part.name, meshes.new(study.part.name, points / MM, triangles))
    scene.collection.objects.link(o)
    bpy.context.view_layer.objects.active = o
    o.select_set(True)
    return o


def _drawn(study: Study) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Points and triangles of the surface; triangles that welding has collapsed keep points of their own."""
    surface, part = study.surface, study.part
    assert surface is not None
    triangles = surface.triangles.copy()
    bad = np.flatnonzero((triangles == np.roll(triangles, 1, axis=1)).any(axis=1))
    apart = part.points[part.triangles[bad]].reshape(-1, 3)
    triangles[bad] = len(surface.points) + np.arange(3 * len(bad), dtype=np.int32).reshape(-1, 3)
    return np.vstack([surface.points, apart]), triangles


def write_blend(path: Path, o: bpy.types.Object) -> None:
    """Save the scene, its viewports looking at the part and showing its colors."""
    size = max(*o.dimensions)
    for area in (area for screen in bpy.data.screens for area in screen.areas if area.type == "VIEW_3D"):
        space = area.spaces.active
        space.shading.color_type = "VERTEX"
        space.clip_start, space.clip_end = size / 1000, size * 100
        space.region_3d.view_location = _middle(o)
        space.region_3d.view_distance = 2.5 * size
    path.unlink(missing_ok=True)  # over a file that is there, Blender keeps a backup beside it
    try:
        with quiet():
            bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True, compress=True)
    except RuntimeError as error:
        raise InputError(f"{path}: Blender cannot save it: {error}; is the disk full?") from None


def _middle(o: bpy.types.Object) -> tuple[float, ...]:
    corners = np.array(o.bound_box)
    return tuple((corners.min(axis=0) + corners.max(axis=0)) / 2)
