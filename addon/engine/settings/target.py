"""The wanted deposit: how thick, how fast, and what it is for."""

from __future__ import annotations

from dataclasses import dataclass

from ..units import A_PER_DM2, GRAM, HOUR, UM
from .schema import aside, number, text

# Purpose of the deposit -> the settings of the target that quantify it
PURPOSES: dict[str, tuple[str, ...]] = {
    "none": (),
    "look": ("polish",),
    "shielding": ("frequency", "shielding"),
    "wear": ("pressure", "slide", "wear"),
    "stiffness": ("stiffness",),
    "strength": ("load",),
    "heat": ("conductance",),
    "mass": ("mass",),
}


@dataclass(frozen=True)
class Target:
    """What is to be deposited. A fixed time or current asks for a density and a thickness: `deposit.settled`."""

    thickness: float = number(
        "thickness_um",
        30 * UM,
        "Mean thickness of the deposit",
        label="Thickness",
        unit="um",
        scale=UM,
        low=0.01,
        high=5000,
    )
    density: float = number(
        "density_A_dm2",
        2 * A_PER_DM2,
        "Mean cathode current density: current divided by plated area",
        label="Current density",
        unit="A/dm2",
        scale=A_PER_DM2,
        low=0.001,
        high=100,
    )
    time: float | None = number(
        "time_h",
        None,
        "Time that the part is plated for, where it is fixed: the thickness follows, or the density"
        " where the thickness is given",
        label="Fixed time",
        unit="h",
        scale=HOUR,
        low=1e-3,
        high=10000,
    )
    current: float | None = number(
        "current_A",
        None,
        "Current of all parts together, where it is fixed, in place of the density",
        label="Fixed current",
        unit="A",
        low=1e-4,
        high=10000,
    )
    purpose: str = aside(
        text(
            "purpose",
            "none",
            "What the deposit is for: a thickness is proposed for it, with what limits it and what it is worth",
            label="Purpose",
            choices=tuple(PURPOSES),
        )
    )
    polish: float = aside(
        number(
            "polish_um",
            10 * UM,
            "For look: what sanding and polishing take off",
            label="Polishing",
            unit="um",
            scale=UM,
            low=0,
            high=1000,
        )
    )
    frequency: float = aside(
        number(
            "frequency_MHz",
            100e6,
            "For shielding: the lowest frequency that is to be kept off",
            label="Frequency",
            unit="MHz",
            scale=1e6,
            low=0.01,
            high=100000,
        )
    )
    shielding: float = aside(
        number(
            "shielding_dB",
            100.0,
            "For shielding: by how much a plane wave is to be weakened",
            label="Weakened by",
            unit="dB",
            low=1,
            high=300,
        )
    )
    stiffness: float = aside(
        number(
            "stiffness_factor",
            2.0,
            "For stiffness: how many times as stiff as the print the plated part is to be in bending",
            label="Times as stiff",
            low=1.01,
            high=100,
        )
    )
    pressure: float = aside(
        number(
            "pressure_MPa",
            0.1e6,
            "For wear: the pressure with which something slides on it",
            label="Contact Pressure",
            unit="MPa",
            scale=1e6,
            low=0.001,
            high=1000,
        )
    )
    slide: float = aside(
        number(
            "slide_m",
            1000.0,
            "For wear: how far it slides over each place in all",
            label="Sliding Distance",
            unit="m",
            low=0.1,
            high=1e7,
        )
    )
    wear: float = aside(
        number(
            "wear_coefficient",
            1e-4,
            "For wear: Archard's coefficient without a unit, from 0.01 dry and scratching to 0.000001 well oiled;"
            " measure it",
            label="Wear Coefficient",
            low=1e-9,
            high=0.1,
        )
    )
    load: float = aside(
        number(
            "load_N",
            10.0,
            "For strength: the load across one end, the other held, under which neither deposit nor plastic may yield",
            label="Load at the End",
            unit="N",
            low=0.001,
            high=1e6,
        )
    )
    conductance: float = aside(
        number(
            "conductance_W_K",
            0.05,
            "For heat: what the deposit is to conduct from end to end of the longest side",
            label="Conductance",
            unit="W/K",
            low=1e-6,
            high=1000,
        )
    )
    mass: float = aside(
        number(
            "mass_g",
            100 * GRAM,
            "For mass: what the plated part is to weigh",
            label="Plated weight",
            unit="g",
            scale=GRAM,
            low=0.01,
            high=1e6,
        )
    )
