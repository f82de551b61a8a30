"""Writers of a job's files: report, arrays, the copy to print, the part in a scene of its own."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..engine.printing.prepare import SizedCopy
from ..engine.study import Study
from ..engine.units import MM
from ..quiet import quiet
from .scene import load, meshes


def write_json(path: Path, table: Mapping[str, Any]) -> None:
    """The report as JSON, in UTF-8."""
    text = json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    path.write_text(text, encoding="utf-8", errors="backslashreplace")  # a name that is no text, as JSON escapes it


def write_arrays(path: Path, arrays: Mapping[str, NDArray[Any]]) -> None:
    """A compressed .npz of the arrays by their names."""
    packed = io.BytesIO()  # on a full disk the zip writer itself would print a traceback at the end
    np.savez_compressed(packed, **arrays)  # type: ignore[arg-type]  # its keywords are the arrays' own names
    path.write_bytes(packed.getvalue())


def inset(study: Study, sized: SizedCopy) -> NDArray[np.float64]:
    """Corners (n, 3, 3) in meters of the copy to print."""
    return sized.inset.points[study.surface.triangles[study.surface.area > 0]]


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
    triangles = surface.triangles.copy()
    collapsed = np.flatnonzero((triangles == np.roll(triangles, 1, axis=1)).any(axis=1))
    apart = part.points[part.triangles[collapsed]].reshape(-1, 3)
    triangles[collapsed] = len(surface.points) + np.arange(3 * len(collapsed), dtype=np.int32).reshape(-1, 3)
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
    try:
        with quiet():
            bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True, compress=True)
    except RuntimeError as error:
        raise OSError(f"Blender cannot save it: {error}") from None


def _middle(o: bpy.types.Object) -> tuple[float, ...]:
    corners = np.array(o.bound_box)
    return tuple((corners.min(axis=0) + corners.max(axis=0)) / 2)
