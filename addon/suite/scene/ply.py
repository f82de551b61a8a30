"""Checks whether a PLY file is complete: every count and every index, before Blender's importer, which is C, reads it.

The format: G. Turk, The PLY Polygon File Format (1994), as its readers and writers have it.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.filled import filled
from .stl import numbers

REMEDY = "export the model again"
TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
FORMS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
MAX_HEADER_BYTES = 100_000
MAX_CORNERS = 100_000  # of one polygon


@dataclass
class _Property:
    """One value of a row; lengths : what counts a list's entries, None where it is no list."""

    name: str
    kind: str
    lengths: str | None = None


@dataclass
class _Element:
    name: str
    count: int
    properties: list[_Property] = field(default_factory=list)

    def row(self, sizes: list[int]) -> np.dtype[np.void]:
        """What a row looks like whose lists have these lengths."""
        left, fields = iter(sizes), []
        for k, column in enumerate(self.properties):
            if column.lengths is not None:
                fields.append((f"{k} length", column.lengths))
            fields.append((f"{k}", column.kind, (next(left),)) if column.lengths is not None else (f"{k}", column.kind))
        return np.dtype(fields)


def polygons(path: Path, data: bytes) -> int:
    """How many faces the file promises. Raises InputError where its header or its body is damaged or cut off, or where
    a face names a point that does not exist."""
    form, elements, body = _header(path, data)
    if not form:
        body = _as_binary(path, elements, body)
    at, points, faces = 0, 0, 0
    for element in elements:
        if element.name == "vertex":
            points = element.count
        if element.name == "face":
            faces = element.count
        at = _checked(path, element, body, at, points)
    return faces


def _header(path: Path, data: bytes) -> tuple[str, list[_Element], bytes]:
    """Order of bytes ("" for text), elements and body."""
    head, mark, body = data[:MAX_HEADER_BYTES].partition(b"end_header")
    lines = [line.split() for line in head.decode("ascii", "replace").splitlines()]
    if not mark or not lines or lines[0] != ["ply"]:
        raise InputError(filled("{path}: its PLY header is missing or cut off; {again}", path=path, again=REMEDY))
    body = data[len(head) + len(mark) :].split(b"\n", 1)[-1]
    form: str | None = None
    elements: list[_Element] = []
    for words in lines[1:]:
        match words:
            case ["format", name, *_] if name in FORMS:
                form = FORMS[name]
            case ["element", name, count] if count.isascii() and count.isdigit():
                elements.append(_Element(name, int(count[:18])))
            case ["property", "list", lengths, kind, name] if elements and lengths in TYPES and kind in TYPES:
                elements[-1].properties.append(_Property(name, TYPES[kind], TYPES[lengths]))
            case ["property", kind, name] if elements and kind in TYPES:
                elements[-1].properties.append(_Property(name, TYPES[kind]))
            case ["comment" | "obj_info", *_] | []:
                pass
            case _:
                raise InputError(
                    filled(
                        "{path}: its PLY header has a line '{join}'; {again}",
                        path=path,
                        join=" ".join(words),
                        again=REMEDY,
                    )
                )
    if form is None or "vertex" not in [element.name for element in elements]:
        raise InputError(
            filled("{path}: its PLY header names no format or no element 'vertex'; {again}", path=path, again=REMEDY)
        )
    for element in elements:
        for column in element.properties:
            column.kind = (form or "<") + column.kind
            column.lengths = column.lengths and (form or "<") + column.lengths
    return form, elements, body


def _as_binary(path: Path, elements: list[_Element], body: bytes) -> bytes:
    """A body of text as one of doubles, and its elements with it."""
    values = numbers(body)
    if values is None:
        raise InputError(
            filled(
                "{path}: its body is not made of numbers; it was cut off or damaged, {again}", path=path, again=REMEDY
            )
        )
    for column in (column for element in elements for column in element.properties):
        column.kind, column.lengths = "<f8", column.lengths and "<f8"
    return values.astype("<f8").tobytes()


