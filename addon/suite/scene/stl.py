"""STL files, binary and text, read with numpy and written: without welding, and truncated files are refused.

Blender's importer is not used here: it joins points, and reads truncated files partially.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.filled import filled

HEADER = 84  # bytes before the first triangle of a binary file: 80 of text and the count
RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
BLOCK = 1 << 25  # bytes of a text file parsed at a time


def read(path: Path) -> NDArray[np.float64]:
    """Corners (m, 3, 3) in the file's own unit. Raises InputError where the file is no whole STL file."""
    size = path.stat().st_size
    with open(path, "rb") as file:
        head = file.read(HEADER)
    count = int.from_bytes(head[80:84], "little") if len(head) == HEADER else 0
    if len(head) == HEADER and size == HEADER + count * RECORD.itemsize:
        return np.fromfile(path, RECORD, count, offset=HEADER)["corners"].astype(np.float64)
    if head.lstrip()[:5].lower() == b"solid" and b"\0" not in head[5:]:
        return _read_text(path)
    if len(head) < HEADER:
        raise InputError(
            filled("{path}: {size} bytes are too few for an STL file; export the model again", path=path, size=size)
        )
    raise InputError(
        filled(
            "{path}: its header promises {count} triangles in {count_2} bytes, but it has {size}: it was"
            " cut off or damaged; export the model again",
            path=path,
            count=count,
            count_2=HEADER + count * RECORD.itemsize,
            size=size,
        )
    )


def write(path: Path, corners: NDArray[np.float64]) -> None:
    """A binary file of triangles (m, 3, 3), normals by their winding."""
    records = np.zeros(len(corners), RECORD)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    records["normal"] = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0)
    records["corners"] = corners
    with open(path, "wb") as file:
        file.write(b"binary".ljust(HEADER - 4, b"\0") + len(records).to_bytes(4, "little"))
        file.write(records.data)  # numpy's tofile ignores a full disk


def _read_text(path: Path) -> NDArray[np.float64]:
    solids, facets, last = [np.zeros((0, 3, 3))], 0, b""
    for block in _blocks(path):
        facets += block.count(b"facet normal") or block.count(b"facet") - block.count(b"endfacet")
        rows = [piece.split(None, 3)[:3] for piece in block.split(b"vertex")[1:]]
        values = numbers(b" ".join(b" ".join(row) for row in rows))
        if values is None or len(values) != 3 * len(rows) or len(rows) % 3:
            raise InputError(
                filled("{path}: a vertex without three numbers; it was cut off or damaged, export it again", path=path)
            )
        solids.append(values.reshape(-1, 3, 3))
        last = block
    corners = np.concatenate(solids)
    if len(corners) != facets or b"endsolid" not in last:
        raise InputError(
            filled(
                "{path}: {count} facets begin and {corners} are whole, or 'endsolid' is missing: it was cut"
                " off or damaged; export the model again",
                path=path,
                count=facets,
                corners=len(corners),
            )
        )
    return corners


def _blocks(path: Path) -> Iterator[bytes]:
    """The text in lower case, cut after whole facets."""
    partial = b""
    with open(path, "rb") as file:
        while piece := file.read(BLOCK):
            partial += piece.lower()
            end = partial.rfind(b"endfacet") + len(b"endfacet")
            if end > len(b"endfacet") and len(piece) == BLOCK:
                yield partial[:end]
                partial = partial[end:]
    yield partial


def numbers(text: bytes) -> NDArray[np.float64] | None:
    """Numbers divided by white space; None where something else stands among them."""
    if not text.strip():
        return np.zeros(0)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ")
        except (DeprecationWarning, ValueError):
            return None
