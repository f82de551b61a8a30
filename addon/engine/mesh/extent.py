"""Whether a model's size and position can be computed at all. Checked once, before anything else."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..geometry.triangles import bounds
from ..units import LENGTH, MM, in_m_or_mm
from .faults import MAX_USUAL_M, MIN_USUAL_M, USUAL
from .part import Part
from .weld import ULP

MIN_LENGTH_M, MAX_LENGTH_M = 0.01 * MM, 10.0
MAX_STEP_OVER_LENGTH = 0.01  # between neighboring coordinates in single precision, over the longest side


def check(part: Part, unit: str | None = None) -> None:
    """Raises InputError, one sentence with the remedy, where the longest side is out of `MIN_LENGTH_M`..`MAX_LENGTH_M`
    or where the model is so far from the origin that single-precision files cannot resolve it.

    unit : what one unit of the file was read as, of `units.LENGTH`; None where that was no choice
    """
    box = bounds(part.points)
    if not _usual(*box):  # unused points do not matter
        box = bounds(part.points[np.unique(part.triangles)])
    if _usual(*box):
        return
    low, high = box
    longest, furthest = float((high - low).max()), float(np.abs(box).max())
    if longest == 0:
        raise InputError(filled("{name}: no face has an area; choose a mesh with a surface", name=part.name))
    if longest > MAX_LENGTH_M:
        raise InputError(
            _refused(
                part.name,
                longest,
                unit,
                "{name}: the model is {length} long, and more than 10 m is not computed; check its unit and scale, and"
                " export it again",
                "{name}: the model is {length} long, and more than 10 m is not computed: if its unit is {unit}, say"
                " {part.unit} = '{unit}', and it is {usual} long",
            )
        )
    if longest < MIN_LENGTH_M * (1.0 - ULP):
        raise InputError(
            _refused(
                part.name,
                longest,
                unit,
                "{name}: the model is {length} long, and less than 0.01 mm is not computed; check its unit and scale,"
                " and export it again",
                "{name}: the model is {length} long, and less than 0.01 mm is not computed: if its unit is {unit}, say"
                " {part.unit} = '{unit}', and it is {usual} long",
            )
        )
    raise InputError(
        filled(
            "{name}: the model lies {length} from the origin, where files keep steps of {step}, too"
            " coarse for its {size}; move it to the origin and export it again",
            name=part.name,
            length=in_m_or_mm(furthest),
            step=in_m_or_mm(furthest * ULP),
            size=in_m_or_mm(longest),
        )
    )


def _usual(low: NDArray[np.float64], high: NDArray[np.float64]) -> bool:
    longest, furthest = float((high - low).max()), float(max(np.abs(low).max(), np.abs(high).max()))
    return MIN_LENGTH_M * (1.0 - ULP) <= longest <= MAX_LENGTH_M and furthest * ULP <= MAX_STEP_OVER_LENGTH * longest


def _refused(name: str, longest: float, unit: str | None, plain: str, other_unit: str) -> str:
    """plain, other_unit : what to say where no unit makes it a usual part, and where one does"""
    sizes = {other: longest / LENGTH[unit] * meters for other, meters in LENGTH.items()} if unit in LENGTH else {}
    likely = [other for other, size in sizes.items() if MIN_USUAL_M <= size <= MAX_USUAL_M]
    if not likely:
        return filled(plain, name=name, length=in_m_or_mm(longest))
    other = min(likely, key=lambda unit: abs(math.log(sizes[unit] / USUAL)))
    return filled(other_unit, name=name, length=in_m_or_mm(longest), unit=other, usual=in_m_or_mm(sizes[other]))
