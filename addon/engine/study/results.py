"""What a study has computed: one field for each analysis, with its type."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

from ..chemistry.deposit import Deposit
from ..coat.contact import Contacts
from ..coat.result import CoatResult
from ..field.cut import Cut
from ..field.rack import RackPlan
from ..field.ranges import Ranges
from ..field.result import Field
from ..field.solved import Solved
from ..field.trials import Comparison
from ..hanging.hung import Hung
from ..hanging.result import Hanging
from ..helpers.anode_holder import AnodeHolders
from ..helpers.hanger import Hanger
from ..helpers.mask import Masks
from ..helpers.plug import Plugged, Plugs
from ..helpers.rack import RackMade
from ..helpers.shade import Shade, Together
from ..helpers.shield import ShieldMade
from ..helpers.thief import ThiefMade
from ..printing.fits import Fits
from ..printing.orientation import Orientation
from ..printing.prepare import Preparation
from ..purpose.propose import Proposal
from ..trapping.gas import Drainage, Gas
from ..trapping.hole import Vents
from ..trapping.narrow import NarrowOpenings
from ..visibility.openness import Openness


@dataclass(frozen=True, eq=False)
class Results:
    """The result of every analysis, under the analysis' name; None where it has none."""

    deposit: Deposit | None = None
    gas: Gas | None = None
    drainage: Drainage | None = None
    hung: Hung | None = None
    gas_hung: Gas | None = None
    drainage_hung: Drainage | None = None
    narrow: NarrowOpenings | None = None
    openness: Openness | None = None
    contacts: Contacts | None = None
    rack: RackPlan | None = None
    field_at_target: Field | None = None
    coat: CoatResult | None = None
    vents: Vents | None = None
    field: Field | None = None
    ranges: Ranges | None = None
    hanging: Hanging | None = None
    preparation: Preparation | None = None
    fits: Fits | None = None
    orientation: Orientation | None = None
    purpose: Proposal | None = None
    layouts: Comparison | None = None
    hanger: Hanger | None = None
    hanger_shade: Shade | None = None
    plugs: Plugs | None = None
    plugged: Plugged | None = None
    masks: Masks | None = None
    masks_shade: Shade | None = None
    rack_holder: RackMade | None = None
    rack_shade: Shade | None = None
    anode_holder: AnodeHolders | None = None
    anode_holder_shade: Shade | None = None
    thief: ThiefMade | None = None
    thief_shade: Shade | None = None
    shield: ShieldMade | None = None
    shield_shade: Shade | None = None
    helpers_field: Together | None = None
    potential: Solved | None = None
    cut: Cut | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The analyses that have a result."""
        return tuple(field.name for field in fields(self) if getattr(self, field.name) is not None)

    @property
    def present(self) -> tuple[object, ...]:
        """The results that there are, in the order of `names`."""
        return tuple(getattr(self, name) for name in self.names)

    def added(self, name: str, result: object) -> Results:
        """These results and that of one more analysis. Raises TypeError where there is no such analysis."""
        change: dict[str, Any] = {name: result}
        return replace(self, **change)

    def without(self, *names: str) -> Results:
        """These results but those of some analyses. Raises TypeError where there is no such analysis."""
        change: dict[str, Any] = dict.fromkeys(names)
        return replace(self, **change)

    def over(self, other: Results) -> Results:
        """These results, and those of another study where this one has none."""
        change: dict[str, Any] = {name: getattr(other, name) for name in other.names if name not in self.names}
        return replace(self, **change)
