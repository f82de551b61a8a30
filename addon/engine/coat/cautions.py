"""What the user must know about a coat and its wires, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..linalg.labels import connected
from ..mesh.surface import Surface
from ..reporting import words
from ..settings.job import Job
from ..units import CM2, GRAM, MM, ZERO_CELSIUS
from . import wires
from .contact import Contacts
from .heat import AIR, LIQUID, MARGIN, Heating
from .result import Bare
from .sheet import Pad

LISTED = 3  # pieces of coat, and bare places, that are told one by one
SCORCHED = 100.0  # K: beyond this the figure says no more than the word


def unserved(surface: Surface, contacts: Contacts, pads: Sequence[Pad]) -> list[str]:
    """Pieces of coat that no wire touches."""
    without = set(wires.unserved(contacts.coat, pads))
    if not without:
        return []
    places: list[str] = []
    for one in contacts.ranked[: len(contacts.places)]:
        if one.piece in without and len(places) < LISTED:
            spot = ", ".join(f"{x / MM:.4g}" for x in one.point)
            area = float(surface.plated_area[contacts.coat.piece_of_face == one.piece].sum())
            places.append(f"the one of {area / CM2:.2g} cm2, {one.place} (a wire could go to ({spot}) mm)")
    if len(without) > len(places):
        places.append(f"{len(without) - len(places)} more" if places else "the smallest of them")
    subject = "One separate piece of coat has" if len(without) == 1 else f"{len(without)} separate pieces of coat have"
    return [f"{subject} no wire and will get no metal: {words.listed(places)}. Give each a wire, or mask it."]


def bare(surface: Surface, faces: NDArray[np.intp], up: Sequence[float]) -> tuple[Bare, ...]:
    """The triangles that stay bare, by what hangs together of them at edges."""
    if not len(faces):
        return ()
    number = np.full(len(surface.triangles), -1)
    number[faces] = np.arange(len(faces))
    one, other = surface.topology.edge_faces[(surface.topology.edge_faces >= 0).all(axis=1)].T
    both = (number[one] >= 0) & (number[other] >= 0)
    label, count = connected(len(faces), number[one[both]], number[other[both]])
    area = np.bincount(label, surface.plated_area[faces], count)
    found = []
    for k in np.argsort(-area, kind="stable")[:LISTED]:
        own = faces[label == k]
        middle = np.average(surface.centroid[own], axis=0, weights=surface.plated_area[own])
        face = own[np.linalg.norm(surface.centroid[own] - middle, axis=1).argmin()]
        x, y, z = (float(value) for value in surface.centroid[face])
        place = words.place(surface.bounds, up, surface.centroid[face], surface.normal[face])
        found.append(Bare(float(area[k]), place, (x, y, z)))
    rest = float(area.sum()) - sum(one.area for one in found)
    if rest > 1e-9 * float(area.sum()):
        found.append(Bare(rest, "elsewhere", found[-1].point))
    return tuple(found)


def starved(never: Sequence[Bare]) -> list[str]:
    """Faces that a wire reaches and that are not covered all the same."""
    area = sum(one.area for one in never)
    if not area > 0:
        return []
    return [
        f"{area / CM2:.2g} cm2 stays bare even after the whole time, {words.listed([one.place for one in never])}:"
        f" bring an"
        " anode or a wire nearer, or leave that place out."
    ]


def many(needed: int | None, limit: float, worst: float) -> list[str]:
    """Where no handful of wires keeps the loss small."""
    if needed is not None:
        return []
    return [
        f"At the full current the bare coat loses up to {worst:.2g} V, and no four wires bring that under"
        f" {limit:.2g} V: start low and raise the current in steps, as listed, or take a coat that conducts better."
    ]


def displacing(job: Job, dissolved: float) -> list[str]:
    """What a coat calls for whose metal copper displaces. dissolved : kg of that metal"""
    if dissolved <= 0:
        return []
    return [
        f"{job.coat.name}: in an acid copper bath copper takes the place of its zinc without current (common practice,"
        f" no source). The part starts covered, but that film is loose, and some {dissolved / GRAM:.2g} g of zinc"
        f" go into"
        " the bath, more where acid reaches bare zinc, and spoil it in time: test a scrap piece first."
    ]


def warmth(job: Job, first: Heating | None, full: Heating | None, target: float) -> list[str]:
    """How near the plastic comes to softening at the wire."""
    if first is None or full is None:
        return []
    said = []
    softens = f"{job.part.material} softens at {full.softens - ZERO_CELSIUS:.0f} C"
    if full.limit <= 0:
        said.append(
            f"The bath at {job.bath.temperature - ZERO_CELSIUS:.0f} C is within {MARGIN:.0f} K of where {softens}: take"
            " a cooler bath or another plastic."
        )
    elif full.limit < target:
        warm = "scorched" if full.rise > SCORCHED else f"about {full.rise:.0f} K warmer than the bath"
        said.append(
            f"At the full {target:.2g} A the bare coat at the wire would be {warm}, and {softens}: no more than"
            f" {full.limit:.2g} A before metal has grown there."
        )
    if first.rise * LIQUID / AIR > MARGIN:
        said.append("Keep the wire's contact under the liquid while current flows: in air it gets far hotter.")
    return said
