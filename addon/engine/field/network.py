"""A coat with a known network, shunted by the liquid everywhere, for coupling to the panels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from .panels import Panels
from .pieces import Array


@runtime_checkable
class Network(Protocol):
    """The voltage drop of a coat on the pieces of a part."""

    def shunted(self, conductance: Array) -> Callable[[Array], Array]:
        """V lost (p,) for any volts (p,), where each piece collects conductance x (volts - lost), A/m2 on one side, of
        the piece whose density it has; conductance : (p,) S/m2, zero where nothing is collected."""
        ...


@dataclass(frozen=True, eq=False)
class OnPanels:
    """The same of all panels, (n,), where the first copy of the part stands for all of them: a `problem.Shunt`.

    coated : (n,) bool, the panels of the part
    """

    network: Network
    panels: Panels
    coated: NDArray[np.bool_]

    def shunted(self, conductance: Array) -> Callable[[Array], Array]:
        """(n,) V lost for any volts (n,), where panels collect conductance (n,) x (volts - lost), A/m2 of all sides."""
        rows = self.panels.bodies[0]
        lost = self.network.shunted(np.where(self.coated, conductance, 0.0)[rows] / self.panels.sides[rows])
        return lambda volts: self.on_panels(lost(volts[rows]))

    def on_panels(self, lost: Array) -> Array:
        """(n,) V of the panels of every copy of the part, from those of its pieces (p,)."""
        out = np.zeros(len(self.coated))
        for rows in self.panels.bodies[: len(self.panels.arrangement.poses)]:
            out[rows] = lost
        return np.where(self.coated, out, 0.0)
