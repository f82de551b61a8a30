"""Settings of bath, kinetics and supply."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from ..faraday import METALS
from ..units import A_PER_DM2, CM2, GRAM_PER_ML, GRAVITY, LITER, MM, ZERO_CELSIUS
from .schema import NUMBERS, number, text

MAX_STEP_LOSS = 0.05  # of a current: a smaller loss by the supply's steps is ignored (common practice, no source)
SAFE_LIMITING_SHARE = 0.5  # of the limiting density: beyond, the deposit roughens. Common practice, no source


@dataclass(frozen=True)
class Measured:
    """Readings between two plates in the bath, from which its conductivity follows."""

    area: float = number(
        "area_cm2",
        25 * CM2,
        "Area of one plate, of the side that faces the other",
        label="Plate area",
        unit="cm2",
        scale=CM2,
        low=0.01,
        high=100000,
    )
    gap: float = number(
        "gap_mm", 30 * MM, "Distance between the plates", label="Gap", unit="mm", scale=MM, low=0.1, high=10000
    )
    currents: tuple[float, ...] = number(
        "current_A", (), "Currents that were set", label="Currents", unit="A", low=0, high=10000, size=NUMBERS
    )
    voltages: tuple[float, ...] = number(
        "voltage_V",
        (),
        "Voltage between the plates at each of them",
        label="Voltages",
        unit="V",
        low=0,
        high=1000,
        size=NUMBERS,
    )


@dataclass(frozen=True)
class Kinetics:
    """How an electrode's overpotential rises with current density.

    kind "none": no overpotential; "linear": eta = resistance j; "tafel": the electrode's own branch with
    exchange current density and transfer coefficient; "butler-volmer": both branches, each with its own.
    """

    kind: str = text(
        "kind",
        "tafel",
        "Kinetic law of the electrode",
        label="Kinetics",
        choices=("none", "linear", "tafel", "butler-volmer"),
    )
    resistance: float = number(
        "resistance_ohm_m2",
        1.28e-3,
        "Overpotential divided by current density",
        label="Polarization resistance",
        unit="ohm m2",
        low=0,
        high=10,
    )
    exchange: float = number(
        "exchange_A_m2",
        10.0,
        "Current density in either direction at equilibrium",
        label="Exchange current density",
        unit="A/m2",
        low=1e-9,
        high=1e6,
    )
    transfer: float = number(
        "transfer",
        0.5,
        "Share of the overpotential that drives deposition (Tafel at an anode: dissolution): sets the slope",
        label="Transfer coefficient",
        low=0.01,
        high=2,
    )
    anodic: float = number(
        "transfer_anodic",
        1.5,
        "Share of the overpotential that drives dissolution, in the Butler-Volmer law",
        label="Anodic transfer coefficient",
        low=0.01,
        high=4,
    )


@dataclass(frozen=True)
class Bath:
    """The solution: from the table, with the user's own measurements over it."""

    name: str = text("name", "acid copper, decorative", "Bath preset", label="Bath")
    file: str = text("file", "", "A bath table of your own (.toml)", label="Bath file")
    metal: str = text("metal", "copper", "Metal that is deposited", label="Metal", choices=tuple(METALS))
    conductivity: float = number(
        "conductivity_S_m",
        18.0,
        "Conductivity of the solution at its temperature: measure it",
        label="Conductivity",
        unit="S/m",
        low=1e-6,
        high=1000,
    )
    density: float = number(
        "density_g_mL",
        1158.0,
        "Density of the solution",
        label="Density",
        unit="g/mL",
        scale=GRAM_PER_ML,
        low=0.5,
        high=3,
    )
    window: tuple[float, float] = number(
        "window_A_dm2",
        (50.0, 600.0),
        "Current densities between which the deposit is sound",
        label="Plating range",
        unit="A/dm2",
        scale=A_PER_DM2,
        low=0,
        high=1000,
        size=2,
    )
    efficiency: float = number(
        "efficiency", 1.0, "Share of the current that deposits metal", label="Efficiency", low=0.01, high=1
    )
    temperature: float = number(
        "temperature_C",
        25 + ZERO_CELSIUS,
        "Temperature of the solution",
        label="Temperature",
        unit="C",
        offset=ZERO_CELSIUS,
        low=0,
        high=100,
    )
    surface_tension: float = number(
        "surface_tension_N_m",
        0.073,
        "Surface tension of the solution: a wetting agent lowers it",
        label="Surface tension",
        unit="N/m",
        low=0.005,
        high=0.2,
    )
    limiting: float = number(
        "limiting_A_dm2",
        900.0,
        "Current density at which the metal ions run out at the surface",
        label="Limiting current density",
        unit="A/dm2",
        scale=A_PER_DM2,
        low=0.01,
        high=10000,
    )
    anode_limit: float = number(
        "anode_limit_A_dm2",
        200.0,
        "Highest current density that the anode can supply",
        label="Anode limit",
        unit="A/dm2",
        scale=A_PER_DM2,
        low=0.01,
        high=1000,
    )
    kinetics: Kinetics = field(default_factory=Kinetics)
    anode_kinetics: Kinetics = field(default_factory=lambda: Kinetics(kind="none"))
    measured: Measured | None = None  # the readings behind a measured conductivity

    @property
    def safe_density(self) -> float:
        """A/m2, the most that any place may get while coat is bare: the window, and half of the limiting density."""
        return min(self.window[1], SAFE_LIMITING_SHARE * self.limiting)

    @property
    def capillary_length(self) -> float:
        """sqrt(sigma / rho g), meters."""
        return (self.surface_tension / (self.density * GRAVITY)) ** 0.5


@dataclass(frozen=True)
class Batch:
    """The bath as it is mixed."""

    volume: float | None = number(
        "volume_L",
        None,
        "Volume of bath to mix; left out: what the tank holds up to its level",
        label="Volume",
        unit="L",
        scale=LITER,
        low=0.01,
        high=100000,
    )
    acid: float = number(
        "acid_percent",
        0.37,
        "Strength of the sulfuric acid as bought, by weight",
        label="Acid",
        unit="wt%",
        scale=0.01,
        low=5,
        high=98,
    )


@dataclass(frozen=True)
class Supply:
    """The power supply's limits."""

    current: float = number("max_A", 5.0, "Largest current", label="Current limit", unit="A", low=0.001, high=10000)
    step: float = number(
        "step_A",
        0.01,
        "Smallest current step of the supply, which is also the smallest current that it can set",
        label="Current step",
        unit="A",
        low=0.0001,
        high=1000,
    )
    voltage: float = number("max_V", 15.0, "Largest voltage", label="Voltage limit", unit="V", low=0.01, high=1000)
    hold: float | None = number(
        "hold_V",
        None,
        "Voltage to hold between anode and wire in place of the current; left out: the current is held",
        label="Controlled voltage",
        unit="V",
        low=0.001,
        high=1000,
    )

    def sets(self, current: float) -> float:
        """A that it gives where `current` A are wanted of it: no more than it can, in whole steps.

        As wanted where the steps are negligible (`MAX_STEP_LOSS`), and where a single step is already too much, which
        is a finding of the deposit.
        """
        rounded = min(current, self.current)
        stepped = math.floor(rounded / self.step + 1e-9) * self.step
        return rounded if stepped <= 0 or stepped >= (1.0 - MAX_STEP_LOSS) * rounded else stepped
