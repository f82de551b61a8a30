"""The sections of a job as frozen dataclasses in SI: what is wanted, with limits, units and meaning."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TypeAlias

from .faraday import METALS
from .schema import NUMBERS, POINTS, number, switch, text
from .units import A_PER_DM2, CM2, GRAM_PER_ML, GRAVITY, HOUR, LENGTH, LITRE, MM, UM, ZERO_CELSIUS

Vector: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True)
class PartSection:
    """The model, and how it is printed."""

    file: str = text("file", "", "Model file: .stl, .obj, .ply, .glb or .blend", label="Model")
    object: str = text("object", "", "Name of the object in a .blend file", label="Object")
    unit: str = text(
        "unit", "mm", "What one unit of the file means; 'scene' is the unit scale of a .blend",
        label="Unit of the file", choices=(*LENGTH, "scene"),
    )  # fmt: skip
    up: Vector = number("up", (0.0, 0.0, 1.0), "Which way of the model points up in the bath", label="Up", size=3)
    mask: str = text("mask", "plating_mask", "Face attribute: true where nothing is to be plated", label="Mask")
    show: str = text(
        "show",
        "show_face",
        "Face attribute: true on faces that show; contacts keep off them",
        label="Show faces",
    )
    material: str = text(
        "material", "PLA", "Plastic of the print: its density and softening temperature", label="Plastic"
    )
    walls: float = number(
        "walls_mm", 1.2 * MM, "Thickness of the printed shell", label="Walls",
        unit="mm", scale=MM, low=0.1, high=100,
    )  # fmt: skip
    infill: float = number(
        "infill", 0.15, "Share of the inside that is filled with plastic; 1 is solid",
        label="Infill", low=0, high=1,
    )  # fmt: skip
    sheet_sides: int = number(
        "sheet_sides", 1, "How many sides of an open sheet without thickness the liquid touches",
        label="Sides of a sheet", low=1, high=2,
    )  # fmt: skip


@dataclass(frozen=True)
class Target:
    """What is to be deposited. A fixed time or current asks for a density and a thickness: `deposit.settled`."""

    thickness: float = number(
        "thickness_um", 30 * UM, "Mean thickness of the deposit", label="Thickness",
        unit="um", scale=UM, low=0.01, high=5000,
    )  # fmt: skip
    density: float = number(
        "density_A_dm2", 2 * A_PER_DM2, "Mean cathode current density: current divided by plated area",
        label="Current density", unit="A/dm2", scale=A_PER_DM2, low=0.001, high=100,
    )  # fmt: skip
    time: float | None = number(
        "time_h", None, "Time that the part is plated for, where it is fixed: the thickness follows, or the density"
        " where the thickness is given", label="Fixed time", unit="h", scale=HOUR, low=1e-3, high=10000,
    )  # fmt: skip
    current: float | None = number(
        "current_A", None, "Current of all parts together, where it is fixed, in place of the density",
        label="Fixed current", unit="A", low=1e-4, high=10000,
    )  # fmt: skip


@dataclass(frozen=True)
class Measured:
    """Readings between two plates in the bath, from which its conductivity follows."""

    area: float = number(
        "area_cm2", 25 * CM2, "Area of one plate, of the side that faces the other", label="Plate area",
        unit="cm2", scale=CM2, low=0.01, high=100000,
    )  # fmt: skip
    gap: float = number(
        "gap_mm", 30 * MM, "Distance between the plates", label="Gap", unit="mm", scale=MM, low=0.1, high=10000
    )
    currents: tuple[float, ...] = number(
        "current_A", (), "Currents that were set", label="Currents", unit="A", low=0, high=10000, size=NUMBERS
    )
    voltages: tuple[float, ...] = number(
        "voltage_V", (), "Voltage between the plates at each of them", label="Voltages", unit="V", low=0, high=1000,
        size=NUMBERS,
    )  # fmt: skip


@dataclass(frozen=True)
class Kinetics:
    """How an electrode's overpotential rises with current density.

    kind "none": no overpotential; "linear": eta = resistance j; "tafel": the electrode's own branch with
    exchange current density and transfer coefficient; "butler-volmer": both branches, each with its own.
    """

    kind: str = text(
        "kind", "tafel", "Law of the overpotential", label="Law",
        choices=("none", "linear", "tafel", "butler-volmer"),
    )  # fmt: skip
    resistance: float = number(
        "resistance_ohm_m2",
        1.28e-3,
        "Overpotential over current density",
        label="Polarisation resistance",
        unit="ohm m2",
        low=0,
        high=10,
    )
    exchange: float = number(
        "exchange_A_m2",
        10.0,
        "Current density at which both ways balance at rest",
        label="Exchange density",
        unit="A/m2",
        low=1e-9,
        high=1e6,
    )
    transfer: float = number(
        "transfer",
        0.5,
        "Share of the overpotential that helps the deposit (Tafel at an anode: its dissolving): sets the slope",
        label="Transfer",
        low=0.01,
        high=2,
    )
    anodic: float = number(
        "transfer_anodic",
        1.5,
        "Share of the overpotential that helps the metal to dissolve, in Butler and Volmer's law",
        label="Anodic transfer",
        low=0.01,
        high=4,
    )


@dataclass(frozen=True)
class Bath:
    """The solution: from the table, with the user's own measurements over it."""

    name: str = text("name", "acid copper, decorative", "Name in the bath table", label="Bath")
    file: str = text("file", "", "A bath table of your own (.toml)", label="Own table")
    metal: str = text("metal", "copper", "Metal that is deposited", label="Metal", choices=tuple(METALS))
    conductivity: float = number(
        "conductivity_S_m", 18.0, "Conductivity of the solution at its temperature: measure it",
        label="Conductivity", unit="S/m", low=1e-6, high=1000,
    )  # fmt: skip
    density: float = number(
        "density_g_mL", 1158.0, "Density of the solution", label="Density",
        unit="g/mL", scale=GRAM_PER_ML, low=0.5, high=3,
    )  # fmt: skip
    window: tuple[float, float] = number(
        "window_A_dm2", (50.0, 600.0), "Current densities between which the deposit is sound",
        label="Usable window", unit="A/dm2", scale=A_PER_DM2, low=0, high=1000, size=2,
    )  # fmt: skip
    efficiency: float = number(
        "efficiency", 1.0, "Share of the current that deposits metal", label="Efficiency", low=0.01, high=1
    )
    temperature: float = number(
        "temperature_C", 25 + ZERO_CELSIUS, "Temperature of the solution", label="Temperature",
        unit="C", offset=ZERO_CELSIUS, low=0, high=100,
    )  # fmt: skip
    surface_tension: float = number(
        "surface_tension_N_m", 0.073, "Surface tension of the solution: a wetting agent lowers it",
        label="Surface tension", unit="N/m", low=0.005, high=0.2,
    )  # fmt: skip
    limiting: float = number(
        "limiting_A_dm2", 900.0, "Current density at which the metal ions run out at the surface",
        label="Limiting density", unit="A/dm2", scale=A_PER_DM2, low=0.01, high=10000,
    )  # fmt: skip
    anode_limit: float = number(
        "anode_limit_A_dm2", 200.0, "Highest current density that the anode bears",
        label="Anode limit", unit="A/dm2", scale=A_PER_DM2, low=0.01, high=1000,
    )  # fmt: skip
    kinetics: Kinetics = field(default_factory=Kinetics)
    anode_kinetics: Kinetics = field(default_factory=lambda: Kinetics(kind="none"))
    measured: Measured | None = None  # what the conductivity was found from, where it was measured

    @property
    def capillary_length(self) -> float:
        """sqrt(sigma / rho g), metres."""
        return (self.surface_tension / (self.density * GRAVITY)) ** 0.5


