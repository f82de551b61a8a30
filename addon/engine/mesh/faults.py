"""What is wrong with a mesh, in words: what it is, what it means for the plating, what to do."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..units import CM2, INCH, MM
from .surface import MeshFault

SMALL, LARGE = 2 * MM, 600 * MM  # parts outside these sizes have most often been read in a wrong unit
USUAL = 60 * MM
TOO_SMALL = {10.0: "centimeters", INCH / MM: "inches", 1000.0: "meters"}


def fault(kind: str, sentence: str, faces: NDArray[np.integer] | tuple[()] = ()) -> MeshFault:
    return MeshFault(kind, sentence, np.asarray(faces, dtype=np.int32))


def size(longest: float) -> MeshFault:
    """longest : m, the longest side of the box round the part, outside `SMALL`..`LARGE`."""
    ratios = list(TOO_SMALL)
    if longest < SMALL:
        ratio = min(ratios, key=lambda r: abs(np.log(longest * r / USUAL)))
        likely = f"made in {TOO_SMALL[ratio]} and read as millimeters, it would be {longest * ratio / MM:.3g} mm"
    else:
        ratio = min(ratios, key=lambda r: abs(np.log(longest / r / USUAL)))
        likely = f"made in millimeters and read as {TOO_SMALL[ratio]}, it would be {longest / ratio / MM:.3g} mm"
    return fault(
        "size",
        f"The part is {longest / MM:.4g} mm long: is that right? If it was {likely}; then correct the unit of"
        " the file or the scale of the scene, for area and current are off by the square of it.",
    )


def joined(places: int, faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "welded points",
        f"{_count(places, 'point')} {_lie(places)} exactly where another does, so that faces are not joined there;"
        " they are taken as one here and your model is unchanged. Merge by distance to mend it.",
        faces,
    )


def mended(edges: int, faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "welded points",
        f"{_count(edges, 'open edge')} closed by taking as one the points that single precision cannot tell apart;"
        " your model is unchanged. Merge by distance to mend it.",
        faces,
    )


def open_edges(edges: int, sides: int, faces: NDArray[np.integer]) -> MeshFault:
    counted = "on both sides where it is a sheet" if sides == 2 else "on one side"
    return fault(
        "open edges",
        f"The surface has {_count(edges, 'open edge')} (it is not watertight): its area is counted as it stands,"
        f" {counted}, but it holds no volume, so weight and floating cannot be told. Fill the holes, or give a"
        " sheet its thickness.",
        faces,
    )


def crowded(edges: int, loose: bool, faces: NDArray[np.integer]) -> MeshFault:
    """loose : whether faces are left over at them that do not pair off, so that no volume is enclosed."""
    means = ", and weight and floating cannot be told" if loose else ""
    return fault(
        "crowded edges",
        f"{_count(edges, 'edge')} {_is(edges)} shared by more than two faces (non-manifold): walls that end inside"
        f" the part are counted as area although no liquid may reach them{means}. Join the bodies into one, or"
        " delete the inner walls.",
        faces,
    )


def turned(shells: int, faces: NDArray[np.integer]) -> MeshFault:
    whole = f", among them {_count(shells, 'closed shell')} inside out" if shells else ""
    return fault(
        "turned faces",
        f"{_count(len(faces), 'face')} {'looks' if len(faces) == 1 else 'look'} the wrong way (normals){whole}: they"
        " are turned for the computation only, for liquid is outside. Recalculate the normals outward to mend the"
        " model.",
        faces,
    )


def one_sided(shells: int, faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "one-sided surface",
        f"{_count(shells, 'shell')} cannot be told inside from outside (a surface with one side): the area is"
        " counted, but not the volume, and gas and shelter there may be wrong. Cut and rejoin it.",
        faces,
    )


def enclosed(shells: int, faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "enclosed shells",
        f"{_count(shells, 'shell')} {_lie(shells)} wholly inside another and {_is(shells)} taken as sealed off: no"
        " liquid gets there, so that surface is not counted, and a hollow holds air. Give a hollow that should be"
        " plated an opening; delete the shell where the part should be solid.",
        faces,
    )


def overlapping(shells: int, area: float, share: float, faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "overlapping shells",
        f"{_count(shells, 'closed shell')} {'runs into itself' if shells == 1 else 'run into each other'}: about"
        f" {area / CM2:.2g} cm2 ({100 * share:.2g} %) of the counted area lies inside the solid where no liquid touches"
        " it, so the current would be too high by as much, and the volume counts the overlap twice. Join the bodies"
        " into one (boolean union).",
        faces,
    )


def repeated(faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "repeated faces",
        f"{_count(len(faces), 'face')} {_lie(len(faces))} on another with the same corners; each place is counted"
        " once. Delete the doubles (merge by distance).",
        faces,
    )


def walls(faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "inner walls",
        f"{_count(len(faces), 'face')} {_lie(len(faces))} where two bodies touch: no liquid gets there, so they"
        " are not counted. Join the bodies into one (boolean union).",
        faces,
    )


def degenerate(faces: NDArray[np.integer]) -> MeshFault:
    return fault(
        "degenerate faces",
        f"{_count(len(faces), 'face')} {'has' if len(faces) == 1 else 'have'} no area: nothing plates there and no"
        " figure changes. Dissolve degenerate geometry to be rid of them.",
        faces,
    )


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def _is(number: int) -> str:
    return "is" if number == 1 else "are"


def _lie(number: int) -> str:
    return "lies" if number == 1 else "lie"
