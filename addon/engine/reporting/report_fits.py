"""What the report tells of bores, shafts and threads, and of how they come out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..units import CM2, MM, UM
from . import words
from .plan_text import figure, spanned

if TYPE_CHECKING:
    from ..printing.fits import Fit, Fits
    from ..printing.orientation import Direction, Orientation
    from ..printing.prepare import SizedCopy
    from ..purpose.propose import Proposal
    from ..study import Study

Table = dict[str, Any]


def fits(result: Fits, _study: Study) -> list[Table]:
    """Rows of the key `fits`."""
    return [_fit(one, result.local) for one in result.fits]


def purpose(result: Proposal, _study: Study) -> Table:
    """The thickness for the purpose, what limits it, what the deposit is worth."""
    return {
        "kind": result.kind,
        "needed_um": None if result.needed is None else result.needed / UM,
        "thickness_um": result.thickness / UM,
        "limited_by": result.limit.value,
        "worth": dict(result.worth),
    }


def inset(result: SizedCopy, study: Study) -> Table:
    """The copy to print."""
    used = result.inset.points[study.surface.triangles[study.surface.area > 0]].reshape(-1, 3)
    return {
        "layer_um": [end / UM for end in result.layer],
        "layer_from": "field" if result.local else "mean",
        "off_um": [end / UM for end in result.deviation],
        "size_mm": (used.max(axis=0) - used.min(axis=0)) / MM,
    }


def orientation(result: Orientation | None) -> Table:
    """Ways up on the printer, and what the one that is set leaves to sand; null where nobody looked."""
    if result is None:
        return dict.fromkeys(("directions", "as_set", "sanding", "hidden_layer_mm", "hidden_filler_um"))
    todo = result.sanding
    return {
        "directions": [_direction(one) for one in result.ranked],
        "as_set": _direction(result.as_set),
        "sanding": [
            {
                "area_cm2": one.area / CM2,
                "step_um": one.step / UM,
                "effort_mm3": one.effort / MM**3,
                "point_mm": one.point / MM,
                "place": words.told(one.place),
            }
            for one in todo.regions
        ],
        "hidden_layer_mm": None if todo.hidden_layer is None else todo.hidden_layer / MM,
        "hidden_filler_um": None if todo.hidden_filler is None else todo.hidden_filler / UM,
    }


def _direction(one: Direction) -> Table:
    return {
        "up": one.up,
        "staircase_um": {"median": one.median / UM, "p95": one.p95 / UM},
        "sanding_area_cm2": one.rough_area / CM2,
        "overhang_cm2": one.overhang_area / CM2,
        "support_contact_cm2": one.support_area / CM2,
        "bed_cm2": one.bed_area / CM2,
        "height_mm": one.height / MM,
        "rough_undersides_cm2": one.rough_undersides / CM2,
        "effort_mm3": one.effort / MM**3,
    }


def said(result: SizedCopy) -> str:
    """How much smaller the copy is, and how sure the plated size."""
    span = spanned(result.layer[0] / UM, result.layer[1] / UM)
    if not result.local:
        return f"smaller by {span} um everywhere: calculate the thickness first to have it by the map"
    low, high = (figure(abs(end) / UM, 2) for end in result.deviation)
    off = f"where it is thick, the plated face may be {low} um low or {high} um high"
    return f"smaller by {span} um, by the thickness map; {off}"


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
