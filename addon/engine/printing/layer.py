"""The thickness of coat and deposit on each face, and its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.quantiles import weighted_quantiles
from ..mesh.surface import Surface

Array = NDArray[np.float64]
Span = tuple[float, float]

TAIL_SHARE = 0.05  # of the area, at the thin and at the thick end, that ranges leave out


@dataclass(frozen=True, eq=False)
class Layer:
    """Coat and deposit; none on faces that are not plated.

    mean : (m,) m on each triangle; deposit : (m,) m of it
    span : how far the deposit may be off, times it, low and high
    local : whether the deposit is the computed one, not the wanted mean everywhere
    """

    mean: Array
    deposit: Array
    span: Span
    local: bool

    @classmethod
    def of(
        cls, surface: Surface, coat: float, wanted: float, deposit: Array | None = None, span: Span = (1.0, 1.0)
    ) -> Layer:
        """coat, wanted : m of the coat, and of the mean deposit; deposit : (m,) m as computed, None: the wanted one
        everywhere, with no range"""
        on = surface.plated_area > 0
        metal = np.where(on, wanted if deposit is None else deposit, 0.0)
        return cls(np.where(on, coat, 0.0) + metal, metal, (1.0, 1.0) if deposit is None else span, deposit is not None)

    def on(self, surface: Surface, faces: NDArray[np.integer]) -> Span:
        """m, low and high of the layer on some faces, of all but their thinnest and thickest `TAIL_SHARE`."""
        ends = weighted_quantiles(self.deposit[faces], surface.area[faces], (TAIL_SHARE, 1.0 - TAIL_SHARE))
        coat = self.average(surface, faces) - float(surface.area[faces] @ self.deposit[faces]) / self._area(
            surface, faces
        )
        return coat + self.span[0] * float(ends[0]), coat + self.span[1] * float(ends[1])

    def average(self, surface: Surface, faces: NDArray[np.integer]) -> float:
        """m, the mean over the area of some faces."""
        return float(surface.area[faces] @ self.mean[faces]) / self._area(surface, faces)

    @staticmethod
    def _area(surface: Surface, faces: NDArray[np.integer]) -> float:
        return max(float(surface.area[faces].sum()), 1e-300)