@dataclass(frozen=True)
class Batch:
    """The bath as it is mixed."""

    volume: float | None = number(
        "volume_L", None, "Volume of bath to mix; left out: what the tank holds up to its level",
        label="Volume", unit="L", scale=LITRE, low=0.01, high=100000,
    )  # fmt: skip
    acid: float = number(
        "acid_percent", 0.37, "Strength of the sulfuric acid that is bought, by weight",
        label="Acid", unit="wt%", scale=0.01, low=5, high=98,
    )  # fmt: skip


@dataclass(frozen=True)
class Tank:
    """The vessel, in tank coordinates: x, y from the middle, z from the floor."""

    shape: str = text(
        "shape", "box", "Shape of the tank; 'open' is liquid without end", label="Tank",
        choices=("box", "cylinder", "mesh", "open"),
    )  # fmt: skip
    size: tuple[float, float, float] = number(
        "size_mm", (0.3, 0.2, 0.25), "Inside length, width, depth; a cylinder repeats its diameter",
        label="Tank inside", unit="mm", scale=MM, low=1, high=10000, size=3,
    )  # fmt: skip
    level: float = number(
        "level_mm", 0.22, "Depth of the liquid", label="Liquid level", unit="mm", scale=MM, low=1, high=10000
    )
    file: str = text("file", "", "Mesh of the inside of the tank", label="Mesh")


