"""The report's sections on vents and drains, and on the part with these holes cut."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..trapping.bores import NEGLIGIBLE_VOLUME_M3
from ..trapping.hole import HoleKind
from ..units import CM3, ML, MM
from . import words
from .plan_text import figure

if TYPE_CHECKING:
    from ..study import Study
    from ..trapping.hole import Hole, Vents
    from ..trapping.vented import Vented

Table = dict[str, Any]


def vents(result: Vents, _study: Study) -> list[Table]:
    """Rows of the key `vents`."""
    return [_hole(hole) for hole in result.holes]


def _hole(hole: Hole) -> Table:
    return {
        "kind": hole.kind.value,
        "from_mm": hole.entry / MM,
        "to_mm": hole.end / MM,
        "diameter_mm": hole.diameter / MM,
        "frees_mL": hole.frees / ML,
        "through_mm": hole.length / MM,
        "show_face": hole.show,
    }


def vented(result: Vented) -> Table:
    """Before and after; the holes that were cut."""
    return {
        "up": result.gas.up,
        "holes": [_hole(hole) for hole in result.holes],
        "trapped_before_mL": result.gas_before.trapped_volume / ML,
        "trapped_mL": result.gas.trapped_volume / ML,
        "held_before_mL": result.drainage_before.held_volume / ML,
        "held_mL": result.drainage.held_volume / ML,
        "removed_cm3": result.removed / CM3,
        "triangles": len(result.triangles),
    }


def summary_lines(study: Study, result: Vented | None) -> list[str]:
    """One line each: what needs no hole, what was cut, and the gain. result : None where nothing was cut"""
    planned, hanging = study.results.vents, study.results.hanging
    if result is None:
        if planned is None or planned.unneeded:
            return ["no hole is needed this way up: the file holds the part as it is"]
        left = figure(planned.blocked / ML, 2)
        return [
            f"no straight bore frees the {left} mL that stay: shake or tilt it under the bath, wetted first with a"
            " wetting agent; the file holds the part as it is"
        ]
    lines = []
    if hanging is not None and hanging.fill_up is not None and any(hole.kind == HoleKind.VENT for hole in result.holes):
        lines.append(
            f"no vent is needed if it is dipped {words.way_up(hanging.fill_up)} and turned under the bath: see the plan"
        )
    gas, held = (
        f"{figure(round(before / ML, 3), 2)} mL before, {figure(round(max(after, 0.0) / ML, 3), 2)} mL after"
        for before, after in (
            (result.gas_before.trapped_volume, result.gas.trapped_volume),
            (result.drainage_before.held_volume, result.drainage.held_volume),
        )
    )
    if planned is not None and planned.blocked >= NEGLIGIBLE_VOLUME_M3:
        lines.append(f"no straight bore frees another {figure(planned.blocked / ML, 2)} mL: shake or tilt that out")
    lines.append(f"{words.counted(len(result.holes), 'hole')} cut: gas {gas}; held liquid {held}")
    if any(hole.show for hole in result.holes):
        lines.append("a hole goes through a face that shows, for no other way is left")
    return lines
