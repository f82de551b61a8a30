"""Why a suggestion stands where it does, as data; `reporting.reason_text` makes the words."""

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


@dataclass(frozen=True)
class Reason:
    """quantities : SI; places : meters, in the part's axes"""

    code: ReasonCode
    quantities: Quantities = field(default_factory=dict)
    places: tuple[Point, ...] = ()

    def shown(self, quantity: Quantity) -> float:
        """A figure in the unit of its key. Raises KeyError where the reason has none such."""
        return quantity.shown(self.quantities[quantity])