@dataclass(frozen=True)
class Anode:
    """A flat plate, or any surface from a file. Both sides of a plate are electrodes."""

    plate: tuple[float, float] | None = number(
        "plate_mm",
        None,
        "Width and height of a flat plate",
        label="Plate",
        unit="mm",
        scale=MM,
        low=0.1,
        high=10000,
        size=2,
    )
    centre: Vector | None = number(
        "centre_mm", None, "Middle of the plate", label="Middle", unit="mm", scale=MM, size=3
    )
    normal: Vector | None = number("normal", None, "Which way the plate faces", label="Facing", size=3)
    file: str = text("file", "", "Mesh of the anode, in tank coordinates and the part file's unit", label="Mesh")
    name: str = text("name", "", "What to call it; left out: anode and its number", label="Name")


@dataclass(frozen=True)
class Body:
    """A shield (insulating) or a thief (conducting, on the cathode's potential)."""

    file: str = text("file", "", "Mesh of the body, in tank coordinates and the part file's unit", label="Mesh")
    name: str = text("name", "", "What to call it; left out: what it is and its number", label="Name")


@dataclass(frozen=True)
class Place:
    """Where the middle of the part's bounding box hangs, in tank coordinates; None: the tank's middle."""

    centre: Vector | None = number("centre_mm", None, "Middle of the part", label="Middle", unit="mm", scale=MM, size=3)
    turn: float = number(
        "turn_deg", 0.0, "Turn of the part about the vertical in the tank; 0: as it is modelled, or stands in the scene",
        label="Turn", unit="deg", scale=math.pi / 180
    )
    half_turn: bool = switch(
        "half_turn", False, "After half of the time every part is turned by half about the vertical, so that what faced"
        " away comes to the front", label="Turned at half time",
    )  # fmt: skip


@dataclass(frozen=True)
class Rack:
    """Copies of the part in the same tank, turned about the vertical."""

    positions: tuple[Vector, ...] = number(
        "positions_mm", (), "Middle of each copy", label="Positions", unit="mm", scale=MM, size=POINTS
    )
    turns: tuple[float, ...] = number(
        "turns_deg", (), "Turn of each copy about the vertical", label="Turns", unit="deg",
        scale=math.pi / 180, size=NUMBERS,
    )  # fmt: skip
    suggest: int = number(
        "suggest", 0, "Copies for which spacing and shares are to be found by the current distribution; 0: not asked",
        label="Copies to place", low=0, high=60,
    )  # fmt: skip
    tolerance: float = number(
        "tolerance", 0.1, "How far a copy's current, and what its neighbours leave it of a lone copy's deposit, may be off",
        label="Tolerance", low=0.005, high=0.9,
    )  # fmt: skip


@dataclass(frozen=True)
class Coat:
    """The conductive coat. A sheet resistance of zero means a metal part."""

    name: str = text("name", "copper paint", "Name in the coat table", label="Coat")
    sheet_resistance: float = number(
        "sheet_resistance_ohm_sq", 0.5, "Sheet resistance of the dry coat: measure it",
        label="Sheet resistance", unit="ohm/sq", low=0, high=1e6,
    )  # fmt: skip
    thickness: float = number(
        "thickness_um", 30 * UM, "Thickness of the dry coat", label="Coat thickness",
        unit="um", scale=UM, low=0, high=1000,
    )  # fmt: skip
    density: float = number(
        "density_g_mL",
        3000.0,
        "Density of the dry coat",
        label="Coat density",
        unit="g/mL",
        scale=GRAM_PER_ML,
        low=0.1,
        high=20,
    )


