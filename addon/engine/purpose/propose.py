"""The mean thickness that a purpose takes, what limits it, and what the deposit is worth for it.

A local thickness that is needed everywhere but on the thinnest 5 % of the area is asked for as the mean that gives it:
divided by what that place has of the mean, where a current distribution is known. Docs: theory-purpose.md.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..faraday import METALS
from ..filled import filled
from ..findings import Code, Finding, Quantity, Severity
from ..geometry.quantiles import weighted_quantiles
from ..mesh.surface import Surface
from ..settings import tables
from ..settings.job import Job
from ..units import GRAM, UM
from . import sections, shielding
from .metals import SERVICE, Service

Array = NDArray[np.float64]

THIN_SHARE = 0.05  # of the area that may have less than is needed
REST_AFTER_POLISH_M = 5 * UM  # of metal that stays (common practice, no source)
MAX_THICKNESS_M = 5e-3  # as of the setting
SAME = 0.98  # of the proposed thickness, that is as good
UNEVEN = 0.7  # of the mean, on the thin end: below, that end sets the thickness


class Limit(Enum):
    """What sets the proposed thickness."""

    THIN_PLACES = "thin places"
    POLISHING = "polishing"
    SKIN_DEPTH = "skin depth"
    SECTION = "weakest section"
    SKIN = "the skin's conductance"
    WEIGHT = "weight"


@dataclass(frozen=True, eq=False)
class Proposal:
    """kind : of `target.purpose`; needed : m of local thickness, None where the mean is what counts; thickness : m,
    the mean to ask for; limit : what sets it; worth : key with its unit -> value, now and as proposed"""

    kind: str
    needed: float | None
    thickness: float
    limit: Limit
    worth: Mapping[str, float]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class _Part:
    """share : (m,) deposit on each triangle over the mean; thin : that of the thin end; mass : kg of the print, nan
    where not known"""

    surface: Surface
    job: Job
    share: Array
    thin: float
    mass: float

    @property
    def service(self) -> Service:
        return SERVICE[self.job.bath.metal]


def propose(surface: Surface, job: Job, thickness: Array | None, mass: float | None) -> Proposal | None:
    """The proposal for the job's purpose; None where it has none.

    thickness : (m,) m as computed, None: even; mass : kg of the print
    Raises InputError where the purpose cannot be met or judged, which names the key.
    """
    kind = job.target.purpose
    if kind == "none":
        return None
    surface.check_plated()
    area = surface.plated_area
    mean = 1.0 if thickness is None else float(area @ thickness / area.sum())
    share = np.where(area > 0, 1.0 if thickness is None else thickness / max(mean, 1e-300), 0.0)
    thin = float(weighted_quantiles(share, area, THIN_SHARE))
    part = _Part(surface, job, share, thin, float("nan") if mass is None else mass)
    needed, proposed, limit, worth = KINDS[kind](part)
    if not 0 < proposed <= MAX_THICKNESS_M:
        raise InputError(
            filled(
                "target.purpose '{label}' would take {thickness} of {metal}; ask for less of it, or make the thin"
                " places thicker (Improve Evenness)",
                label=kind,
                thickness=_told(proposed),
                metal=job.bath.metal,
            )
        )
    found = []
    if job.target.thickness < SAME * proposed:
        quantities = {Quantity.THICKNESS: job.target.thickness, Quantity.NEEDED_THICKNESS: proposed}
        found.append(Finding(Code.PURPOSE_THIN, Severity.COSTS, quantities, {"purpose": kind, "limit": limit.value}))
    return Proposal(kind, needed, proposed, limit, worth, tuple(found))


def _told(thickness: float) -> str:
    if np.isfinite(thickness):
        return f"{thickness / UM:.3g} um"
    return filled("more than {thickness}", thickness=f"{MAX_THICKNESS_M / UM:.0f} um")


Judged = tuple[float | None, float, Limit, dict[str, float]]


def _everywhere(part: _Part, needed: float, limit: Limit) -> tuple[float, Limit]:
    """The mean that gives a local thickness all but the thin end."""
    if not part.thin > 0:
        raise InputError(
            filled(
                "target.purpose: {share} % of the area take next to no deposit, so no thickness is enough"
                " there; open or mask these places, or hang anodes to them",
                share=f"{100 * THIN_SHARE:.0f}",
            )
        )
    return needed / part.thin, Limit.THIN_PLACES if part.thin < UNEVEN else limit


def _look(part: _Part) -> Judged:
    target, area = part.job.target, part.surface.visible_area
    needed = target.polish + REST_AFTER_POLISH_M
    proposed, limit = _everywhere(part, needed, Limit.POLISHING)
    through = [float(area @ (part.share * mean < target.polish) / area.sum()) for mean in (target.thickness, proposed)]
    return (
        needed,
        proposed,
        limit,
        {"polished_through_share": through[0], "polished_through_share_proposed": through[1]},
    )


def _shielding(part: _Part) -> Judged:
    target, metal = part.job.target, part.service
    if metal.magnetic:
        raise InputError(
            filled(
                "target.purpose 'shielding': {metal} is magnetic, and its permeability at"
                " target.frequency_MHz is not known; plate copper or silver under it",
                metal=part.job.bath.metal,
            )
        )
    needed = shielding.needed(target.shielding, metal.resistivity, target.frequency)
    if needed is None:
        raise InputError(
            filled(
                "target.shielding_dB: {shielding} dB takes more than 5 mm of metal; ask for less",
                shielding=f"{target.shielding:g}",
            )
        )
    proposed, limit = _everywhere(part, needed, Limit.SKIN_DEPTH)
    now = target.thickness * part.thin
    worth = {
        "skin_depth_um": shielding.skin_depth(metal.resistivity, target.frequency) / UM,
        "shielding_dB": float(shielding.effectiveness(now, metal.resistivity, target.frequency)),
        "loss_against_bulk": float(shielding.loss_against_bulk(now, metal.resistivity, target.frequency)),
        "largest_opening_mm": shielding.largest_opening(target.shielding, target.frequency) * 1e3,
    }
    return needed, proposed, limit, worth


def _stiffness(part: _Part) -> Judged:
    surface, job = part.surface, part.job
    if not surface.closed:
        raise InputError(
            filled(
                "{name}: target.purpose 'stiffness' needs a solid, but the mesh is open; close it first",
                name=surface.name,
            )
        )
    beam = sections.cut(surface)
    modulus = tables.plastic(job.part.material, "part.material")["modulus_GPa"] * 1e9
    plain = [(modulus, sections.plastic(one, job.part.walls, job.part.infill >= 1)) for one in beam.outlines]
    bare = sections.bend(beam, plain, part.service.modulus, np.zeros_like(part.share))

    def gain(mean: float) -> tuple[float, float]:
        """How much stiffer, and by how much less the plastic is strained."""
        plated = sections.bend(beam, plain, part.service.modulus, mean * part.share)
        return bare.compliance / plated.compliance, bare.strain / plated.strain

    if not bare.compliance > 0:
        raise InputError(
            filled(
                "{name}: target.purpose 'stiffness': no section of the part carries; check its mesh", name=surface.name
            )
        )
    proposed = _least(lambda mean: gain(mean)[0] >= job.target.stiffness)
    now, then = gain(job.target.thickness), gain(proposed)
    worth = {
        "stiffness_factor": now[0],
        "stiffness_factor_proposed": then[0],
        "plastic_strain_factor": now[1],
        "metal_g": _metal(part, proposed) / GRAM,
    }
    return None, proposed, Limit.SECTION, worth


def _heat(part: _Part) -> Judged:
    beam = sections.cut(part.surface)
    each = sections.conductance(beam, part.service.conductivity, part.share)
    if not each > 0:
        raise InputError(
            "target.purpose 'heat': the deposit does not reach from end to end; unmask a way along the part"
        )
    wanted, target = part.job.target.conductance, part.job.target
    worth = {"conductance_W_K": each * target.thickness, "metal_g": _metal(part, wanted / each) / GRAM}
    return None, wanted / each, Limit.SKIN, worth


def _mass(part: _Part) -> Judged:
    target = part.job.target
    if not np.isfinite(part.mass):
        raise InputError("target.purpose 'mass': what the print weighs is not known; close its mesh and check it again")
    missing = target.mass - part.mass
    if not missing > 0:
        raise InputError(
            filled("target.mass_g: the print alone weighs {mass} g; ask for more", mass=f"{part.mass / GRAM:.3g}")
        )
    proposed = missing / _metal(part, 1.0)
    now = part.mass + _metal(part, target.thickness)
    return None, proposed, Limit.WEIGHT, {"plated_mass_g": now / GRAM, "print_mass_g": part.mass / GRAM}


def _metal(part: _Part, mean: float) -> float:
    """kg of deposit of a mean thickness."""
    return METALS[part.job.bath.metal].density * float(part.surface.plated_area.sum()) * mean


def _least(enough: Callable[[float], bool]) -> float:
    """m, the least mean thickness that is enough; inf where none is."""
    low, high = 0.0, MAX_THICKNESS_M
    if not enough(high):
        return float("inf")
    for _ in range(24):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


KINDS: dict[str, Callable[[_Part], Judged]] = {
    "look": _look,
    "shielding": _shielding,
    "stiffness": _stiffness,
    "heat": _heat,
    "mass": _mass,
}
