"""What the report tells of printed masks, and of what they do not cover."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..units import CM2, CM3, GRAM, ML, MM, UM

if TYPE_CHECKING:
    from ..helpers.mask import Mask, Masks
    from ..helpers.shade import Shade
    from ..study import Study

Table = dict[str, Any]


def entries(made: Masks, shade: Shade | None) -> list[Table]:
    """An entry a mask; gas and deposit are those of all together."""
    return [_mask(one, made.gas, shade) for one in made.masks]


def by_hand(study: Study) -> list[Table] | None:
    """The masked regions that no printed mask covers; None where no masks were made."""
    made = study.results.masks
    if made is None:
        return None
    return [{"reason": one.why.value, "at_mm": one.place / MM, "area_cm2": one.area / CM2} for one in made.by_hand]


def _mask(one: Mask, gas: float, shade: Shade | None) -> Table:
    return {
        "kind": "mask",
        "file": None,
        "form": one.form.value,
        "bounds_mm": np.array([one.points.min(axis=0), one.points.max(axis=0)]) / MM,
        "volume_cm3": one.volume / CM3,
        "mass_g": one.mass / GRAM,
        "plastic": one.plastic,
        "print_up": -one.axis,
        "edge_mm": one.place / MM,
        "axis": one.axis,
        "diameter_mm": one.diameter / MM,
        "outer_mm": one.outer / MM,
        "length_mm": one.length / MM,
        "clearance_mm": one.clearance / MM,
        "area_cm2": one.area / CM2,
        "open_cm2": one.open / CM2,
        "gas_mL": gas / ML,
        "shaded_area_cm2": None if shade is None else shade.area / CM2,
        "thinnest_um": None if shade is None else shade.thinnest / UM,
        "thinnest_before_um": None if shade is None else shade.thinnest_before / UM,
    }
