"""What is wrong with a job, or worth knowing, as data: a code, how bad it is, figures, places, and what helps.

An analysis returns findings; `reporting.finding_text` makes a sentence of each. No module reads a sentence to learn a
fact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from .geometry.location import Location
from .units import A_PER_DM2, CM2, GRAM, HOUR, ML, MM, UM, ZERO_CELSIUS

Point = tuple[float, float, float]


class Severity(Enum):
    """STOPS the job; SPOILS the part; COSTS time, metal or certainty of the figures; NOTE: good to know."""

    STOPS = "stops"
    SPOILS = "spoils"
    COSTS = "costs"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return list(Severity).index(self)


class Code(Enum):
    """Every finding that there is. docs/headless.md lists them."""

    # the model
    WRONG_SCALE = "wrong-scale"
    OBJECT_SKIPPED = "object-skipped"
    MESH_OPEN = "mesh-open"
    MESH_NON_MANIFOLD = "mesh-non-manifold"
    FACES_TURNED = "faces-turned"
    ONE_SIDED = "one-sided-surface"
    SHELLS_ENCLOSED = "shells-enclosed"
    SHELLS_OVERLAP = "shells-overlap"
    BODIES_APART = "bodies-apart"
    POINTS_WELDED = "points-welded"
    EDGES_CLOSED = "edges-closed"
    FACES_REPEATED = "faces-repeated"
    INNER_WALLS = "inner-walls"
    FACES_DEGENERATE = "faces-degenerate"
    # sizes when plated
    GAP_CLOSES = "gap-closes"
    BORE_CLOSES = "bore-closes"
    WALL_THIN = "wall-thin"
    PURPOSE_THIN = "purpose-thin"
    # gas and liquid
    GAS_TRAPPED = "gas-trapped"
    LIQUID_HELD = "liquid-held"
    BUBBLE_PRONE = "bubble-prone"
    OPENINGS_NARROW = "openings-narrow"
    TRAPPING_OVERLAP = "trapping-overlap"
    TRAPPING_PATCHED = "trapping-patched"
    # weight and hanging
    BETTER_WAY_UP = "better-way-up"
    FLOATS = "floats"
    GAS_LIFTS = "gas-lifts"
    GAS_SWINGS = "gas-swings"
    INFILL_AIR = "infill-air"
    VOID_AIR = "void-air"
    WALLS_MEET = "walls-meet"
    WEIGHT_UNKNOWN = "weight-unknown"
    WIRE_OFF_PART = "wire-off-part"
    # coat and wires
    PLASTIC_SOFT = "plastic-soft"
    COAT_HOT = "coat-hot"
    COAT_LIMITS_CURRENT = "coat-limits-current"
    CONTACT_HOT_IN_AIR = "contact-hot-in-air"
    COAT_TOO_POOR = "coat-too-poor"
    WIRES_TOO_FEW = "wires-too-few"
    COAT_UNWIRED = "coat-unwired"
    COAT_STAYS_BARE = "coat-stays-bare"
    ZINC_DISPLACED = "zinc-displaced"
    COAT_WITHOUT_TANK = "coat-without-tank"
    # current, supply, anodes
    SUPPLY_TOO_SMALL = "supply-too-small"
    SUPPLY_TOO_COARSE = "supply-too-coarse"
    SUPPLY_VOLTAGE_TOO_SMALL = "supply-voltage-too-small"
    DRAW_TOO_LARGE = "draw-too-large"
    BELOW_WINDOW = "below-window"
    ABOVE_WINDOW = "above-window"
    NEAR_LIMITING = "near-limiting"
    ALMOST_BARE = "almost-bare"
    DULL = "dull"
    BURNT = "burnt"
    THINNEST_NEVER = "thinnest-never"
    INSIDE_SHELL = "inside-shell"
    OPEN_SHEET = "open-sheet"
    ANODE_OVERLOADED = "anode-overloaded"
    HELD_VOLTAGE_OFF = "held-voltage-off"
    RACK_GAP_UNTRIED = "rack-gap-untried"
    # bath
    BATH_TEMPERATURE = "bath-temperature"
    ACID_RESTRICTED = "acid-restricted"
    BATH_SATURATED = "bath-saturated"
    PLATES_FAR_APART = "plates-far-apart"
    READINGS_NEGATIVE = "readings-negative"
    READINGS_SCATTER = "readings-scatter"
    # the computation
    NOT_CONVERGED = "not-converged"
    FIELD_UNSURE = "field-unsure"
    PANELS_REDUCED = "panels-reduced"
    FIELD_WITHOUT_COAT = "field-without-coat"
    NOT_COMPUTED = "not-computed"


class Quantity(Enum):
    """A figure of a finding: its key in the report with the unit, that unit in SI, and its zero in SI."""

    LENGTH = "length_mm", MM
    LIKELY_LENGTH = "likely_length_mm", MM
    WIDTH = "width_mm", MM
    DEPTH = "depth_mm", MM
    DISTANCE = "distance_mm", MM
    DIAMETER = "diameter_mm", MM
    GAP = "gap_mm", MM
    WALLS = "walls_mm", MM
    THICKNESS = "thickness_um", UM
    NEEDED_THICKNESS = "needed_thickness_um", UM
    AREA = "area_cm2", CM2
    NEEDED_AREA = "needed_area_cm2", CM2
    VOLUME = "volume_mL", ML
    MASS = "mass_g", GRAM
    BALLAST = "ballast_g", GRAM
    TIME = "time_h", HOUR
    LIMIT_TIME = "limit_time_h", HOUR
    SHEET_RESISTANCE = "sheet_resistance_ohm_sq", 1.0
    LIMIT_SHEET_RESISTANCE = "limit_sheet_resistance_ohm_sq", 1.0
    CURRENT = "current_A", 1.0
    STEP_CURRENT = "step_current_A", 1.0
    LIMIT_CURRENT = "limit_current_A", 1.0
    SUPPLY_CURRENT = "supply_current_A", 1.0
    METAL_CURRENT = "metal_current_A", 1.0
    VOLTAGE = "voltage_V", 1.0
    LIMIT_VOLTAGE = "limit_voltage_V", 1.0
    DENSITY = "density_A_dm2", A_PER_DM2
    WANTED_DENSITY = "wanted_density_A_dm2", A_PER_DM2
    LOW_DENSITY = "low_density_A_dm2", A_PER_DM2
    HIGH_DENSITY = "high_density_A_dm2", A_PER_DM2
    LIMIT_DENSITY = "limit_density_A_dm2", A_PER_DM2
    RISE = "rise_K", 1.0
    TEMPERATURE = "temperature_C", 1.0, ZERO_CELSIUS
    SOFTENS = "softens_C", 1.0, ZERO_CELSIUS
    LOW_TEMPERATURE = "low_temperature_C", 1.0, ZERO_CELSIUS
    HIGH_TEMPERATURE = "high_temperature_C", 1.0, ZERO_CELSIUS
    LEFT = "left_mL", ML
    GAS_GAIN = "gas_gain_mL", ML
    HELD_GAIN = "held_gain_mL", ML
    AREA_GAIN = "area_gain_cm2", CM2
    UP_X = "up_x_1", 1.0
    UP_Y = "up_y_1", 1.0
    UP_Z = "up_z_1", 1.0
    SWING = "swing_deg", float(np.radians(1.0))
    MEMORY = "memory_GB", 1e9
    COUNT = "count_1", 1.0
    TOTAL = "total_1", 1.0
    SHELLS = "shells_1", 1.0
    SIDES = "sides_1", 1.0
    WIRES = "wires_1", 1.0
    NEEDED_WIRES = "needed_wires_1", 1.0
    PANELS = "panels_1", 1.0
    WANTED_PANELS = "wanted_panels_1", 1.0
    FACTOR = "factor_1", 1.0
    SHARE = "share_1", 1.0
    BOUGHT_SHARE = "bought_share_1", 1.0
    SATURATION = "saturation_1", 1.0
    RESIDUAL = "residual_1", 1.0
    ERROR = "relative_error_1", 1.0

    def __init__(self, key: str, unit: float, zero: float = 0.0) -> None:
        self.key, self.unit, self.zero = key, unit, zero

    def shown(self, value: float) -> float:
        """A value in SI, in the unit of the key."""
        return (value - self.zero) / self.unit


class RemedyCode(Enum):
    """What helps against a finding."""

    SCALE_IMPORT = "scale-import"
    MEND_MESH = "mend-mesh"
    HANG_OTHERWISE = "hang-otherwise"
    VENT = "vent"
    DRAIN = "drain"
    SHAKE = "shake"
    WIDEN_OR_PLUG = "widen-or-plug"
    ADD_BALLAST = "add-ballast"
    SEAL_PRINT = "seal-print"
    MOVE_WIRE = "move-wire"
    CHANGE_PLASTIC = "change-plastic"
    LIMIT_CURRENT = "limit-current"
    KEEP_UNDER_LIQUID = "keep-under-liquid"
    BETTER_COAT = "better-coat"
    ADD_WIRES = "add-wires"
    JOIN_PIECES = "join-pieces"
    PLUG_HOLES = "plug-holes"
    LARGER_SUPPLY = "larger-supply"
    FINER_SUPPLY = "finer-supply"
    LOWER_DENSITY = "lower-density"
    RAISE_DENSITY = "raise-density"
    LARGER_ANODE = "larger-anode"
    MOVE_ANODE = "move-anode"
    CHANGE_TEMPERATURE = "change-temperature"
    CHANGE_BATH = "change-bath"
    MEASURE_AGAIN = "measure-again"
    RAISE_PANELS = "raise-panels"


Quantities = Mapping[Quantity, float]
Names = Mapping[str, str]


@dataclass(frozen=True)
class Remedy:
    """quantities : SI; places : meters, in the part's axes; names : what it needs besides figures"""

    code: RemedyCode
    quantities: Quantities = field(default_factory=dict)
    places: tuple[Point, ...] = ()
    names: Names = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Finding:
    """One thing that is wrong or worth knowing.

    quantities : SI; names : of what it is about: a bath, an anode, a plastic, the reason of a fault of input
    places : meters, in the part's axes, the worst first
    locations : where these are on the part, as far as known; None: here and there
    faces : triangles of the part that it concerns
    spoilt_share : 0..1 of the visible plated area that it spoils (`Surface.visible_share`)
    """

    code: Code
    severity: Severity
    quantities: Quantities = field(default_factory=dict)
    names: Names = field(default_factory=dict)
    places: tuple[Point, ...] = ()
    locations: tuple[Location | None, ...] = ()
    faces: NDArray[np.integer] = field(default_factory=lambda: np.zeros(0, dtype=np.int32))
    spoilt_share: float = 0.0
    remedy: Remedy | None = None

    def shown(self, quantity: Quantity) -> float:
        """A figure in the unit of its key. Raises KeyError where the finding has none such."""
        return quantity.shown(self.quantities[quantity])


