"""Why a suggestion has its rank, as data; `reporting.reason_text` words it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from .findings import Point, Quantities, Quantity


class ReasonCode(Enum):
    """Every reason that there is, with the quantities that it has."""

    # of a place for a wire
    IN_VIEW = "in-view"
    HIDDEN_OFF_SHOW = "hidden-off-show"
    HIDDEN_HOLLOW = "hidden-hollow"
    HIDDEN_UNDERSIDE = "hidden-underside"
    PART_CONDUCTS = "part-conducts"
    LEAST_LOSS = "least-loss"  # VOLTAGE
    MORE_LOSS = "more-loss"  # VOLTAGE, LIMIT_VOLTAGE: of the best place
    HARD_TO_REACH = "hard-to-reach"  # SHARE of the bath that it sees
    IN_GAS = "in-gas"
    ON_SHOW = "on-show"
    # of a current to begin with
    FULL_IS_SAFE = "full-is-safe"
    METAL_IS_SAFE = "metal-is-safe"
    WOULD_WARM = "would-warm"
    WOULD_BURN = "would-burn"  # HIGH_DENSITY
    PLASTIC_IS_SOFT = "plastic-is-soft"
    COAT_TOO_POOR = "coat-too-poor"
    SUPPLY_TOO_COARSE = "supply-too-coarse"
    COAT_SHORT_LIVED = "coat-short-lived"
    # of a way up
    LEAST_GAS = "least-gas"
    LEAST_BUBBLES = "least-bubbles"
    LEAST_CARRIED_OUT = "least-carried-out"
    TRAPS_GAS = "traps-gas"  # VOLUME, AREA
    TRAPS_NO_GAS = "traps-no-gas"
    FLOATS_WHILE_FULL = "floats-while-full"  # MASS
    SWINGS_WHILE_FULL = "swings-while-full"  # SWING
    BUBBLES_CLING = "bubbles-cling"  # AREA
    NO_UNDERSIDES = "no-undersides"
    SPOILS_SHOW = "spoils-show"  # AREA
    SPOILS_THIN = "spoils-thin"  # AREA
    CARRIES_OUT = "carries-out"  # VOLUME
    DRAINS = "drains"
    TURNED = "turned"  # SWING: about the vertical
    TURNED_TO_FIT = "turned-to-fit"  # SWING: about the vertical
    TURNED_FOR_LESS_BATH = "turned-for-less-bath"  # SWING: about the vertical
    SHOWS_TO_ANODES = "shows-to-anodes"  # SHARE of the show faces
    TOO_LARGE = "too-large"  # DISTANCE
    RIGID_HOOK = "rigid-hook"
    HOLD_UNKNOWN = "hold-unknown"
    ON_BALLAST = "on-ballast"  # places
    ON_ONE_WIRE = "on-one-wire"  # places
    ON_TWO_WIRES = "on-two-wires"  # places
    ON_THREE_WIRES = "on-three-wires"  # places
    NEEDS_HOOK = "needs-hook"
    MARKS_SHOW = "marks-show"
    ALIKE = "alike"
    # of a way up beside the next: AREA or VOLUME, below zero where it has less
    BESIDE_IN_GAS = "beside-in-gas"
    BESIDE_UNDERSIDE = "beside-underside"
    BESIDE_CARRIED_OUT = "beside-carried-out"
    BESIDE_SHOW = "beside-show"
    BESIDE_THIN = "beside-thin"
    BESIDE_SIMPLER = "beside-simpler"
    BESIDE_HARDER = "beside-harder"
    BESIDE_MARK = "beside-mark"
    BESIDE_NO_MARK = "beside-no-mark"
    BESIDE_FITS = "beside-fits"
    BESIDE_NO_BETTER = "beside-no-better"
    # of a layout that was tried
    JOB_AS_SET = "job-as-set"
    BACK_STAYS_BEHIND = "back-stays-behind"
    BACK_COMES_FORWARD = "back-comes-forward"
    BACK_GETS_LITTLE = "back-gets-little"
    BOTH_SIDES_FACE = "both-sides-face"
    CURRENT_FROM_ALL_SIDES = "current-from-all-sides"
    CURRENT_UNGUIDED = "current-unguided"
    SLOWER = "slower"
    SLOWER_AND_EVENER = "slower-and-evener"
    QUICKER = "quicker"
    QUICKER_AND_LESS_EVEN = "quicker-and-less-even"
    ANODE_OVERLOADED = "anode-overloaded"  # HIGH_DENSITY, LIMIT_DENSITY
    THINNEST_GETS_MORE = "thinnest-gets-more"  # SHARE of what it gets now
    THINNEST_GETS_LESS = "thinnest-gets-less"  # SHARE of what it gets now
    THINNEST_GETS_SOME = "thinnest-gets-some"
    THINNEST_GETS_NONE = "thinnest-gets-none"
    AS_EVEN = "as-even"


# Reasons that compare a way up with the next one; meaningless where no next one is listed
BESIDE_NEXT = frozenset(code for code in ReasonCode if code.value.startswith("beside-"))


@dataclass(frozen=True)
class Reason:
    """quantities : SI; places : meters, in the part's axes"""

    code: ReasonCode
    quantities: Quantities = field(default_factory=dict)
    places: tuple[Point, ...] = ()

    def shown(self, quantity: Quantity) -> float:
        """A figure in the unit of its key. Raises KeyError where the reason has none such."""
        return quantity.shown(self.quantities[quantity])
