"""What the user must know about a coat and its wires."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..chemistry.cautions import SOFTENING_MARGIN_K
from ..field.cautions import NEGLIGIBLE_AREA_SHARE
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity, spot
from ..geometry.choice import descending, nearest_to_middle
from ..geometry.location import locate
from ..linalg.labels import connected
from ..mesh.surface import Surface
from ..settings import tables
from ..settings.job import Job
from . import wires
from .contact import Contacts
from .heat import AIR_TRANSFER_W_M2K, LIQUID_TRANSFER_W_M2K, Heating
from .result import Bare
from .sheet import Pad
from .start import MAX_SHEET_RESISTANCE, Refusal, Start

MIN_BETTER_COAT_RATIO = 10.0  # factor of sheet resistance: paints of one kind scatter as much
MAX_REPORTED_LIMIT_SHARE = 0.95  # of the wanted current: a start limit closer to it is not reported
MAX_LISTED_PLACES = 3  # pieces of coat, and bare places, that are listed one by one


def unserved(surface: Surface, contacts: Contacts, pads: Sequence[Pad]) -> list[Finding]:
    """Pieces of coat that no wire touches: a wire each where they are worth one, else they are joined or deleted."""
    without = wires.unserved(contacts.coat, pads)
    if not without:
        return []
    dead = np.isin(contacts.coat.piece_of_face, without)
    area = float(surface.plated_area[dead].sum())
    wanting = [contact for contact in contacts.best if contact.piece in set(without)]
    listed = wanting[:MAX_LISTED_PLACES]
    places = tuple(spot(contact.point) for contact in listed)
    wired = len({int(contacts.coat.piece_of_face[pad.face]) for pad in pads} | {contact.piece for contact in wanting})
    remedy = Remedy(RemedyCode.JOIN_PIECES, places=places)
    if len(wanting) == len(without):
        remedy = Remedy(RemedyCode.ADD_WIRES, {Quantity.WIRES: wired}, places)
    return [
        Finding(
            Code.COAT_UNWIRED,
            Severity.SPOILS if area > NEGLIGIBLE_AREA_SHARE * float(surface.plated_area.sum()) else Severity.NOTE,
            {Quantity.COUNT: len(without), Quantity.AREA: area},
            places=places,
            locations=tuple(contact.place for contact in listed),
            faces=np.flatnonzero(dead),
            spoilt_share=surface.visible_share(dead),
            remedy=remedy,
        )
    ]


def bare(surface: Surface, faces: NDArray[np.intp], up: Sequence[float]) -> tuple[Bare, ...]:
    """The triangles that stay bare, grouped into patches connected at edges."""
    if not len(faces):
        return ()
    number = np.full(len(surface.triangles), -1)
    number[faces] = np.arange(len(faces))
    first, second = surface.topology.edge_faces[(surface.topology.edge_faces >= 0).all(axis=1)].T
    both = (number[first] >= 0) & (number[second] >= 0)
    label, count = connected(len(faces), number[first[both]], number[second[both]])
    area = np.bincount(label, surface.plated_area[faces], count)
    places = []
    for k in descending(area)[:MAX_LISTED_PLACES]:
        own = faces[label == k]
        face = own[nearest_to_middle(surface.centroid[own], surface.plated_area[own])]
        x, y, z = (float(value) for value in surface.centroid[face])
        place = locate(surface.bounds, up, surface.centroid[face], surface.normal[face])
        places.append(Bare(float(area[k]), place, (x, y, z)))
    unlisted_area = float(area.sum()) - sum(patch.area for patch in places)
    if unlisted_area > 1e-9 * float(area.sum()):
        places.append(Bare(unlisted_area, None, places[-1].point))
    return tuple(places)


def stays_bare(surface: Surface, faces: NDArray[np.intp], never: Sequence[Bare]) -> list[Finding]:
    """Faces that stay bare although a wire reaches them; never : their patches."""
    area = sum(patch.area for patch in never)
    if not area > NEGLIGIBLE_AREA_SHARE * float(surface.plated_area.sum()):
        return []
    lost = np.zeros(len(surface.triangles), dtype=bool)
    lost[faces] = True
    return [
        Finding(
            Code.COAT_STAYS_BARE,
            Severity.SPOILS,
            {Quantity.AREA: area},
            places=tuple(patch.point for patch in never),
            locations=tuple(patch.place for patch in never),
            faces=faces,
            spoilt_share=surface.visible_share(lost),
            remedy=Remedy(RemedyCode.MOVE_ANODE),
        )
    ]


def too_few_wires(
    needed: int | None, used: int, limit: float, worst: float, refusal: Refusal | None = None
) -> list[Finding]:
    """More wires wanted than there are, or no handful of wires that keeps the loss small."""
    volts = {Quantity.VOLTAGE: worst, Quantity.LIMIT_VOLTAGE: limit, Quantity.WIRES: float(used)}
    if needed is None:
        if refusal is not None:
            return []  # reported there, more severely
        return [Finding(Code.COAT_TOO_POOR, Severity.COSTS, volts, remedy=Remedy(RemedyCode.BETTER_COAT))]
    if needed <= used:
        return []
    volts[Quantity.NEEDED_WIRES] = needed
    remedy = Remedy(RemedyCode.ADD_WIRES, {Quantity.WIRES: needed})
    return [Finding(Code.WIRES_TOO_FEW, Severity.COSTS, volts, remedy=remedy)]


def current_limited(job: Job, target: float, start: Start, area: float, on_metal: float) -> list[Finding]:
    """The part never bears the wanted current. target, on_metal : A of one part: wanted, and borne if it were all
    metal; area : m2 plated"""
    if job.supply.hold is not None or start.ramp is None or not start.steps or start.ramp.held == "target":
        return []  # a voltage that is held gives what it gives
    copies, borne = max(len(job.rack.positions), 1), max(step.current for step in start.steps)
    quantities = {
        Quantity.CURRENT: copies * target,
        Quantity.LIMIT_CURRENT: copies * borne,
        Quantity.METAL_CURRENT: copies * on_metal,
        Quantity.DENSITY: borne / area,
        Quantity.WANTED_DENSITY: target / area,
    }
    coated = on_metal >= target
    remedy = Remedy(RemedyCode.BETTER_COAT if coated else RemedyCode.LOWER_DENSITY, {Quantity.DENSITY: borne / area})
    return [Finding(Code.COAT_LIMITS_CURRENT, Severity.COSTS, quantities, {"held": start.ramp.held}, remedy=remedy)]


def refused(job: Job, start: Start, ohms: float) -> list[Finding]:
    """A coat on which there is no start: too resistive, or no supply sets it, or it does not last so long. A soft
    plastic is reported with the bath. ohms : per square, in the bath before the current is on"""
    if start.refusal is None or start.refusal == Refusal.PLASTIC:
        return []
    quantities = {Quantity.SHEET_RESISTANCE: ohms, Quantity.LIMIT_SHEET_RESISTANCE: MAX_SHEET_RESISTANCE}
    if start.ramp is not None and start.refusal == Refusal.SUPPLY:
        quantities |= {Quantity.CURRENT: start.ramp.stages[0].current, Quantity.STEP_CURRENT: job.supply.step}
    if start.ramp is not None and start.refusal == Refusal.LIFE:
        quantities |= {Quantity.LIMIT_TIME: job.coat.bath_life}
        if math.isfinite(start.ramp.half_covered):
            quantities |= {Quantity.TIME: start.ramp.half_covered}
    names = {"coat": job.coat.name, "refusal": start.refusal.value}
    better = [
        name
        for name in tables.names("coats")
        if name != job.coat.name and 0 < _ohms(name) <= ohms / MIN_BETTER_COAT_RATIO
    ]
    remedy = Remedy(RemedyCode.BETTER_COAT, names={"coats": ", ".join(better)})
    return [Finding(Code.COAT_TOO_POOR, Severity.STOPS, quantities, names, spoilt_share=1.0, remedy=remedy)]


def _ohms(coat: str) -> float:
    """Per square, of a coat of the table."""
    return float(tables.coat(coat)["sheet_resistance_ohm_sq"])


def zinc_displaced(job: Job, film: float, dissolved: float) -> list[Finding]:
    """A caution for a coat whose metal is displaced by copper. film : m of copper; dissolved : kg of that metal"""
    if film <= 0:
        return []
    quantities = {Quantity.MASS: dissolved, Quantity.THICKNESS: film}
    names = {"coat": job.coat.name}
    return [Finding(Code.ZINC_DISPLACED, Severity.SPOILS, quantities, names, remedy=Remedy(RemedyCode.BETTER_COAT))]


def warmth(job: Job, first: Heating | None, full: Heating | None, target: float) -> list[Finding]:
    """How near the plastic comes to softening at the wire. A bath that is too warm by itself is reported with the
    bath."""
    if first is None or full is None:
        return []
    findings = []
    if 0 < full.limit < MAX_REPORTED_LIMIT_SHARE * target:
        findings.append(
            Finding(
                Code.COAT_HOT,
                Severity.SPOILS,
                {
                    Quantity.CURRENT: target,
                    Quantity.RISE: full.rise,
                    Quantity.SOFTENS: full.softens,
                    Quantity.LIMIT_CURRENT: full.limit,
                },
                {"plastic": job.part.material},
                places=(full.at,),
                remedy=Remedy(RemedyCode.LIMIT_CURRENT, {Quantity.LIMIT_CURRENT: full.limit}, (full.at,)),
            )
        )
    in_air = first.rise * LIQUID_TRANSFER_W_M2K / AIR_TRANSFER_W_M2K
    if in_air > SOFTENING_MARGIN_K:
        rise = {Quantity.RISE: in_air}
        remedy = Remedy(RemedyCode.KEEP_UNDER_LIQUID)
        findings.append(Finding(Code.CONTACT_HOT_IN_AIR, Severity.COSTS, rise, remedy=remedy))
    return findings
