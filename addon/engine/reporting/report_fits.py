"""What the report tells of bores, shafts and threads, and of how they come out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..units import MM, UM

if TYPE_CHECKING:
    from ..printing.fits import Fit, Fits
    from ..study import Study

Table = dict[str, Any]


def fits(result: Fits, _study: Study) -> list[Table]:
    return [_fit(one, result.local) for one in result.fits]


def _fit(one: Fit, local: bool) -> Table:
    row = {
        "kind": one.kind.value,
        "center_mm": one.center / MM,
        "axis": one.axis,
        "diameter_mm": one.diameter / MM,
        "length_mm": one.length / MM,
        "gauge_mm": one.gauge / MM,
        "finished_mm": [end / MM for end in one.finished],
        "model_mm": one.model / MM,
        "layer_um": [end / UM for end in one.layer],
        "layer_from": "field" if local else "mean",
        "plated_share": one.plated,
        "affected": one.affected,
    }
    if one.pitch:
        row |= {"pitch_mm": one.pitch / MM, "outer_mm": one.outer / MM, "starts": one.starts}
        row["hand"] = "right" if one.right_handed else "left"
    return row
