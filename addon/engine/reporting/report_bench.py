"""The report's rooms of what stands on the bench: the tank and its anodes, the bath and what is added to it."""

from __future__ import annotations

from typing import Any, TypeAlias

from ..chemistry import bath as baths
from ..errors import InputError
from ..study import Study
from ..tank.summary import summary
from ..units import GRAM, LITER, ML, MM

Table: TypeAlias = dict[str, Any]


def tank(study: Study) -> Table:
    """The tank as used, and the anodes that are assumed in it."""
    found = summary(study.surface, study.in_tank)
    bounded = found.shape in ("box", "cylinder")
    return {
        "assumed": found.assumed,
        "vessel": found.vessel,
        "shape": found.shape,
        "size_mm": [length / MM for length in found.size] if bounded else None,
        "level_mm": None if found.shape == "open" else found.level / MM,
        "volume_L": None if found.volume is None else found.volume / LITER,
        "assumed_anodes": [
            {
                "name": plate.name,
                "plate_mm": [side / MM for side in plate.size],
                "centre_mm": [part / MM for part in plate.centre],
                "distance_mm": plate.distance / MM,
            }
            for plate in found.plates
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
            "substance": one.substance,
            "amount": one.amount / (ML if one.liquid else GRAM),
            "unit": "mL" if one.liquid else "g",
        }
        for one in baths.additions(recipe, volume)
    ]


def ranges_from(study: Study) -> Table | None:
    """What was varied for the ranges of the current distribution, and what no range reckons with."""
    found = study.results.ranges
    if found is None or found.conductivity is None:
        return None
    return {
        "conductivity_S_m": list(found.conductivity),
        "transfer": None if found.transfer is None else list(found.transfer),
        "left_out": list(found.left_out),
    }
