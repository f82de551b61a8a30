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
        "Plating time, if fixed: the thickness follows, or the density if the thickness is given",
        label="Fixed time",
        unit="h",
        scale=HOUR,
        low=1e-3,
        high=10000,
    )
    current: float | None = number(
        "current_A",
        None,
        "Current of all parts together, if fixed, instead of the density",
        label="Fixed current",
        unit="A",
        low=1e-4,
        high=10000,
    )
    purpose: str = aside(
        text(
            "purpose",
            "none",
            "Purpose of the deposit: the thickness it requires is proposed, with its limit and its effect",
            label="Purpose",
            choices=tuple(PURPOSES),
        )
    )
    polish: float = aside(
        number(
            "polish_um",
            10 * UM,
            "For look: the thickness that sanding and polishing remove",
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
            "For shielding: the lowest frequency to shield",
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
            "For shielding: the wanted attenuation of a plane wave",
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
            "For stiffness: the wanted bending stiffness, as a multiple of the print's",
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
            "For wear: the total sliding distance over each place",
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
            "For wear: Archard's dimensionless coefficient, from 0.01 dry and abrasive to 0.000001 well"
            " lubricated; measure it",
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
            "For heat: the wanted thermal conductance of the deposit between the ends of the longest side",
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
            "For mass: the wanted weight of the plated part",
            label="Plated weight",
            unit="g",
            scale=GRAM,
            low=0.01,
            high=1e6,
        )
    )
