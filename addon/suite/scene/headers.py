"""What can be told of a model file before Blender opens it: is it whole, and is it what its name says?

Blender's importers drop what they cannot read and go on; a plan for half a part is worse than none.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from ...engine.errors import InputError
from .stl import numbers

AGAIN = "export the model again"
SIZES = {
    **dict.fromkeys(("char", "uchar", "int8", "uint8"), 1),
    **dict.fromkeys(("short", "ushort", "int16", "uint16"), 2),
    **dict.fromkeys(("int", "uint", "int32", "uint32", "float", "float32"), 4),
    **dict.fromkeys(("double", "float64"), 8),
}


def polygons(path: Path) -> int | None:
    """How many polygons the file promises, after checks of its kind; None where it does not say.

    Raises InputError where the file is cut off, damaged, or no such file.
    """
    check = {".obj": _obj, ".ply": _ply, ".blend": _blend}[path.suffix.lower()]
    return check(path, path.read_bytes())


def _obj(path: Path, data: bytes) -> int:
    vertices = re.findall(rb"(?m)^[ \t]*v[ \t]+(.*?)\s*$", data)
    faces = re.findall(rb"(?m)^[ \t]*f[ \t]+(.*?)\s*$", data)
    if not vertices:
        raise InputError(f"{path}: no line of it gives a point ('v x y z'); is it an OBJ file?")
    if numbers(b" ".join(vertices)) is None:
        raise InputError(f"{path}: a point ('v ...') is not made of numbers; {AGAIN}")
    named = numbers(re.sub(rb"/[^\s]*", b"", b" ".join(faces)))
    if named is None:
        raise InputError(f"{path}: a face ('f ...') is not made of point numbers; {AGAIN}")
    if len(named) and (named.max() > len(vertices) or named.min() < -len(vertices) or not named.all()):
        raise InputError(f"{path}: a face names a point that does not exist; it was cut off or damaged, {AGAIN}")
    return len(faces)


def _ply(path: Path, data: bytes) -> int:
    head, mark, body = data.partition(b"end_header")
    lines = [line.split() for line in head.decode("ascii", "replace").splitlines()]
    if not mark or not lines or lines[0] != ["ply"]:
        raise InputError(f"{path}: its PLY header is missing or cut off; {AGAIN}")
    body = body.split(b"\n", 1)[-1]
    counts: dict[str, int] = {}
    least = 0  # bytes of a binary body, a list taken as empty
    form = ""
    for words in lines[1:]:
        if words[:1] == ["format"] and len(words) > 1:
            form = words[1]
        elif words[:1] == ["element"] and len(words) == 3 and words[2].isdigit():
            counts[words[1]] = int(words[2])
        elif words[:1] == ["property"] and counts and len(words) > 2:
            name = list(counts)[-1]
            kind, entries = (words[2], 3) if words[1] == "list" else (words[1], 0)
            item = SIZES.get(words[3], 0) if words[1] == "list" and len(words) > 3 else 0
            corners = entries * item if name == "face" and words[-1].startswith("vertex_ind") else 0
            least += counts[name] * (SIZES.get(kind, 0) + corners)
    if "vertex" not in counts:
        raise InputError(f"{path}: its PLY header names no element 'vertex'; {AGAIN}")
    here = len(body) if form.startswith("binary") else len(body.split(b"\n"))
    need = least if form.startswith("binary") else sum(counts.values())
    if here < need:
        what = "bytes" if form.startswith("binary") else "lines"
        raise InputError(
            f"{path}: its header promises {counts['vertex']} points and {counts.get('face', 0)} faces,"
            f" at least {need} {what}, but {here} follow: it was cut off or damaged; {AGAIN}"
        )
    return counts.get("face", 0)


def _blend(path: Path, data: bytes) -> None:
    packed = (b"\x28\xb5\x2f\xfd", b"\x1f\x8b")  # zstd and gzip, as Blender's "compress" option writes
    if not data.startswith((b"BLENDER", *packed)):
        raise InputError(f"{path}: it does not begin as a .blend file does; save it again from Blender")


def finite(path: Path, points: np.ndarray) -> None:
    """Raises InputError where a coordinate is not a finite number."""
    wrong = np.count_nonzero(~np.isfinite(points).all(axis=-1))
    if wrong:
        raise InputError(f"{path}: {wrong} points have coordinates that are not finite numbers; {AGAIN}")
