"""What the report tells of the helpers that can be printed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..units import CM2, CM3, GRAM, ML, MM, UM

if TYPE_CHECKING:
    from ..helpers.hanger import Hanger
    from ..study import Study

Table = dict[str, Any]


def helpers(result: Hanger, study: Study) -> list[Table]:
    """The hanger, with what it costs where that was asked for."""
    shade = study.results.hanger_shade
    return [
        {
            "kind": "hanger",
            "file": None,
            "bounds_mm": np.array([result.points.min(axis=0), result.points.max(axis=0)]) / MM,
            "volume_cm3": result.volume / CM3,
            "mass_g": result.mass / GRAM,
            "plastic": result.plastic,
            "print_up": result.flat,
            "pads_mm": result.tips / MM,
            "marks_area_cm2": result.mark / CM2,
            "clearance_mm": result.clearance / MM,
            "rod_mm": result.rod / MM,
            "wire_mm": result.wire_diameter / MM,
            "wire_at_mm": result.wire / MM,
            "own_wire": result.own_wire,
            "pull_g": result.pull / GRAM,
            "lashed": result.lashed,
            "section_mm": [side / MM for side in result.section],
            "length_mm": result.length / MM,
            "sway_mm": result.sway / MM,
            "gas_mL": result.gas / ML,
            "shaded_area_cm2": None if shade is None else shade.area / CM2,
            "thinnest_um": None if shade is None else shade.thinnest / UM,
            "thinnest_before_um": None if shade is None else shade.thinnest_before / UM,
        }
    ]
