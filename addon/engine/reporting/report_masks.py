"""The report's sections on printed masks, and on regions without one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..units import CM2, ML, MM
from .report_solid import shade_of, solid

if TYPE_CHECKING:
    from ..helpers.mask import Mask, Masks
    from ..helpers.shade import Shade
    from ..study import Study

Table = dict[str, Any]


def entries(masks: Masks, shade: Shade | None) -> list[Table]:
    """An entry a mask; gas and deposit are those of all together."""
    return [_mask(mask, masks.gas, shade) for mask in masks.masks]


def by_hand(study: Study) -> list[Table] | None:
    """The masked regions that no printed mask covers; None where no masks were made."""
    masks = study.results.masks
    if masks is None:
        return None
    return [
        {"reason": region.why.value, "at_mm": region.place / MM, "area_cm2": region.area / CM2}
        for region in masks.by_hand
    ]


def _mask(mask: Mask, gas: float, shade: Shade | None) -> Table:
    return {
        **solid("mask", mask, -mask.axis),
        "form": mask.form.value,
        "edge_mm": mask.place / MM,
        "axis": mask.axis,
        "diameter_mm": mask.diameter / MM,
        "outer_mm": mask.outer / MM,
        "length_mm": mask.length / MM,
        "clearance_mm": mask.clearance / MM,
        "area_cm2": mask.area / CM2,
        "open_cm2": mask.open / CM2,
        "gas_mL": gas / ML,
        **shade_of(shade),
    }
