"""Parameters that give products with the layers to a wanted error: interpolation order, compression, quadrature."""

from __future__ import annotations

from typing import NamedTuple

from .quadrature import Zones


class Setting(NamedTuple):
    """What gives products with S to `error`: Chebyshev points an axis, tolerance of their compression, quadrature."""

    error: float
    order: int
    tolerance: float
    zones: Zones


SETTINGS = (
    Setting(1e-3, 4, 3e-4, Zones(1.5, 2.5)),
    Setting(1e-4, 5, 1e-5, Zones(1.7, 3.0)),
    Setting(1e-5, 7, 1e-6, Zones(2.5, 5.0)),
)


def setting_for(accuracy: float) -> Setting:
    """The cheapest setting whose error is at most this, or the finest that there is."""
    return next((setting for setting in SETTINGS if accuracy >= setting.error), SETTINGS[-1])
