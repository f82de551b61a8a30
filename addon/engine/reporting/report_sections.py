"""The report's sections on the analyses: keys, and results in trade units."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from ..coat.covering import COVERAGE_MILESTONES
from ..coat.film import COVERED_FILM_M
from ..units import A_PER_DM2, AMPERE_HOUR, CM2, GRAM, HOUR, MINUTE, ML, MM, UM, ZERO_CELSIUS
from . import reason_text, report_fits, words

if TYPE_CHECKING:
    from ..chemistry.deposit import Deposit
    from ..coat.heat import Heating
    from ..coat.result import CoatResult
    from ..printing.prepare import Preparation
    from ..study import Results, Study
    from ..trapping.bores import Bore
    from ..trapping.gas import Drainage, Gas, Pool
    from ..trapping.narrow import NarrowOpenings
    from ..trapping.pockets import Pocket
    from ..visibility.openness import Openness

Table = dict[str, Any]


def deposit(result: Deposit, _study: Study) -> Table:
    """The key `deposit`."""
    return {
        "metal": result.metal,
        "current_A": result.current,
        "time_h": result.time / HOUR,
        "charge_Ah": result.charge / AMPERE_HOUR,
        "metal_g": result.mass / GRAM,
        "mean_thickness_um": result.thickness / UM,
        "density_A_dm2": result.density / A_PER_DM2,
        "parts": result.copies,
        "total_current_A": result.total_current,
        "supply_density_A_dm2": result.supply_density / A_PER_DM2,
        "supply_time_h": result.supply_time / HOUR,
    }


def gas(result: Gas, study: Study) -> Table:
    """The key `gas`."""
    return {
        "up": result.up,
        "trapped_mL": result.trapped_volume / ML,
        "trapped_area_cm2": result.trapped_area / CM2,
        "level_underside_cm2": result.level_underside_area / CM2,
        "pockets": [_hollow(pocket, "top", "vent") for pocket in result.pockets],
        "small_pockets": result.small,
        "narrow_openings": _narrow(study.results.narrow),
    }


def _hollow(hollow: Pocket | Pool, deep: str, hole: str) -> Table:
    """A pocket of gas or a pool of bath. deep : name of its far end; hole : of what empties it"""
    lengths = (deep, "spill", hole, f"{hole}_diameter", f"more_{hole}s", "mouth")
    return {
        "volume_mL": hollow.volume / ML,
        "area_cm2": hollow.area / CM2,
        **{f"{name}_mm": getattr(hollow, name) / MM for name in lengths},
        "bores": _bores(hollow.bores),
    }


def _bores(bores: tuple[Bore, ...]) -> list[Table]:
    """The volume that a hole of each diameter would leave."""
    return [{"diameter_mm": bore.diameter / MM, "left_mL": bore.remaining / ML} for bore in bores]


def _narrow(result: NarrowOpenings | None) -> list[Table] | None:
    if result is None:
        return None
    return [
        {
            "kind": opening.kind,
            "width_mm": opening.width / MM,
            "depth_mm": opening.depth / MM,
            "area_cm2": opening.area / CM2,
            "centre_mm": opening.centre / MM,
            "mouth_mm": opening.mouth / MM,
        }
        for opening in result.openings
    ]


def drainage(result: Drainage, _study: Study) -> Table:
    """The key `drainage`."""
    return {
        "held_mL": result.held_volume / ML,
        "held_area_cm2": result.held_area / CM2,
        "pools": [_hollow(pool, "bottom", "drain") for pool in result.pools],
        "small_pools": result.small,
    }


def openness(result: Openness, _study: Study) -> Table:
    """The key `openness`."""
    return {
        "min": result.minimum,
        "p5": result.p5,
        "median": result.median,
        "hidden_area_cm2": result.hidden_area / CM2,
        "standard_error": result.error,
    }


def coat(result: CoatResult, _study: Study) -> Table:
    """The key `coat`."""
    return {
        "wires": len(result.wires),
        "worst_drop_V": result.worst_drop,
        "drop_at_mm": result.drop_at / MM,
        "coupled_drop_V": result.coupled_drop,
        "pieces": result.pieces,
        "pieces_without_wire": result.unserved,
        "drop_limit_V": result.drop_limit,
        "wires_needed": result.wires_needed,
        "safe_start_A": result.safe_start,
        "safe_start_reason": reason_text.text(result.safe_reason),
        "steps": [
            {
                "current_A": stage.current,
                "minutes": stage.seconds / MINUTE,
                "covered": stage.covered,
                "spread_mm": stage.spread / MM,
            }
            for stage in result.steps
        ],
        "covered_film_um": COVERED_FILM_M / UM,
        **{
            f"covered_{100 * share:.0f}_min": None if after is None else after / MINUTE
            for share, after in zip(COVERAGE_MILESTONES, result.milestones, strict=True)
        },
        "last_covered_mm": None if result.last_covered is None else np.array(result.last_covered) / MM,
        "covered_after_min": None if result.covered_after is None else result.covered_after / MINUTE,
        "never_covered_triangles": len(result.never_covered),
        "never_covered": [
            {
                "area_cm2": patch.area / CM2,
                "point_mm": np.array(patch.point) / MM,
                "place": words.place_name(patch.place),
            }
            for patch in result.never
        ],
        "dissolved_g": result.dissolved / GRAM,
        "wire_places": [
            {
                "point_mm": wire.point / MM,
                "pad_mm": wire.pad / MM,
                "current_A": wire.current,
                "place": words.place_name(wire.place),
                "suggested": wire.suggested,
                "second_mm": None if wire.second is None else wire.second / MM,
            }
            for wire in result.wires
        ],
        "wire_diameter_mm": result.wire.diameter / MM,
        "wire_gauge": result.wire.gauge,
        "wire_rise_K": result.wire.rise,
        "wire_takes_A": result.wire.takes,
        "heating": None if result.heating is None else _heating(result.heating),
    }


def _heating(heating: Heating) -> Table:
    return {
        "current_A": heating.current,
        "rise_K": heating.rise,
        "temperature_C": heating.temperature - ZERO_CELSIUS,
        "softens_C": heating.softens - ZERO_CELSIUS,
        "limit_A": heating.limit if np.isfinite(heating.limit) else None,
    }


def preparation(result: Preparation, study: Study) -> Table:
    """The key `prepare`."""
    return {
        "growth_um": result.growth / UM,
        "local_growth_um": _local_growth(study),
        "staircase_um": {
            "median": result.median / UM,
            "p95": result.p95 / UM,
            "max": result.maximum / UM,
        },
        "sanding_area_cm2": result.sanding_area / CM2,
        "step_area_ratio": result.step_area_ratio,
        "step_thinning": result.step_thinning,
        **report_fits.orientation(study.results.orientation),
    }


def _local_growth(study: Study) -> list[float] | None:
    """um of coat and deposit where it is thin and where it is thick (5 and 95 % of the area), with their ranges."""
    field, ranges, coat = study.results.field, study.results.ranges, study.job.coat.thickness / UM
    if field is None:
        return None
    ends = field.thickness_spread.p5 / UM, field.thickness_spread.p95 / UM
    if ranges is not None:
        spans = [ranges.get(f"field.thickness_um.{name}") for name in ("p5", "p95")]
        ends = (spans[0][0] if spans[0] else ends[0], spans[1][1] if spans[1] else ends[1])
    return [coat + end for end in ends]


# Column of `report.arrays` -> its value a triangle; None where the analysis has no result
FACES: dict[str, Callable[[Results], ArrayLike | None]] = {
    "openness": lambda results: None if results.openness is None else results.openness.openness,
    "gas": lambda results: None if results.gas is None else results.gas.face,
    "held": lambda results: None if results.drainage is None else results.drainage.face,
    "gas_hung": lambda results: None if results.gas_hung is None else results.gas_hung.face,
    "held_hung": lambda results: None if results.drainage_hung is None else results.drainage_hung.face,
    "density_A_dm2": lambda results: None if results.field is None else results.field.density / A_PER_DM2,
    "thickness_um": lambda results: None if results.field is None else results.field.thickness / UM,
    "coat_drop_V": lambda results: None if results.coat is None else results.coat.drop,
    "staircase_um": lambda results: None if results.preparation is None else results.preparation.staircase / UM,
}
