"""The report's sections on bores, shafts and threads, on size and print orientation."""

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
    return [_fit(fit, result.local) for fit in result.fits]


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
    """Ways up on the printer, and what the one that is set leaves to sand; null where not computed."""
    if result is None:
        return dict.fromkeys(("directions", "as_set", "sanding", "hidden_layer_mm", "hidden_filler_um"))
    todo = result.sanding
    return {
        "directions": [_direction(direction) for direction in result.ranked],
        "as_set": _direction(result.as_set),
        "sanding": [
            {
                "area_cm2": region.area / CM2,
                "step_um": region.step / UM,
                "effort_mm3": region.effort / MM**3,
                "point_mm": region.point / MM,
                "place": words.place_name(region.place),
            }
            for region in todo.regions
        ],
        "hidden_layer_mm": None if todo.hidden_layer is None else todo.hidden_layer / MM,
        "hidden_filler_um": None if todo.hidden_filler is None else todo.hidden_filler / UM,
    }


def _direction(direction: Direction) -> Table:
    return {
        "up": direction.up,
        "staircase_um": {"median": direction.median / UM, "p95": direction.p95 / UM},
        "sanding_area_cm2": direction.rough_area / CM2,
        "overhang_cm2": direction.overhang_area / CM2,
        "support_contact_cm2": direction.support_area / CM2,
        "bed_cm2": direction.bed_area / CM2,
        "height_mm": direction.height / MM,
        "rough_undersides_cm2": direction.rough_undersides / CM2,
        "effort_mm3": direction.effort / MM**3,
    }


def summary(result: SizedCopy) -> str:
    """How much smaller the copy is, and the uncertainty of the plated size."""
    span = spanned(result.layer[0] / UM, result.layer[1] / UM)
    if not result.local:
        return f"smaller by {span} um everywhere: calculate the thickness first to have it by the map"
    low, high = (figure(abs(end) / UM, 2) for end in result.deviation)
    off = f"where it is thick, the plated face may be {low} um low or {high} um high"
    return f"smaller by {span} um, by the thickness map; {off}"


def _fit(fit: Fit, local: bool) -> Table:
    row = {
        "kind": fit.kind.value,
        "center_mm": fit.center / MM,
        "axis": fit.axis,
        "diameter_mm": fit.diameter / MM,
        "length_mm": fit.length / MM,
        "gauge_mm": fit.gauge / MM,
        "finished_mm": [end / MM for end in fit.finished],
        "model_mm": fit.model / MM,
        "layer_um": [end / UM for end in fit.layer],
        "layer_from": "field" if local else "mean",
        "plated_share": fit.plated,
        "affected": fit.affected,
    }
    if fit.pitch:
        row |= {"pitch_mm": fit.pitch / MM, "outer_mm": fit.outer / MM, "starts": fit.starts}
        row["hand"] = "right" if fit.right_handed else "left"
    return row
