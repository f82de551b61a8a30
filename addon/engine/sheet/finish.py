"""Colors of a part at each stage: plastic, coat, finished metal; and of its thickness map."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from .. import color
from ..field.result import Flag
from ..study import Study
from ..units import UM
from .page import Color

# Display colors as the eye takes them, common practice, no source; a coat by a word of its name
METALS: Mapping[str, Color] = {"copper": (0.86, 0.52, 0.38), "nickel": (0.80, 0.77, 0.70)}
COATS: Mapping[str, Color] = {
    "copper": (0.55, 0.36, 0.28),
    "silver": (0.66, 0.66, 0.68),
    "graphite": (0.24, 0.24, 0.25),
    "zinc": (0.55, 0.57, 0.60),
    "nickel": (0.45, 0.44, 0.42),
}
PLASTIC, PLAIN_METAL, PLAIN_COAT = (0.90, 0.89, 0.86), (0.75, 0.75, 0.75), (0.35, 0.35, 0.35)
METAL_GLOSS = {"bright": 0.45, "satin": 0.14, "patina": 0.10}  # white added where a finish mirrors the light
PATINAS: Mapping[str, Color] = {"copper": (0.22, 0.13, 0.10)}  # patina: darkens sheltered places
PLAIN_PATINA = (0.20, 0.20, 0.21)
PATINA_WEAR_EXPONENT = 2.0  # of the open share: how fast a hand rubs a patina back, common practice, no source


def metal_color(metal: str) -> Color:
    """The display color of a metal by its name."""
    return METALS.get(metal, PLAIN_METAL)


def patina_color(metal: str) -> Color:
    """The display color of a metal's patina in sheltered places."""
    return PATINAS.get(metal, PLAIN_PATINA)


def coat_color(coat: str) -> Color:
    """The display color of a coat by a word of its name."""
    return next((tint for name, tint in COATS.items() if name in coat), PLAIN_COAT)


def finish_colors(study: Study) -> NDArray[np.float64]:
    """(m, 3) the color of each face when finished: metal, coat where it stays bare, plastic where it is not plated."""
    field, surface = study.results.field, study.surface
    assert field is not None
    name = study.job_used.bath.metal
    tint = np.tile(metal_color(name), (len(surface.triangles), 1))
    if study.job.sheet.finish == "patina":
        seen = study.results.openness
        open_to = np.full(len(tint), 0.5) if seen is None else np.clip(np.nan_to_num(seen.openness, nan=0.5), 0.0, 1.0)
        dark = np.array(patina_color(name))
        tint = dark + open_to[:, None] ** PATINA_WEAR_EXPONENT * (
            tint - dark
        )  # the patina is rubbed off where a hand reaches
    tint[field.flag == Flag.BARE] = coat_color(study.job_used.coat.name)
    tint[~surface.plated] = PLASTIC
    return tint


def map_limits(study: Study) -> tuple[float, float]:
    """The thickness at the dark and at the light end of the map, meters."""
    field = study.results.field
    assert field is not None
    low, high = color.limits(np.where(study.surface.plated, field.thickness, np.nan), study.surface.plated_area)
    return low, max(high, low + 1e-3 * UM)


def map_kinds(study: Study) -> NDArray[np.intp]:
    """(m,) of the faces among which the map's color runs smoothly: plated ones, and those without a thickness."""
    return study.surface.plated.astype(np.intp)


def map_colors(study: Study) -> NDArray[np.float64]:
    """(m, 3) display colors of the thickness on each face."""
    field = study.results.field
    assert field is not None
    values = np.where(study.surface.plated, field.thickness, np.nan)
    return np.clip(color.encoded(color.ramp(color.shares(values, *map_limits(study)))), 0.0, 1.0)
