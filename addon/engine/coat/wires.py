"""Wires on the coat: the place on the surface that each touches, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import Fault
from ..sections import Wire
from ..sparse import Vector
from ..surface import Surface
from ..units import MM
from .sheet import Pad, Sheet

OFF = 1 * MM  # further off the surface than this, and than the pad's radius, a wire does not touch


def placed(surface: Surface, wires: Sequence[Wire]) -> tuple[Pad, ...]:
    """The pad of each wire that has a point, on the nearest plated triangle. Raises Fault naming the wire.

    Cost: one pass over the triangles a wire.
    """
    return tuple(
        _placed(surface, np.array(wire.point, dtype=float), wire.pad, f"wire[{i}]")
        for i, wire in enumerate(wires)
        if wire.point is not None
    )


def _placed(surface: Surface, point: Vector, diameter: float, name: str) -> Pad:
    face, place, distance = nearest(surface, point)
    spot = ", ".join(f"{x / MM:.4g}" for x in point)
    if distance > max(OFF, diameter / 2):
        raise Fault(
            f"{name}: the point ({spot}) mm lies {distance / MM:.3g} mm off the part; move it onto the surface,"
            " or leave it out for a suggestion"
        )
    if not surface.plated[face]:
        coated, spare, further = nearest(surface, point, among=surface.plated)
        if further > distance + 1e-9 * surface.size:
            why = (
                "on a masked face, which carries no coat"
                if surface.wetted[face]
                else "on a face that the liquid does not reach"
            )
            raise Fault(f"{name}: the point ({spot}) mm lies {why}; move it to a face that is plated")
        face, place = coated, spare
    x, y, z = (float(value) for value in place)
    return Pad((x, y, z), diameter, face)


def nearest(
    surface: Surface, point: ArrayLike, *, among: NDArray[np.bool_] | None = None
) -> tuple[int, Vector, float]:
    """The triangle nearest to a point, the nearest place on it (3,), and the distance in metres.

    among : (m,) triangles to choose from; all by default
    """
    point = np.asarray(point, dtype=float)
    chosen = np.arange(len(surface.triangles)) if among is None else np.flatnonzero(among)
    corner = surface.points[surface.triangles[chosen]] - point
    # no triangle is nearer than its nearest corner less its longest edge
    away = np.sqrt(np.einsum("ijk,ijk->ij", corner, corner)).min(axis=1)
    edges = corner - np.roll(corner, 1, axis=1)
    reach = np.sqrt(np.einsum("ijk,ijk->ij", edges, edges)).max(axis=1)
    near = np.flatnonzero(away - reach <= away.min())
    place = _closest(corner[near])
    distance = np.linalg.norm(place, axis=1)
    best = int(distance.argmin())
    return int(chosen[near[best]]), point + place[best], float(distance[best])


def unserved(sheet: Sheet, pads: Sequence[Pad]) -> list[int]:
    """The pieces of coat that no wire touches."""
    served = {int(sheet.piece_of_face[pad.face]) for pad in pads}
    return [piece for piece in range(sheet.pieces) if piece not in served]


def _closest(corner: Vector) -> Vector:
    """(k, 3) the point of each triangle (k, 3, 3) that is nearest to the origin."""
    a, b, c = corner.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    square = np.einsum("ij,ij->i", normal, normal)
    flat = square <= 0.0
    scale = np.divide(1.0, square, out=np.zeros_like(square), where=~flat)
    foot = normal * (np.einsum("ij,ij->i", normal, a) * scale)[:, None]
    inside = ~flat
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= np.einsum("ij,ij->i", np.cross(q - p, foot - p), normal) >= 0
    best, least = foot, np.where(inside, np.einsum("ij,ij->i", foot, foot), np.inf)
    for p, q in ((a, b), (b, c), (c, a)):
        step = q - p
        length = np.einsum("ij,ij->i", step, step)
        along = np.divide(-np.einsum("ij,ij->i", p, step), length, out=np.zeros_like(length), where=length > 0)
        on_edge = p + np.clip(along, 0.0, 1.0)[:, None] * step
        distance = np.einsum("ij,ij->i", on_edge, on_edge)
        nearer = distance < least
        best, least = np.where(nearer[:, None], on_edge, best), np.minimum(least, distance)
    return best