def most_severe_first(findings: Iterable[Finding]) -> list[Finding]:
    """Sorted by severity, then by the share of the part that each spoils; stable."""
    return sorted(findings, key=lambda finding: (finding.severity.rank, -finding.spoilt_share))


def spot(point: Iterable[float]) -> Point:
    """A point of an array as plain numbers."""
    x, y, z = (float(value) for value in point)
    return x, y, z


# Codes of places with no or hardly any metal: only the one that spoils most is reported.
BARE = (Code.COAT_STAYS_BARE, Code.ALMOST_BARE, Code.THINNEST_NEVER)
# Groups of codes that report the same fact: only the first that is present is reported.
SAME_FACT = (
    (Code.COAT_UNWIRED, Code.WIRES_TOO_FEW, Code.THINNEST_NEVER),
    (Code.MESH_OPEN, Code.WEIGHT_UNKNOWN),
    (Code.SHELLS_OVERLAP, Code.INSIDE_SHELL),
    (Code.ABOVE_WINDOW, Code.BURNT, Code.NEAR_LIMITING),
    (Code.BELOW_WINDOW, Code.DULL),
    (Code.GAS_TRAPPED, Code.GAS_SWINGS, Code.BETTER_WAY_UP),
)


def each_fact_once(findings: Iterable[Finding]) -> list[Finding]:
    """Findings without those whose fact another one reports: see `SAME_FACT` and `BARE`. Order is kept."""
    listed = list(findings)
    present = {finding.code for finding in listed}
    repeated = {code for codes in SAME_FACT for code in [twin for twin in codes if twin in present][1:]}
    bare = [finding for finding in listed if finding.code in BARE]
    if bare:
        worst = min(bare, key=lambda finding: (-finding.spoilt_share, BARE.index(finding.code)))
        repeated |= set(BARE) - {worst.code}
    return [finding for finding in listed if finding.code not in repeated]
