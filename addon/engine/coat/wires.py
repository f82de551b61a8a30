"""Wires on the coat: where each touches, errors of its place, and places for wires that have none."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..filled import filled
from ..geometry.closest import to_origin
from ..geometry.location import locate
from ..linalg.sparse import Index, Vector
from ..mesh.surface import Surface
from ..settings.part import Wire
from ..units import MM, in_mm, point_mm
from .contact import DEFAULT_PAD_M, MIN_SPACING_OVER_SIZE, Contacts, Place, pad_at
from .result import WirePlace
from .sheet import Pad, Sheet

MAX_CONTACT_DISTANCE_M = 1 * MM  # further off the surface than this, and than the pad's radius, a wire does not touch
MAX_CANDIDATES = 300  # places that are tried for each of several wires on one piece of coat
MAX_WIRES_PER_PIECE = 4  # wires that are tried on one piece of coat
MAX_WIRES = 16  # on a part; a coat that needs more is too poor (common practice, no source)


def specified_pads(surface: Surface, wires: Sequence[Wire]) -> tuple[Pad, ...]:
    """The pad of each wire that has a point, on the nearest plated triangle. Raises InputError naming the wire.

    Cost: one pass over the triangles a wire.
    """
    return tuple(
        _placed(surface, np.array(wire.point, dtype=float), wire.pad, wire.name or f"wire[{i}]")
        for i, wire in enumerate(wires)
        if wire.point is not None
    )


def _placed(surface: Surface, point: Vector, diameter: float, name: str) -> Pad:
    face, place, distance = nearest(surface, point)
    spot = f"{point_mm(point)} mm"
    if distance > max(MAX_CONTACT_DISTANCE_M, diameter / 2):
        raise InputError(
            filled(
                "{name}: the point {spot} lies {distance} off the part; move it onto the surface, or"
                " leave it out for a suggestion",
                name=name,
                spot=spot,
                distance=in_mm(distance, 3),
            )
        )
    if not surface.plated[face]:
        coated, spare, further = nearest(surface, point, among=surface.plated)
        if further > distance + 1e-9 * surface.size:
            why = (
                "{name}: the point {spot} lies on a masked face, which carries no coat; move it to a face that is"
                " plated"
                if surface.wetted[face]
                else "{name}: the point {spot} lies on a face that the liquid does not reach; move it to a face"
                " that is plated"
            )
            raise InputError(filled(why, name=name, spot=spot))
        face, place = coated, spare
    x, y, z = (float(value) for value in place)
    return Pad((x, y, z), diameter, face)


def nearest(surface: Surface, point: ArrayLike, *, among: NDArray[np.bool_] | None = None) -> tuple[int, Vector, float]:
    """The triangle nearest to a point, the nearest place on it (3,), and the distance in meters.

    among : (m,) triangles to choose from; all by default
    """
    point = np.asarray(point, dtype=float)
    chosen = np.arange(len(surface.triangles)) if among is None else np.flatnonzero(among)
    corner = surface.points[surface.triangles[chosen]] - point
    # lower bound: distance of the nearest corner less the longest edge
    away = np.sqrt(np.einsum("ijk,ijk->ij", corner, corner)).min(axis=1)
    edges = corner - np.roll(corner, 1, axis=1)
    reach = np.sqrt(np.einsum("ijk,ijk->ij", edges, edges)).max(axis=1)
    near = np.flatnonzero(away - reach <= away.min())
    place = to_origin(corner[near])
    distance = np.linalg.norm(place, axis=1)
    best = int(distance.argmin())
    return int(chosen[near[best]]), point + place[best], float(distance[best])


def unserved(sheet: Sheet, pads: Sequence[Pad]) -> list[int]:
    """The pieces of coat that no wire touches."""
    served = {int(sheet.piece_of_face[pad.face]) for pad in pads}
    return [piece for piece in range(sheet.pieces) if piece not in served]


def suggested_pads(contacts: Contacts, specified: Sequence[Pad], wanted: Sequence[Wire]) -> tuple[Pad, ...]:
    """Pads for the wires that were given no point, after those that were.

    specified : the pads of wires with a point; wanted : the wires without one
    With no wire at all, one for each ranked piece of coat; else as many as are wanted: first on pieces without a wire,
    the larger first, then wherever the loss is greatest.
    """
    usual = contacts.pads[0].diameter if contacts.pads else DEFAULT_PAD_M
    diameters = [usual if wire.pad == DEFAULT_PAD_M else wire.pad for wire in wanted]
    if not specified:
        diameters += [diameters[0] if diameters else usual] * (len(contacts.places) - len(diameters))
    chosen = [_near(contacts, place, specified) for place in contacts.places]
    wire_counts = [len(wires) for wires in chosen]
    for _ in diameters:
        worst = [
            np.inf if not wires else place.scale * float(place.ranking.drops(np.array(wires)).max())
            for place, wires in zip(contacts.places, chosen, strict=True)
        ]
        k = int(np.argmax(worst))
        place, count = contacts.places[k], len(chosen[k]) - wire_counts[k] + 1
        if wire_counts[k]:
            chosen[k].append(place.ranking.more(chosen[k], candidates(place))[0])
        elif count == 1:
            chosen[k] = [first_choice(contacts, place)]
        else:
            chosen[k] = [int(c) for c in place.ranking.best(count, candidates(place))[0]]
    new = [
        int(place.triangle[c])
        for place, wires, few in zip(contacts.places, chosen, wire_counts, strict=True)
        for c in wires[few:]
    ]
    # a small piece may have fewer places than wires are wanted
    return tuple(pad_at(contacts.coat, triangle, diameter) for triangle, diameter in zip(new, diameters, strict=False))


def wires_needed(contacts: Contacts, sheet_resistance: float, limit: float) -> int | None:
    """The number of wires at which no piece worth a wire loses more than `limit` in V; None where
    MAX_WIRES_PER_PIECE, or MAX_WIRES in all, are too few.

    sheet_resistance : ohm per square
    """
    count = 0
    for place in contacts.places:
        for wires in range(1, MAX_WIRES_PER_PIECE + 1):
            if sheet_resistance * place.scale * place.ranking.best(wires, candidates(place))[1] <= limit:
                break
        else:
            return None
        count += wires
    return count if count <= MAX_WIRES else None


def wire_place(
    surface: Surface,
    up: Sequence[float],
    contacts: Contacts,
    pads: Sequence[Pad],
    k: int,
    current: float,
    *,
    suggested: bool,
    occupied: Sequence[Vector] = (),
) -> WirePlace:
    """Wire k, with a place to move it to so that its mark is plated too. occupied : where other wires move to"""
    pad = pads[k]
    piece = int(contacts.coat.piece_of_face[pad.face])
    normal = surface.normal[pad.face]
    clear, away = MIN_SPACING_OVER_SIZE * surface.size, np.array([*(other.centre for other in pads), *occupied])
    second = next(
        (
            contact
            for contact in contacts.ranked
            if contact.piece == piece and (np.linalg.norm(away - contact.point, axis=1) > clear).all()
        ),
        None,
    )
    return WirePlace(
        point=np.array(pad.centre),
        normal=normal,
        pad=pad.diameter,
        face=pad.face,
        piece=piece,
        current=current,
        place=locate(surface.bounds, up, pad.centre, normal),
        suggested=suggested,
        second=second.point if second else None,
        second_place=second.place if second else None,
    )


def candidates(place: Place) -> Index:
    """Patches to try for several wires: fit ones, thinned out evenly (their numbers run along the surface)."""
    fit = np.flatnonzero(place.fit)
    return fit[:: 1 + len(fit) // MAX_CANDIDATES]


def first_choice(contacts: Contacts, place: Place) -> int:
    """The patch of the suggestion that stands first for its piece."""
    piece = int(contacts.coat.piece[contacts.coat.mesh.triangles[place.triangle[0], 0]])
    point = next(contact.point for contact in contacts.ranked if contact.piece == piece)
    return _nearest_patch(contacts, place, point)


def _near(contacts: Contacts, place: Place, pads: Sequence[Pad]) -> list[int]:
    """The patches of one piece that pads lie on."""
    coat = contacts.coat
    piece = coat.piece[coat.mesh.triangles[place.triangle[0], 0]]
    own = [pad for pad in pads if coat.piece_of_face[pad.face] == piece]
    return sorted({_nearest_patch(contacts, place, np.array(pad.centre)) for pad in own})


def _nearest_patch(contacts: Contacts, place: Place, point: Vector) -> int:
    corner = contacts.coat.mesh.points[contacts.coat.mesh.triangles[place.triangle]]
    return int(np.linalg.norm(corner.mean(axis=1) - point, axis=1).argmin())
