"""The report's sections on the field, layouts and racks: keys, and results in trade units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..geometry.frames import unit
from ..settings.schema import write
from ..units import A_PER_DM2, CM2, HOUR, MM, UM
from . import layout_text

if TYPE_CHECKING:
    from ..field.rack import RackPlan, Spacing
    from ..field.result import Field, Spread
    from ..field.trials import Comparison
    from ..study import Study

Table = dict[str, Any]


def field(result: Field, study: Study) -> Table:
    """The key `field`."""
    return {
        "up": unit(study.hung.part.up),
        "panels": result.panels,
        "cell_voltage_V": result.voltage,
        "ohmic_V": result.ohmic,
        "polarisation_V": result.polarization,
        "coat_V": result.coat,
        "cell_resistance_ohm": result.resistance,
        "current_A": result.current,
        "wanted_current_A": result.wanted_current or None,
        "control": result.control.value,
        "anode_current_A": result.anode_current,
        "thief_current_A": result.thief_current,
        "part_currents_A": result.part_currents,
        "anodes": [
            {
                "name": anode.name,
                "current_A": anode.current,
                "density_A_dm2": anode.density / A_PER_DM2,
                "highest_A_dm2": anode.highest / A_PER_DM2,
            }
            for anode in result.anodes
        ],
        "wagner": result.wagner,
        "density_A_dm2": _spread(result.density_spread, A_PER_DM2),
        "thickness_um": _spread(result.thickness_spread, UM),
        "dull_area_cm2": (result.dull_area + result.bare_area) / CM2,
        "bare_area_cm2": result.bare_area / CM2,
        "burnt_area_cm2": result.burnt_area / CM2,
        "time_thinnest_h": result.time_thinnest / HOUR,
        "relative_error": result.error,
        "residual": result.residual,
        "assumed": result.assumed,
    }


def layouts(result: Comparison, _study: Study) -> Table:
    """The key `layouts`."""
    return {
        "trials": [
            {
                "name": layout_text.name(trial),
                "as_it_is": trial.own,
                "thinnest_over_mean": trial.uniformity,
                "p5_over_mean": trial.low,
                "density_A_dm2": trial.density / A_PER_DM2,
                "time_h": trial.time / HOUR,
                "time_thinnest_h": trial.time_thinnest / HOUR,
                "cell_voltage_V": trial.voltage,
                "part_shares": trial.shares,
                "anode": None if trial.layout.anodes is None else [write(anode) for anode in trial.layout.anodes],
                "half_turn": trial.layout.half_turn,
                "without": trial.layout.without,
                "why": layout_text.why(trial),
            }
            for trial in result.trials
        ],
        "notes": [layout_text.remark(remark) for remark in result.remarks],
    }


def _spread(spread: Spread, unit: float) -> Table:
    return {name: getattr(spread, name) / unit for name in ("min", "p5", "median", "p95", "max")}


def rack(result: RackPlan, _study: Study) -> Table:
    """The key `rack`."""
    best = result.chosen
    return {
        "wanted": result.wanted,
        "tolerance": result.tolerance,
        "within_tolerance": result.enough,
        **_spacing(best),
        "positions_mm": best.positions / MM,
        "current_A": best.current,
        "current_each_A": result.current_each,
        "fits": result.fits,
        "supply_feeds": result.fed,
        "tried": [_spacing(tried) for tried in result.tried],
    }


def _spacing(spacing: Spacing) -> Table:
    return {
        "gap_mm": spacing.gap / MM,
        "off": spacing.off,
        "shares": spacing.share,
        "shaded": spacing.shaded,
        "cell_voltage_V": spacing.voltage,
    }
