"""The report's sections on what stands on the bench: the tank and its anodes, the bath and its additions."""

from __future__ import annotations

from typing import Any, TypeAlias

from ..chemistry import bath as baths
from ..chemistry.mixing import Procedure
from ..errors import InputError
from ..handling import Handling
from ..schedule import Schedule
from ..study import Study
from ..tank.summary import summary
from ..units import AMPERE_HOUR, GRAM, GRAM_PER_ML, HOUR, LITER, MINUTE, ML, MM, ZERO_CELSIUS

Table: TypeAlias = dict[str, Any]


def tank(study: Study) -> Table:
    """The tank as used, and the anodes that are assumed in it."""
    summarized = summary(study.surface, study.in_tank, study.bodies)
    bounded = summarized.shape in ("box", "cylinder")
    return {
        "assumed": summarized.assumed,
        "vessel": summarized.vessel,
        "shape": summarized.shape,
        "size_mm": [length / MM for length in summarized.size] if bounded else None,
        "level_mm": None if summarized.shape == "open" else summarized.level / MM,
        "plates_on": summarized.plates_on,
        "volume_L": None if summarized.volume is None else summarized.volume / LITER,
        "assumed_anodes": [
            {
                "name": plate.name,
                "plate_mm": [side / MM for side in plate.size],
                "centre_mm": [part / MM for part in plate.centre],
                "distance_mm": plate.distance / MM,
            }
            for plate in summarized.plates
        ],
    }


def bath(study: Study) -> Table | None:
    """Every value of the bath's entry with its source; None where the table cannot be read."""
    job = study.job
    try:
        return {"name": job.bath.name, "entry": {key: dict(cell) for key, cell in baths.sources(job.bath).items()}}
    except InputError:
        return None


def additions(recipe: baths.Recipe, volume: float) -> list[Table]:
    """What goes into the finished bath, for a batch of `volume` m3."""
    return [
        {
            "substance": addition.substance,
            "amount": addition.amount / (ML if addition.liquid else GRAM),
            "unit": "mL" if addition.liquid else "g",
        }
        for addition in baths.additions(recipe, volume)
    ]


def ranges_from(study: Study) -> Table | None:
    """The inputs varied for the ranges of the current distribution, and the errors they leave out."""
    ranges = study.results.ranges
    if ranges is None or ranges.conductivity is None:
        return None
    return {
        "conductivity_S_m": list(ranges.conductivity),
        "transfer": None if ranges.transfer is None else list(ranges.transfer),
        "left_out": list(ranges.left_out),
    }


def schedule(timetable: Schedule) -> Table:
    """The currents to set, for all parts on the supply."""
    return {
        "steps": [
            {
                "current_A": step.current,
                "minutes": step.time / MINUTE,
                "charge_Ah": step.charge / AMPERE_HOUR,
                "covered": step.covered,
                "spread_mm": None if step.spread is None else step.spread / MM,
            }
            for step in timetable.steps
        ],
        "charge_Ah": timetable.charge / AMPERE_HOUR,
        "time_h": timetable.time / HOUR,
        "full_current_A": timetable.full_current,
        "wanted_current_A": timetable.wanted_current,
        "limited_by": timetable.limited_by or None,
    }


def handling(rules: Handling) -> Table:
    """Handling of the part besides plating."""
    return {
        "entry_current_A": rules.entry_current,
        "carried_out_mL": rules.carried_out / ML,
        "rinses": rules.rinses,
        "rinse_volume_L": rules.rinse_volume / LITER,
        "acid_carried_out_g": rules.acid / GRAM,
        "metal_carried_out_g": rules.metal / GRAM,
        "first_rinse_metal_g_L": rules.first_rinse_metal,
        "lifts_per_tenth_of_bath": rules.lifts,
        "additive_mL": rules.additive / ML,
        "metal_gain_g": rules.metal_gain / GRAM,
        "worn_share": rules.worn_share,
    }


def mix(batch: baths.Mix, procedure: Procedure) -> Table:
    """How the batch is mixed, step by step; amounts of liquids in mL, of solids in g."""
    cold = procedure.crystallizes_below
    return {
        "volume_L": procedure.volume / LITER,
        "vessel_L": procedure.vessel / LITER,
        "density_g_mL": batch.density / GRAM_PER_ML,
        "crystallizes_below_C": None if cold is None else cold - ZERO_CELSIUS,
        "steps": [
            {
                "action": step.action.value,
                "substance": step.substance,
                "amount": step.amount / (ML if step.liquid else GRAM),
                "unit": "mL" if step.liquid else "g",
                "temperature_C": step.temperature - ZERO_CELSIUS,
                "saturation": step.saturation,
                "volume_L": step.volume / LITER,
            }
            for step in procedure.steps
        ],
    }
