"""The report's keys shared by all printed helpers: the solid, and the deposit that it shades."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ..units import CM2, CM3, GRAM, MM, UM

if TYPE_CHECKING:
    from ..helpers.shade import Shade

Table = dict[str, Any]


class PrintedSolid(Protocol):
    """points : (n, 3) m; volume : m3; mass : kg; plastic : its name"""

    @property
    def points(self) -> NDArray[np.float64]:
        """(n, 3) m."""
        ...

    @property
    def volume(self) -> float:
        """m3."""
        ...

    @property
    def mass(self) -> float:
        """kg."""
        ...

    @property
    def plastic(self) -> str:
        """Its name in the table of plastics."""
        ...


def solid(kind: str, printed: PrintedSolid, up: NDArray[np.float64]) -> Table:
    """The keys that all helpers have which fit the part. up : (3,) the way up on the printer"""
    return {
        "kind": kind,
        "file": None,
        "bounds_mm": np.array([printed.points.min(axis=0), printed.points.max(axis=0)]) / MM,
        "volume_cm3": printed.volume / CM3,
        "mass_g": printed.mass / GRAM,
        "plastic": printed.plastic,
        "print_up": up,
    }


def shade_of(shade: Shade | None) -> Table:
    """The deposit that a helper shades; null where not computed."""
    return {
        "shaded_area_cm2": None if shade is None else shade.area / CM2,
        "thinnest_um": None if shade is None else shade.thinnest / UM,
        "thinnest_before_um": None if shade is None else shade.thinnest_before / UM,
    }
