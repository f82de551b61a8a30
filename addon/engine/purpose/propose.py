"""The mean thickness that a purpose takes, what limits it, and what the deposit is worth for it.

A local thickness needed everywhere but on the thinnest 5 % of the area is converted to a mean: divided by the thin
end's share of the mean, where a current distribution is known. Docs: theory-purpose.md.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..findings import Code, Finding, Quantity, Severity
from ..geometry.quantiles import weighted_quantiles
from ..mesh.surface import Surface
from ..settings.job import Job
from ..units import GRAM, UM
from . import mechanics, sections, shielding
from .base import MAX_THICKNESS_M, THIN_SHARE, Array, Judged, Limit, Part, everywhere, metal_mass

REST_AFTER_POLISH_M = 5 * UM  # of metal that stays (common practice, no source)
SAME = 0.98  # of the proposed thickness: a smaller change counts as equal


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
    part = Part(surface, job, share, thin, float("nan") if mass is None else mass)
    needed, proposed, limit, worth = KINDS[kind](part)
    if not 0 < proposed <= MAX_THICKNESS_M:
        raise InputError(
            filled(
                "{target.purpose} '{label}' would take {thickness} of {metal}; ask for less of it, or make the thin"
                " places thicker (Improve Evenness)",
                label=kind,
                thickness=_shown(proposed),
                metal=job.bath.metal,
            )
        )
    findings = []
    if job.target.thickness < SAME * proposed:
        quantities = {Quantity.THICKNESS: job.target.thickness, Quantity.NEEDED_THICKNESS: proposed}
        findings.append(Finding(Code.PURPOSE_THIN, Severity.COSTS, quantities, {"purpose": kind, "limit": limit.value}))
    return Proposal(kind, needed, proposed, limit, worth, tuple(findings))


def _shown(thickness: float) -> str:
    if np.isfinite(thickness):
        return f"{thickness / UM:.3g} um"
    return filled("more than {thickness}", thickness=f"{MAX_THICKNESS_M / UM:.0f} um")


def _look(part: Part) -> Judged:
    target, area = part.job.target, part.surface.visible_area
    needed = target.polish + REST_AFTER_POLISH_M
    proposed, limit = everywhere(part, needed, Limit.POLISHING)
    through = [float(area @ (part.share * mean < target.polish) / area.sum()) for mean in (target.thickness, proposed)]
    return (
        needed,
        proposed,
        limit,
        {"polished_through_share": through[0], "polished_through_share_proposed": through[1]},
    )


def _shielding(part: Part) -> Judged:
    """The permeability of a magnetic metal at a frequency lies between its low-frequency value and 1; the weaker
    shield of both counts."""
    target, metal = part.job.target, part.service
    ends = sorted({1.0, metal.permeability})
    asked = [
        shielding.needed(target.shielding, metal.resistivity, target.frequency, permeability) for permeability in ends
    ]
    needed = None if None in asked else max(thickness for thickness in asked if thickness is not None)
    if needed is None:
        raise InputError(
            filled(
                "{target.shielding_dB}: {shielding} dB takes more than 5 mm of metal; ask for less",
                shielding=f"{target.shielding:g}",
            )
        )
    proposed, limit = everywhere(part, needed, Limit.SKIN_DEPTH)
    now = target.thickness * part.thin
    weakest = min(
        ends,
        key=lambda permeability: float(shielding.effectiveness(now, metal.resistivity, target.frequency, permeability)),
    )
    loss = max(
        float(shielding.loss_against_bulk(now, metal.resistivity, target.frequency, permeability))
        for permeability in ends
    )
    worth = {
        "skin_depth_um": shielding.skin_depth(metal.resistivity, target.frequency) / UM,
        "shielding_dB": float(shielding.effectiveness(now, metal.resistivity, target.frequency, weakest)),
        "loss_against_bulk": loss,
        "largest_opening_mm": shielding.largest_opening(target.shielding, target.frequency) * 1e3,
    }
    if len(ends) > 1:
        magnetic = shielding.skin_depth(metal.resistivity, target.frequency, metal.permeability)
        worth["skin_depth_magnetic_um"] = magnetic / UM
    return needed, proposed, limit, worth


def _heat(part: Part) -> Judged:
    beam = sections.cut(part.surface)
    per_thickness = sections.conductance(beam, part.service.conductivity, part.share)
    if not per_thickness > 0:
        raise InputError(
            filled("{target.purpose} 'heat': the deposit does not reach from end to end; unmask a way along the part")
        )
    wanted, target = part.job.target.conductance, part.job.target
    worth = {
        "conductance_W_K": per_thickness * target.thickness,
        "metal_g": metal_mass(part, wanted / per_thickness) / GRAM,
    }
    return None, wanted / per_thickness, Limit.SKIN, worth


def _mass(part: Part) -> Judged:
    target = part.job.target
    if not np.isfinite(part.mass):
        raise InputError(
            filled("{target.purpose} 'mass': what the print weighs is not known; close its mesh and check it again")
        )
    missing = target.mass - part.mass
    if not missing > 0:
        raise InputError(
            filled("{target.mass_g}: the print alone weighs {mass} g; ask for more", mass=f"{part.mass / GRAM:.3g}")
        )
    proposed = missing / metal_mass(part, 1.0)
    now = part.mass + metal_mass(part, target.thickness)
    return None, proposed, Limit.WEIGHT, {"plated_mass_g": now / GRAM, "print_mass_g": part.mass / GRAM}


KINDS: dict[str, Callable[[Part], Judged]] = {
    "look": _look,
    "shielding": _shielding,
    "wear": mechanics.wear,
    "stiffness": mechanics.stiffness,
    "strength": mechanics.strength,
    "heat": _heat,
    "mass": _mass,
}
