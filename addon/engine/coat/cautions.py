"""What the user must know about a coat and its wires, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .. import words
from ..contact import Contacts
from ..job import Job
from ..surface import Surface
from ..units import CM2, MM, ZERO_CELSIUS
from . import wires
from .heat import AIR, LIQUID, MARGIN, Heating
from .sheet import Pad

LISTED = 3  # pieces of coat that are told one by one
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


def bare(surface: Surface, faces: NDArray[np.intp], up: Sequence[float], reached: NDArray[np.bool_]) -> list[str]:
    """Faces that a wire reaches and that are not covered all the same. reached : (m,)"""
    faces = faces[reached[faces]]
    area = float(surface.plated_area[faces].sum())
    if not area > 0:
        return []
    worst = int(faces[surface.plated_area[faces].argmax()])
    place = words.place(surface.bounds, up, surface.centroid[worst], surface.normal[worst])
    return [
        f"{area / CM2:.2g} cm2 stays bare even after the whole time, for instance {place}: bring an anode or a wire"
        " nearer, or leave that place out."
    ]


def many(needed: int | None, limit: float, worst: float) -> list[str]:
    """Where no handful of wires keeps the loss small."""
    if needed is not None:
        return []
    return [
        f"At the full current the bare coat loses up to {worst:.2g} V, and no four wires bring that under"
        f" {limit:.2g} V: start low and raise the current in steps, as listed, or take a coat that conducts better."
    ]


def displacing(job: Job, film: float) -> list[str]:
    """What a coat calls for whose metal copper displaces."""
    if film <= 0:
        return []
    return [
        f"{job.coat.name}: in an acid copper bath copper takes the place of its zinc without current (common practice,"
        " no source). The part starts covered, but that film is loose and the zinc goes into the bath and spoils it"
        " in time: test a scrap piece first."
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
            f"At the full {target:.2g} A the bare coat at the wire would be {warm}, and {softens}: start at no more than"
            f" {full.limit:.2g} A."
        )
    if first.rise * LIQUID / AIR > MARGIN:
        said.append("Keep the wire's contact under the liquid while current flows: in air it gets far hotter.")
    return said