@dataclass(frozen=True)
class Wire:
    """A contact on the part, in model coordinates."""

    point: Vector | None = number(
        "point_mm", None, "Where the wire touches the part", label="Contact", unit="mm", scale=MM, size=3
    )
    pad: float = number(
        "pad_mm", 3 * MM, "Diameter of the contact", label="Pad", unit="mm", scale=MM, low=0.1, high=100
    )
    name: str = text("name", "", "What to call it; left out: wire and its number", label="Name")


@dataclass(frozen=True)
class Supply:
    """What the supply can give."""

    current: float = number("max_A", 5.0, "Largest current", label="Current limit", unit="A", low=0.001, high=10000)
    voltage: float = number("max_V", 15.0, "Largest voltage", label="Voltage limit", unit="V", low=0.01, high=1000)
    hold: float | None = number(
        "hold_V", None, "Voltage to hold between anode and wire in place of the current; left out: the current is held",
        label="Hold voltage", unit="V", low=0.001, high=1000,
    )  # fmt: skip


@dataclass(frozen=True)
class Hang:
    """What holds the part, and how much each fault of a way up counts when they are ranked."""

    hook: str = text(
        "hook", "one wire", "What holds the part: on one wire it turns, on two it turns about their line, a rigid"
        " hook keeps it as set", label="Hook", choices=("one wire", "two wires", "rigid"),
    )  # fmt: skip
    gas: float = number(
        "gas", 6.0, "Weight of the share of the plated surface that gas keeps dry", label="Gas", low=0, high=1000
    )
    underside: float = number(
        "underside", 1.0, "Weight of the share that faces down nearly level, where bubbles cling",
        label="Undersides", low=0, high=1000,
    )  # fmt: skip
    held: float = number(
        "held", 1.0, "Weight of the bath carried out on lifting, as a share of the part's own volume",
        label="Bath carried out", low=0, high=1000,
    )  # fmt: skip
    visible: float = number(
        "visible", 1.0, "How much more a face that gas or bubbles spoil counts where it shows", label="Where it shows",
        low=0, high=1000,
    )  # fmt: skip
    thin: float = number(
        "thin", 1.0, "How much more such a face counts where the current distribution, if it is known, leaves it without"
        " deposit; in proportion where the deposit is only thinner than its mean", label="Where it is thin",
        low=0, high=1000,
    )  # fmt: skip
    show: float = number(
        "show", 0.3, "Weight of the share of the show faces that looks away from the anodes", label="Show faces",
        low=0, high=1000,
    )  # fmt: skip
    mark: float = number(
        "mark", 0.3, "Weight of a contact that must stand on a show face and leaves its mark there", label="Marks",
        low=0, high=1000,
    )  # fmt: skip
    hold: float = number(
        "hold", 0.1, "Weight of what the hook cannot hold: half where two wires would, whole where only a rigid hook does",
        label="Hold", low=0, high=1000,
    )  # fmt: skip


@dataclass(frozen=True)
class Print:
    """How the part is printed."""

    layer: float = number(
        "layer_mm", 0.05 * MM, "Layer height", label="Layer height", unit="mm", scale=MM, low=0.001, high=5
    )
    up: Vector = number(
        "up", (0.0, 0.0, 1.0), "Which way of the model points up on the printer", label="Up on the printer", size=3
    )


@dataclass(frozen=True)
class Effort:
    """How much work the study may do."""

    rays: int = number("rays", 64, "Rays a face for openness", label="Rays", low=16, high=4096)
    directions: int = number("directions", 300, "Ways up that the search tries", label="Ways up", low=50, high=20000)
    panels: int = number("panels", 12000, "Panels of the current distribution", label="Panels", low=500, high=400000)
    skip: str = text("skip", "", "Analyses to leave out, divided by commas", label="Leave out")
    also: str = text(
        "also", "", "Analyses to add that run only where they are asked for, divided by commas: layouts, cut", label="Add"
    )


@dataclass(frozen=True)
class Cut:
    """The plane in which potential and current are shown."""

    way: str = text(
        "way", "through anodes", "Upright and towards the nearest anode, upright and square to that, or level",
        label="Plane", choices=("through anodes", "across", "level"),
    )  # fmt: skip
    offset: float = number(
        "offset_mm", 0.0, "How far the plane stands off the middle of the part", label="Off the middle",
        unit="mm", scale=MM, low=-10000, high=10000,
    )  # fmt: skip
