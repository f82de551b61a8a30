"""Growth of the metal over the coat: which patches are covered, since when, and how far from the wires."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.quantiles import weighted_quantiles
from ..linalg.sparse import Vector
from .film import COVERED_FILM_M
from .spread import Spread

COVERAGE_MILESTONES = (0.5, 0.9, 0.99)  # shares of the plated area whose coverage times are reported
SPREAD_SHARE = 0.95  # of the covered area: the metal's spread is the distance that contains it


@dataclass(eq=False)
class Covering:
    """Of the patches that wires reach. thick : (n,) m; closed_at : (n,) s, when each patch was covered, inf if not yet

    total : m2 of all plated patches, also of those that no wire reaches
    """

    wired: Spread
    thick: Vector
    closed_at: Vector
    total: float

    @classmethod
    def of(cls, spread: Spread, film: float) -> Covering:
        """The coat with an even film, m, that was there before the current."""
        count = len(spread.area)
        at = np.full(count, 0.0 if film > 0 else math.inf)
        return cls(spread, np.full(count, film), at, float(spread.patches.area.sum()))

    @property
    def closed(self) -> NDArray[np.bool_]:
        """(n,) whether each patch is covered."""
        return np.isfinite(self.closed_at)

    @property
    def share(self) -> float:
        """0..1 of the plated area."""
        return float(self.wired.area[self.closed].sum()) / self.total

    def grow(self, rate: Vector, now: float, time: float) -> None:
        """The film after `time` more seconds from `now` on. rate : (n,) m/s"""
        thicker = self.thick + rate * time
        newly = ~self.closed & (thicker >= COVERED_FILM_M)
        self.closed_at[newly] = now + (COVERED_FILM_M - self.thick[newly]) / rate[newly]
        self.thick = thicker

    @property
    def film(self) -> Vector:
        """(n,) meters on each patch of the coat, 0 where no wire reaches."""
        full = np.zeros(len(self.wired.patches.area))
        full[self.wired.own] = self.thick
        return full

    @property
    def covered_after(self) -> float | None:
        """s until all coat that a wire reaches is covered; None if not yet."""
        after = float(self.closed_at.max())
        return after if math.isfinite(after) else None

    def milestones(self) -> tuple[float | None, ...]:
        """s until each of COVERAGE_MILESTONES of the plated area was covered; None if not yet."""
        order = np.argsort(self.closed_at, kind="stable")
        share = np.cumsum(self.wired.area[order]) / self.total
        times: list[float | None] = []
        for wanted in COVERAGE_MILESTONES:
            first = int(np.searchsorted(share, wanted * (1 - 1e-9)))
            at = float(self.closed_at[order[first]]) if first < len(order) else math.inf
            times.append(at if math.isfinite(at) else None)
        return tuple(times)

    def last(self) -> tuple[float, float, float] | None:
        """(3,) m, the middle of the patch that was covered last, or is thinnest; None where all were from the start."""
        if not self.closed_at.max() > 0:
            return None
        late = self.thick.argmin() if not self.closed.all() else self.closed_at.argmax()
        x, y, z = (float(value) for value in self.wired.patches.middle[self.wired.own[late]])
        return x, y, z

    def spread(self) -> float:
        """m from the nearest wire within which SPREAD_SHARE of what is covered lies; 0 where nothing is."""
        if not self.closed.any():
            return 0.0
        pads = np.array([pad.centre for pad in self.wired.pads])
        middle = self.wired.patches.middle[self.wired.own][self.closed]
        away = np.linalg.norm(middle[:, None] - pads, axis=2).min(axis=1)
        return float(weighted_quantiles(away, self.wired.area[self.closed], [SPREAD_SHARE])[0])
