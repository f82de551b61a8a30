"""What the deposit is for, in the plan: the thickness that takes, what limits it, what it is worth."""

from __future__ import annotations

from ..units import UM
from .filled import filled, keyed, sentence
from .plan_bench import Bench
from .plan_text import Section, figure, note

# Key of `Proposal.worth` -> what it says
WORTH: dict[str, str] = {
    "polished_through_share": "polishing wears it through on {percent} % of what shows",
    "polished_through_share_proposed": "with the proposed thickness on {percent} %",
    "skin_depth_um": "skin depth {value} um",
    "skin_depth_magnetic_um": "skin depth {value} um while the metal is still magnetic at that frequency",
    "shielding_dB": "a plane wave is weakened by {value} dB where the deposit is thin",
    "loss_against_bulk": "a current of that frequency meets {value} times the resistance of solid metal there",
    "largest_opening_mm": "no slot may be longer than {value} mm, or it lets more through than the metal",
    "stiffness_factor": "it is {value} times as stiff in bending as the print",
    "stiffness_factor_proposed": "with the proposed thickness {value} times",
    "plastic_strain_factor": "under the same load the plastic is strained {value} times less",
    "worn_um": "{value} um wear off",
    "worn_low_um": "{value} um if the coefficient is ten times less",
    "worn_high_um": "{value} um if it is ten times more",
    "slide_to_wear_through_m": "the planned deposit is worn through after {value} m where it is thin",
    "limit_load_N": "the planned part bears {value} N at its end before anything yields",
    "limit_load_proposed_N": "with the proposed thickness {value} N",
    "plastic_yields_N": "its plastic alone would bear {value} N there",
    "bare_limit_load_N": "the bare print bears {value} N",
    "conductance_W_K": "the deposit conducts {value} W/K from end to end",
    "plated_mass_g": "the plated part weighs {value} g",
    "print_mass_g": "the print alone {value} g",
    "metal_g": "the proposed thickness takes {value} g of metal",
}


def section(bench: Bench) -> Section | None:
    """For the appendix; None where the job names no purpose."""
    purpose = bench.study.results.purpose
    if purpose is None:
        return None
    now, planned = (figure(thickness / UM, 2) for thickness in (bench.job.target.thickness, purpose.thickness))
    first = filled(
        "For {kind}: {then} um on average; what limits it: {limit}. Planned are {now} um."
        if purpose.needed is None
        else "For {kind}: {then} um on average, {needed} um where it is thin; what limits it: {limit}. Planned are"
        " {now} um.",
        kind=keyed(purpose.kind, f"{purpose.kind} (purpose)"),
        then=planned,
        needed="" if purpose.needed is None else figure(purpose.needed / UM, 2),
        limit=keyed(purpose.limit.value, f"{purpose.limit.value} (limit)"),
        now=now,
    )
    lines = [
        filled(WORTH[key], value=figure(value, 2), percent=figure(100 * value, 2))
        for key, value in purpose.worth.items()
    ]
    return Section("What the deposit is for", (note(first), *(note(sentence(text)) for text in lines)))
