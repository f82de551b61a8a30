"""Mechanics of a deposit: stiffness and strength of the plated part as a beam of two materials, and wear.

Wear is Archard's (J. Appl. Phys. 24 (1953) 981, from memory): a place that is slid over by s under a pressure p loses
K p s / H of its height, H being the hardness of the deposit and K a coefficient that is measured.
Docs: theory-purpose.md.
"""

from __future__ import annotations

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..settings import tables
from ..units import GRAM, UM
from . import sections
from .base import MAX_THICKNESS_M, Array, Judged, Limit, Part, everywhere, least, metal_mass
from .sections import Beam, Moments, Yield

REST_AFTER_WEAR_M = 5 * UM  # of metal that stays (common practice, no source)
SPREAD_OF_WEAR = 10.0  # factor by which a tabulated coefficient may be off (from memory)
MIN_REMAINING_THICKNESS_M = 0.01 * UM  # as of the setting


def wear(part: Part) -> Judged:
    """The thickness that wears off, plus what must remain."""
    target = part.job.target
    worn = target.wear * target.pressure * target.slide / part.service.hardness
    needed = worn + REST_AFTER_WEAR_M
    proposed, limit = everywhere(part, needed, Limit.WEAR)
    worth = {
        "worn_um": worn / UM,
        "worn_low_um": worn / SPREAD_OF_WEAR / UM,
        "worn_high_um": worn * SPREAD_OF_WEAR / UM,
        "slide_to_wear_through_m": target.slide * target.thickness * part.thin / worn,
    }
    return needed, proposed, limit, worth


def _beam(part: Part) -> tuple[Beam, list[tuple[float, Moments]]]:
    """The part's cuts, and the print's modulus and moments at each. Raises InputError where it is no solid."""
    surface, job = part.surface, part.job
    if not surface.closed:
        raise InputError(
            filled(
                "{name}: {target.purpose} '{purpose}' needs a solid, but the mesh is open; close it first",
                name=surface.name,
                purpose=job.target.purpose,
            )
        )
    beam = sections.cut(surface)
    modulus = tables.plastic(job.part.material)["modulus_GPa"] * 1e9
    return beam, [
        (modulus, sections.plastic(outline, job.part.walls, job.part.infill >= 1)) for outline in beam.outlines
    ]


def _check_carries(part: Part, carries: bool) -> None:
    if not carries:
        raise InputError(
            filled(
                "{name}: {target.purpose} '{purpose}': no section of the part carries; check its mesh",
                name=part.surface.name,
                purpose=part.job.target.purpose,
            )
        )


def stiffness(part: Part) -> Judged:
    """A multiple of the print's bending stiffness. Raises InputError where it is no solid."""
    job = part.job
    beam, plain = _beam(part)
    bare = sections.bend(beam, plain, part.service.modulus, np.zeros_like(part.share))

    def gain(mean: float) -> tuple[float, float]:
        """The gain in stiffness, and the reduction of the plastic's strain."""
        plated = sections.bend(beam, plain, part.service.modulus, mean * part.share)
        return bare.compliance / plated.compliance, bare.strain / plated.strain

    _check_carries(part, bare.compliance > 0)
    proposed = least(lambda mean: gain(mean)[0] >= job.target.stiffness)
    now, planned = gain(job.target.thickness), gain(proposed)
    worth = {
        "stiffness_factor": now[0],
        "stiffness_factor_proposed": planned[0],
        "plastic_strain_factor": now[1],
        "metal_g": metal_mass(part, proposed) / GRAM,
    }
    return None, proposed, Limit.SECTION, worth


def strength(part: Part) -> Judged:
    """A load across the free end under which neither deposit nor plastic yields anywhere.

    Raises InputError where the part is no solid, or any deposit bears the load.
    """
    target = part.job.target
    beam, plain = _beam(part)
    plastic = tables.plastic(part.job.part.material)
    plastic_strain = plastic["yield_MPa"] * 1e6 / (plastic["modulus_GPa"] * 1e9)
    metal = part.service.modulus, part.service.yields / part.service.modulus

    def bears(thickness: Array) -> Yield:
        return sections.first_yield(beam, plain, thickness, metal, plastic_strain)

    bare = bears(np.zeros_like(part.share))
    _check_carries(part, bool(np.isfinite(bare.plastic)))
    if bears(MIN_REMAINING_THICKNESS_M * part.share).limit >= target.load:
        raise InputError(
            filled(
                "{target.load_N}: under {load} N nothing yields, however thin the deposit; ask for more",
                load=f"{target.load:g}",
            )
        )
    proposed = least(lambda mean: bears(mean * part.share).limit >= target.load)
    now, planned = bears(target.thickness * part.share), bears(min(proposed, MAX_THICKNESS_M) * part.share)
    limit = Limit.METAL_YIELDS if planned.metal <= planned.plastic else Limit.PLASTIC_YIELDS
    worth = {
        "limit_load_N": now.limit,
        "limit_load_proposed_N": planned.limit,
        "plastic_yields_N": now.plastic,
        "bare_limit_load_N": bare.plastic,
        "metal_g": metal_mass(part, proposed) / GRAM,
    }
    return None, proposed, limit, worth
