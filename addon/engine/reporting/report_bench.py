"""The report's rooms of what stands on the bench: the tank and its anodes."""

from __future__ import annotations

from typing import Any, TypeAlias

from ..study import Study
from ..tank.summary import summary
from ..units import LITER, MM

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
