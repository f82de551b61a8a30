"""The wires of a part: those placed by the job, and as many suggested ones as its coat needs."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..mesh.surface import Surface
from ..settings import tables
from ..settings.job import Job
from ..settings.part import Wire
from . import wires
from .bathside import LocalBath
from .contact import Contacts
from .film import displaced_film, sheet_resistance_in_bath
from .sheet import Pad

MIN_DROP_LIMIT_V = 0.05  # V, loss that never calls for another wire
# of the bath's own voltage: at this loss the far end gets half of the near end
MAX_DROP_SHARE = 0.5
MAX_STARTING_WIRES = 4  # that are used where no number of them keeps the loss small, or the start is refused


@dataclass(frozen=True)
class Wiring:
    """The wires of a part, for field, start and plan alike.

    specified : pads of those that the job places; pads : these and the suggested ones
    needed : until the pieces of bare coat that are worth a wire lose no more than drop_limit (V) at the wanted current;
        None if no number does it
    """

    specified: tuple[Pad, ...]
    pads: tuple[Pad, ...]
    needed: int | None
    drop_limit: float


def wiring(surface: Surface, job: Job, contacts: Contacts) -> Wiring:
    """The wires of the job; where it names none, as many as the coat needs, or MAX_STARTING_WIRES where no number of
    them is enough."""
    needed, limit = _needed(surface, job, contacts)
    count = max(MAX_STARTING_WIRES if needed is None else needed, len(contacts.places))
    specified, pads = pads_of(surface, job.wires or (Wire(),) * count, contacts)
    return Wiring(specified, pads, needed, limit)


def _needed(surface: Surface, job: Job, contacts: Contacts) -> tuple[int | None, float]:
    """How many wires the coat needs, and the limit of its loss, V: as `Wiring` has them."""
    ohms, area = sheet_resistance_in_bath(job), float(surface.plated_area.sum())
    mean = supplied_current(job, area) / area
    limit = max(MIN_DROP_LIMIT_V, MAX_DROP_SHARE * LocalBath.of(surface, job, None).resistance(mean) * mean)
    share = mean / job.target.density  # places are ranked by what they lose at the density wanted
    return wires.wires_needed(contacts, share * ohms, limit) if ohms > 0 else len(contacts.places), limit


def sufficient_coat(surface: Surface, job: Job, contacts: Contacts) -> str | None:
    """Of the coats of the table, the least conductive one on which a number of wires loses little enough; None where
    the job's own conducts better than all of these. Coats whose metal the bath displaces are excluded."""
    thicknesses = []
    for name in tables.names("coats"):
        ohms = float(tables.coat(name)["sheet_resistance_ohm_sq"])
        other = replace(job, coat=replace(job.coat, name=name, sheet_resistance=ohms))
        if 0 < ohms < job.coat.sheet_resistance and not displaced_film(other) > 0:
            thicknesses.append(other)
    thicknesses.sort(key=lambda other: -other.coat.sheet_resistance)
    enough = (other.coat.name for other in thicknesses if _needed(surface, other, contacts)[0] is not None)
    return next(enough, None)


def supplied_current(job: Job, area: float) -> float:
    """A that the supply gives to each part of a plated area in m2."""
    copies = max(len(job.rack.positions), 1)
    return job.supply.sets(copies * job.target.density * area) / copies


def pads_of(surface: Surface, wanted: tuple[Wire, ...], contacts: Contacts) -> tuple[tuple[Pad, ...], tuple[Pad, ...]]:
    """The pads of the wires that have a point, and those with the suggested ones."""
    specified = wires.specified_pads(surface, wanted)
    return specified, (
        *specified,
        *wires.suggested_pads(contacts, specified, [wire for wire in wanted if wire.point is None]),
    )
