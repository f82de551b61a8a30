"""Handling of a part besides plating: entry, drag-out, rinses, wear of the bath, polishing. Figures only; reporting
words them. Sources stand at the constants.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .chemistry import bath as baths
from .errors import InputError
from .geometry.frames import unit
from .mesh.surface import Surface
from .trapping.gas import DRAG_OUT_FILM_M
from .units import ML, MM, UM

if TYPE_CHECKING:
    from .chemistry.bath import Recipe
    from .study import Study

ENTRY_DEPTH_M = 5 * MM  # m of the part wetted first on lowering it (common practice, no source)
RINSE_DILUTION = 5000.0  # of the bath left on the part, by the last rinse (common practice, no source: 1000 to 10000)
MIN_RINSES, MAX_RINSES = 2, 5
RINSE_VESSELS_M3 = (0.5e-3, 1e-3, 2e-3, 3e-3, 5e-3, 10e-3, 20e-3, 50e-3, 100e-3)
RINSE_PER_BOX = 1.5  # m3 of rinse water per m3 of the box round the part: it must go under
POLISH_LOSS_M = 10 * UM  # taken off by wet sanding from 600 grit and polishing (common practice, no source)
ACID_PER_BATH_LOST = 0.1  # share of its acid that a bath may lose before it is topped up (common practice, no source)
# kg of metal in a kg of the salt, from atomic weights (CIAAW, from memory)
METAL_SHARE = {
    "copper sulfate pentahydrate": 63.546 / 249.685,
    "nickel sulfate hexahydrate": 58.6934 / 262.848,
    "nickel chloride hexahydrate": 58.6934 / 237.690,
    "nickel sulfamate tetrahydrate": 58.6934 / 322.93,
}


@dataclass(frozen=True)
class Handling:
    """SI; for all copies on the supply together, but `entry_current` and `worn_share`, which are of one part.

    entry_current : A that the first wetted `ENTRY_DEPTH_M` bear at the top of the bath's range
    carried_out : m3 of bath that one lift carries out, as a film and in hollows
    rinses : how many, each in fresh water, which all copies share; rinse_volume : m3 of each
    acid, metal : kg that go out with it; first_rinse_metal : kg/m3 in the first rinse afterwards
    batch : m3 of bath; lifts : lifts after which a tenth of it has been carried out
    additive : m3 that the charge uses up; additive_charge : C in which a milliliter is used up
    metal_gain : kg that the bath gains, where anodes dissolve faster than metal
        is deposited
    worn_share : 0..1 of the plated area that polishing takes to the coat; None where no thickness was computed
    """

    entry_current: float
    carried_out: float
    rinses: int
    rinse_volume: float
    acid: float
    metal: float
    first_rinse_metal: float
    batch: float
    lifts: float
    additive: float
    additive_charge: float
    metal_gain: float
    worn_share: float | None


def of_study(study: Study) -> Handling | None:
    """The handling of a study's part; None without a deposit, or where the bath's table cannot be read."""
    deposit, surface, job = study.results.deposit, study.surface, study.job_used
    if deposit is None:
        return None
    try:
        recipe = baths.recipe(job.bath)
    except InputError:
        return None
    drainage, field = study.drainage_as_hung, study.results.field
    held = 0.0 if drainage is None else drainage.held_volume
    carried = deposit.copies * (DRAG_OUT_FILM_M * float(surface.wet_area.sum()) + held)
    water = rinse_volume(surface)
    content = {item.name: item.content for item in recipe.ingredients}
    metal = carried * _metal_content(recipe)
    batch = baths.batch_volume(job.batch, job.tank)
    return Handling(
        entry_current=job.bath.window[1] * first_wetted(surface, study.hung.part.up),
        carried_out=carried,
        rinses=rinses(carried, water),
        rinse_volume=water,
        acid=carried * content.get(baths.ACID, 0.0),
        metal=metal,
        first_rinse_metal=metal / (water + carried),
        batch=batch,
        lifts=ACID_PER_BATH_LOST * batch / carried,
        additive=baths.brightener(recipe, deposit.copies * deposit.charge),
        additive_charge=ML / recipe.brightener if recipe.brightener > 0 else math.inf,
        metal_gain=deposit.copies * deposit.mass * (1.0 / deposit.efficiency - 1.0),
        worn_share=None if field is None else worn(surface, field.thickness),
    )


def first_wetted(surface: Surface, up: ArrayLike) -> float:
    """m2 of plated surface within `ENTRY_DEPTH_M` of the lowest point, a triangle by the share of its height."""
    height = surface.corners @ unit(up)
    low, high = height.min(axis=1), height.max(axis=1)
    floor = float(low[surface.plated_area > 0].min()) if surface.plated_area.any() else 0.0
    share = np.clip((floor + ENTRY_DEPTH_M - low) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    return float(surface.plated_area @ share)


def rinse_volume(surface: Surface) -> float:
    """m3 of a rinse: the smallest usual vessel whose water takes the part under."""
    box = RINSE_PER_BOX * float(np.ptp(surface.bounds, axis=0).prod())
    return next((vessel for vessel in RINSE_VESSELS_M3 if vessel >= box), box)


def rinses(carried: float, water: float) -> int:
    """How many rinses of `water` m3 thin `carried` m3 to `RINSE_DILUTION`: each to carried over the whole."""
    if not carried > 0:
        return MIN_RINSES
    dilution = (water + carried) / carried
    return min(max(math.ceil(math.log(RINSE_DILUTION) / math.log(dilution)), MIN_RINSES), MAX_RINSES)


def worn(surface: Surface, thickness: NDArray[np.float64]) -> float:
    """Share of the plated area whose deposit (m,) m is thinner than `POLISH_LOSS_M`."""
    area = surface.plated_area
    return float(area[thickness < POLISH_LOSS_M].sum() / max(float(area.sum()), 1e-300))


def _metal_content(recipe: Recipe) -> float:
    """kg/m3 of metal in the bath."""
    return sum(item.content * METAL_SHARE.get(item.name, 0.0) for item in recipe.ingredients)