def _checked(path: Path, element: _Element, body: bytes, at: int, points: int) -> int:
    """Where an element ends that begins at a place of the body, after a look at all of its rows."""
    if not element.properties or not element.count:
        return at
    if element.count > len(body) - at:  # a row has a byte at least
        raise _cut(path, element)
    _, _, first = _walked(path, element, body, at, 1)
    row = element.row(first)
    if at + element.count * row.itemsize <= len(body):  # as a rule all polygons of a file are alike
        rows = np.frombuffer(body, row, element.count, at)
        lists = [k for k, column in enumerate(element.properties) if column.lengths is not None]
        if all((rows[f"{k} length"] == size).all() for k, size in zip(lists, first, strict=True)):
            for k, column in enumerate(element.properties):
                if _names_points(element, column):
                    _check_indices(path, rows[f"{k}"], points)
            return at + rows.nbytes
    end, lists_of, _ = _walked(path, element, body, at, element.count)
    for kind, starts, lengths in lists_of:
        _check_indices(path, _gathered(body, kind, np.array(starts, int), np.array(lengths, int)), points)
    return end


def _walked(
    path: Path, element: _Element, body: bytes, at: int, count: int
) -> tuple[int, list[tuple[str, list[int], list[int]]], list[int]]:
    """Where so many rows end; for each list of point numbers its kind and its begin and length in every row; and the
    lengths of all lists of the last row."""
    elements: list[tuple[str, list[int], list[int]]] = []
    layout = []
    for column in element.properties:
        where: tuple[str, list[int], list[int]] | None = (
            (column.kind, [], []) if _names_points(element, column) else None
        )
        if where is not None:
            elements.append(where)
        unpack, width = None, 0
        if column.lengths is not None:
            length = np.dtype(column.lengths)
            unpack, width = struct.Struct(column.lengths[0] + length.char).unpack_from, length.itemsize
        layout.append((unpack, width, np.dtype(column.kind).itemsize, where))
    sizes: list[int] = []
    for _ in range(count):
        sizes = []
        for unpack, width, item, where in layout:
            if unpack is None:
                at += item
                continue
            if at + width > len(body):
                raise _cut(path, element)
            (size,) = unpack(body, at)
            if not 0 <= size <= MAX_CORNERS or size != int(size):
                raise InputError(
                    filled(
                        "{path}: a list of its '{name}' has {size} entries; {again}",
                        path=path,
                        name=element.name,
                        size=size,
                        again=REMEDY,
                    )
                )
            size, at = int(size), at + width
            if where is not None:
                where[1].append(at)
                where[2].append(size)
            sizes.append(size)
            at += size * item
        if at > len(body):
            raise _cut(path, element)
    return at, elements, sizes


def _gathered(body: bytes, kind: str, starts: NDArray[np.intp], lengths: NDArray[np.intp]) -> NDArray[np.generic]:
    """The entries of lists that begin at these places, one after another."""
    width = np.dtype(kind).itemsize
    before = np.cumsum(lengths) - lengths
    place = np.repeat(starts - width * before, lengths) + width * np.arange(lengths.sum())
    return np.frombuffer(body, np.uint8)[place[:, None] + np.arange(width)].view(kind)


def _names_points(element: _Element, column: _Property) -> bool:
    return element.name == "face" and column.lengths is not None and column.name in ("vertex_indices", "vertex_index")


def _check_indices(path: Path, index: NDArray[np.integer], points: int) -> None:
    if index.size and not (index.min() >= 0 and index.max() < points):
        raise InputError(
            filled(
                "{path}: a face names a point that does not exist; it was cut off or damaged, {again}",
                path=path,
                again=REMEDY,
            )
        )


def _cut(path: Path, element: _Element) -> InputError:
    return InputError(
        filled(
            "{path}: its header promises {count} of '{name}', and not all of them follow: it was cut off"
            " or damaged; {again}",
            path=path,
            count=element.count,
            name=element.name,
            again=REMEDY,
        )
    )
