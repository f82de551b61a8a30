"""Mesh faults as findings, each with the triangles concerned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..findings import Code, Finding, Quantities, Quantity, Remedy, RemedyCode, Severity
from ..units import INCH, MM

MIN_USUAL_M, MAX_USUAL_M = 2 * MM, 600 * MM  # m; parts outside these sizes were most likely read in a wrong unit
USUAL = 60 * MM
TOO_SMALL = {10.0: "centimeters", INCH / MM: "inches", 1000.0: "meters"}

Faces = NDArray[np.integer] | Sequence[int]


def fault(code: Code, quantities: Quantities, faces: Faces = (), severity: Severity = Severity.COSTS) -> Finding:
    """faces : triangles of the part"""
    remedy = Remedy(RemedyCode.MEND_MESH) if severity != Severity.NOTE else None
    return Finding(code, severity, quantities, faces=np.asarray(faces, dtype=np.int32), remedy=remedy)


def size(longest: float) -> Finding:
    """longest : m, the longest side of the box round the part, outside `MIN_USUAL_M`..`MAX_USUAL_M`."""
    ratios = list(TOO_SMALL)
    if longest < MIN_USUAL_M:
        ratio = min(ratios, key=lambda r: abs(np.log(longest * r / USUAL)))
        factor, names = ratio, {"made_in": TOO_SMALL[ratio], "read_as": "millimeters"}
    else:
        ratio = min(ratios, key=lambda r: abs(np.log(longest / r / USUAL)))
        factor, names = 1.0 / ratio, {"made_in": "millimeters", "read_as": TOO_SMALL[ratio]}
    return Finding(
        Code.WRONG_SCALE,
        Severity.STOPS,
        {Quantity.LENGTH: longest, Quantity.LIKELY_LENGTH: longest * factor, Quantity.FACTOR: factor},
        names,
        remedy=Remedy(RemedyCode.SCALE_IMPORT, {Quantity.FACTOR: factor}),
    )


def joined(places: int, faces: Faces) -> Finding:
    """Points at one place. places : how many; faces : triangles at them"""
    return fault(Code.POINTS_WELDED, {Quantity.COUNT: places}, faces)


def mended(edges: int, faces: Faces) -> Finding:
    """Open edges that were closed. edges : how many; faces : triangles at them"""
    return fault(Code.EDGES_CLOSED, {Quantity.COUNT: edges}, faces)


def open_edges(edges: int, sides: int, faces: Faces) -> Finding:
    """Edges with one triangle. sides : 2 where an open surface is wetted on both; faces : triangles at them"""
    return fault(Code.MESH_OPEN, {Quantity.COUNT: edges, Quantity.SIDES: sides}, faces)


def crowded(edges: int, loose: bool, faces: Faces) -> Finding:
    """loose : whether faces are left over at them that do not pair off, so that no volume is enclosed."""
    names = {"encloses": "no volume" if loose else "a volume"}
    return replace(fault(Code.MESH_NON_MANIFOLD, {Quantity.COUNT: edges}, faces), names=names)


def turned(shells: int, faces: Faces) -> Finding:
    """shells : how many closed ones are inside out as a whole"""
    return fault(Code.FACES_TURNED, {Quantity.COUNT: len(faces), Quantity.SHELLS: shells}, faces)


def one_sided(shells: int, faces: Faces) -> Finding:
    """Shells without an inside and an outside. faces : their triangles"""
    return fault(Code.ONE_SIDED, {Quantity.SHELLS: shells}, faces)


def enclosed(shells: int, faces: Faces) -> Finding:
    """Shells that lie wholly inside another. faces : their triangles"""
    return fault(Code.SHELLS_ENCLOSED, {Quantity.SHELLS: shells}, faces)


def overlapping(shells: int, area: float, share: float, faces: Faces) -> Finding:
    """area : m2 that lies inside the solid; share : of the area that is counted"""
    quantities = {Quantity.SHELLS: float(shells), Quantity.AREA: area, Quantity.SHARE: share}
    return fault(Code.SHELLS_OVERLAP, quantities, faces)


def apart(bodies: int, faces: Faces) -> Finding:
    """bodies : how many do not touch; faces : the triangles of all but the largest"""
    return fault(Code.BODIES_APART, {Quantity.COUNT: bodies}, faces)


def repeated(faces: Faces) -> Finding:
    """Triangles that lie on another with the same corners."""
    return fault(Code.FACES_REPEATED, {Quantity.COUNT: len(faces)}, faces)


def walls(faces: Faces) -> Finding:
    """Triangles where two bodies touch."""
    return fault(Code.INNER_WALLS, {Quantity.COUNT: len(faces)}, faces)


def degenerate(faces: Faces) -> Finding:
    """Triangles without area."""
    return fault(Code.FACES_DEGENERATE, {Quantity.COUNT: len(faces)}, faces, Severity.NOTE)
