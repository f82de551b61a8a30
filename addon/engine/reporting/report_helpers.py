"""The report's section on printed helpers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..units import CM2, GRAM, ML, MM, UM
from . import report_masks, report_printed
from .report_solid import shade_of, solid

if TYPE_CHECKING:
    from ..helpers.hanger import Cage, Hanger
    from ..helpers.plug import Plug, Plugged
    from ..helpers.shade import Shade
    from ..study import Study

Table = dict[str, Any]


def helpers(study: Study) -> list[Table] | None:
    """The hanger, the plugs, the masks, then what stands in the tank, with what they change where that was asked for;
    None where there is nothing."""
    hanger, plugs, masks = study.results.hanger, study.results.plugs, study.results.masks
    standing = report_printed.helpers(study.results)
    if hanger is None and plugs is None and masks is None and not standing:
        return None
    rows = [] if hanger is None else [_hanger(hanger, study.results.hanger_shade)]
    rows += [_plug(plug, study.results.plugged) for plug in (plugs.plugs if plugs is not None else ())]
    rows += [] if masks is None else report_masks.entries(masks, study.results.masks_shade)
    return rows + standing


def together(study: Study) -> Table | None:
    """The field with all that was made in place at once; None where that was not asked for."""
    joint = study.results.helpers_field
    if joint is None:
        return None
    return {
        "kinds": list(joint.names),
        "shaded_area_cm2": joint.area / CM2,
        "thinnest_um": joint.thinnest / UM,
        "thinnest_before_um": joint.thinnest_before / UM,
        "thin_over_thick": joint.even,
        "thin_over_thick_before": joint.even_before,
        "current_A": joint.current,
        "current_before_A": joint.current_before,
        "thief_current_A": joint.thief_current,
    }


def _hanger(result: Hanger, shade: Shade | None) -> Table:
    return {
        **solid("hanger", result, result.flat),
        "pads_mm": result.tips / MM,
        "marks_area_cm2": result.mark / CM2,
        "clearance_mm": result.clearance / MM,
        "rod_mm": result.rod / MM,
        "on_rods": result.on_rods,
        "wire_mm": result.wire_diameter / MM,
        "wire_at_mm": result.wire / MM,
        "own_wire": result.own_wire,
        "pull_g": result.pull / GRAM,
        "lashed": result.lashed,
        "section_mm": [side / MM for side in result.section],
        "length_mm": result.length / MM,
        "sway_mm": result.sway / MM,
        "gas_mL": result.gas / ML,
        **_cage(result.cage),
        "bodies": result.bodies,
        **shade_of(shade),
    }


def _cage(cage: Cage | None) -> Table:
    """How it holds the part: with fingers from above, or between bars that it cannot leave."""
    if cage is None:
        return {"holds": "fingers", "bars": None, "shift_mm": None, "play_mm": None, "turn_deg": None}
    return {
        "holds": "cage",
        "bars": cage.bars,
        "shift_mm": cage.shift / MM,
        "play_mm": cage.play / MM,
        "turn_deg": None if cage.turn is None else float(np.degrees(cage.turn)),
    }


def _plug(plug: Plug, plugged: Plugged | None) -> Table:
    return {
        **solid("plug", plug, -plug.axis),
        "mouth_mm": plug.mouth / MM,
        "axis": plug.axis,
        "hole_mm": plug.hole / MM,
        "depth_mm": plug.depth / MM,
        "inside_mm": plug.inside / MM,
        "tip_mm": plug.tip / MM,
        "top_mm": plug.top / MM,
        "area_cm2": plug.area / CM2,
        "share": plug.share,
        "current_A": None if plugged is None else plugged.current,
        "current_before_A": None if plugged is None else plugged.current_before,
        "thinnest_um": None if plugged is None else plugged.thinnest / UM,
        "thinnest_before_um": None if plugged is None else plugged.thinnest_before / UM,
    }
