"""OBJ files, read with numpy: points and polygons alone.

Blender's importer is not used here: it opens whatever files the model names for its materials and pictures.
The format: Wavefront, Object Files (1995), sections "Vertex data" and "Elements"; colors, normals and places in a
picture are passed over.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.filled import filled
from .stl import numbers

REMEDY = "export the model again"
POINT, FACE = (re.compile(rb"(?m)^[ \t]*%s[ \t]+(.*?)\s*$" % kind) for kind in (b"v", b"f"))
FURTHER = re.compile(rb"/[^\s]*")  # in a corner "point/place/normal"


def read(path: Path) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Points (v, 3) in the file's own unit, corners of all polygons one after another, and how many each has.

    Raises InputError where the file is damaged, or where a face names a point that does not exist.
    """
    data = re.sub(rb"\\\r?\n", b" ", path.read_bytes())  # a line that goes on
    rows = POINT.findall(data)
    if not rows:
        raise InputError(filled("{path}: no line of it gives a point ('v x y z'); is it an OBJ file?", path=path))
    split = [row.split(None, 3)[:3] for row in rows]  # what follows is a weight or a color
    values = numbers(b" ".join([b" ".join(row) for row in split]))
    if values is None or len(values) != 3 * len(rows) or min(map(len, split)) < 3:
        raise InputError(filled("{path}: a point ('v ...') is not made of numbers; {again}", path=path, again=REMEDY))
    faces = FACE.findall(data)
    sizes = np.array([len(face.split()) for face in faces], dtype=np.int64)
    named = numbers(FURTHER.sub(b"", b" ".join(faces)))
    if named is None or len(named) != sizes.sum() or not (named == np.trunc(named)).all():
        raise InputError(
            filled("{path}: a face ('f ...') is not made of point numbers; {again}", path=path, again=REMEDY)
        )
    before = len(rows) * np.ones(len(faces), dtype=np.int64)
    if (named < 0).any():  # counted back from the last point above the face
        above, places = (np.array([match.start() for match in kind.finditer(data)]) for kind in (POINT, FACE))
        before = np.searchsorted(above, places)
    corners = np.where(named < 0, np.repeat(before, sizes) + named, named - 1)
    if len(corners) and not (corners.min() >= 0 and corners.max() < len(rows) and named.all()):
        raise InputError(
            filled(
                "{path}: a face names a point that does not exist; it was cut off or damaged, {again}",
                path=path,
                again=REMEDY,
            )
        )
    return values.reshape(-1, 3), corners.astype(np.int64), sizes


def sound(corners: NDArray[np.int64], sizes: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(n,) whether a polygon has three corners or more, and no point twice."""
    owner = np.repeat(np.arange(len(sizes)), sizes)
    order = np.lexsort((corners, owner))
    twice = (np.diff(corners[order]) == 0) & (np.diff(owner[order]) == 0)
    valid = sizes >= 3
    valid[owner[order[1:]][twice]] = False
    return valid
