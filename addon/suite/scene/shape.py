"""Detects changes of captured objects, by a summary cheap enough for a handler."""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from typing import Any, TypeAlias

import bpy
import numpy as np
from numpy.typing import NDArray

from .. import versions
from . import settings
from .capture import SURFACES

Shape: TypeAlias = tuple[tuple[int, list[float], list[int]], ...]  # session id, place, content of each object

_READ = {  # what foreach_get wants to know of a type of attribute
    "FLOAT_VECTOR": ("vector", np.float32, 3),
    "INT": ("value", np.int32, 1),
    "BOOLEAN": ("value", np.bool_, 1),
}


def of(objects: Iterable[bpy.types.Object], depsgraph: bpy.types.Depsgraph) -> Shape:
    """Points, faces, marks, turn and scale of each object.

    Positions count only relative to the first object, so that moving the whole part keeps its results valid.
    """
    ordered = in_order(objects)
    part = settings.of(depsgraph.scene).part
    names = ("position", ".corner_vert", part.mask, part.show)
    shown = visible(ordered, depsgraph.view_layer)
    inside = (
        _content(o.evaluated_get(depsgraph), names) if seen else [] for o, seen in zip(ordered, shown, strict=True)
    )
    return tuple(
        (versions.session_id(o), _place(o, ordered[0]), shape) for o, shape in zip(ordered, inside, strict=True)
    )


def visible(objects: Iterable[bpy.types.Object], view_layer: bpy.types.ViewLayer) -> tuple[bool, ...]:
    """Whether each object is seen, in their order: what is hidden is no part of the part."""
    return tuple(o.visible_get(view_layer=view_layer) for o in in_order(objects))


def in_order(objects: Iterable[bpy.types.Object]) -> list[bpy.types.Object]:
    """Objects in an order that no renaming changes."""
    return sorted(objects, key=versions.session_id)


def by_id(view_layer: bpy.types.ViewLayer) -> dict[int, bpy.types.Object]:
    """The objects of a view layer by their session ids."""
    view_layer.update()  # before the update, an object removed by a script is still listed, as None
    return {versions.session_id(o): o for o in view_layer.objects}


def content(form: Shape) -> list[tuple[int, list[int]]]:
    """The part of a shape's summary that does not change with transforms."""
    return [(session, inside) for session, _, inside in form]


def placements(objects: Iterable[bpy.types.Object]) -> NDArray[np.float64]:
    """(k, 4, 4) where they stand and how they are turned and scaled, in scene units, in their order."""
    return np.array([np.array(o.matrix_world, dtype=np.float64) for o in in_order(objects)])


def _place(o: bpy.types.Object, first: bpy.types.Object) -> list[float]:
    """Turn, scale and distance, to single precision."""
    matrix = np.array(o.matrix_world)[:3]
    matrix[:, 3] -= np.array(first.matrix_world)[:3, 3]
    return np.round(matrix.ravel(), 6).tolist()


def _content(evaluated: bpy.types.Object, names: Iterable[str]) -> list[int]:
    """Counts and checksums of the evaluated surface; nothing where there is none."""
    if evaluated.type not in SURFACES:
        return []
    own = isinstance(evaluated.data, bpy.types.Mesh) and evaluated.mode != "EDIT"  # attributes are empty there
    mesh: Any = evaluated.data if own else evaluated.to_mesh()
    if mesh is None:
        return []
    content = [len(mesh.vertices), len(mesh.polygons), *(_checksum(mesh, name) for name in names)]
    if not own:
        evaluated.to_mesh_clear()
    return content


def _checksum(mesh: bpy.types.Mesh, name: str) -> int:
    """Of one attribute; zero where there is none."""
    attribute: Any = mesh.attributes.get(name)
    if attribute is None or attribute.data_type not in _READ:
        return 0
    key, kind, size = _READ[attribute.data_type]
    values = np.empty(len(attribute.data) * size, dtype=kind)
    attribute.data.foreach_get(key, values)
    return zlib.crc32(values.data)
