"""A coat whose network is known, beside the panels: what it loses where the liquid shunts it everywhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from .panels import Panels
from .pieces import Array, Ints


@runtime_checkable
class Network(Protocol):
    """What a coat loses on the pieces of a part, V (p,), where piece i collects conductance x (volts - lost), A/m2 on
    one side, of the piece twin[i].

    conductance : (p,) S/m2, zero where nothing is collected; twin : (p,); volts : (p,) V
    """

    def shunted(self, conductance: Array, twin: Ints, volts: Array) -> Array:
        """For volts (p,), once."""
        ...

    def shunting(self, conductance: Array, twin: Ints) -> Callable[[Array], Array]:
        """For any volts (p,): dearer, and then cheap."""
        ...


@dataclass(frozen=True, eq=False)
class OnPanels:
    """The same of all panels, (n,), where the first copy of the part stands for all of them: a `problem.Shunt`.

    coated : (n,) bool, the panels of the part
    """

    network: Network
    panels: Panels
    coated: NDArray[np.bool_]

    def shunted(self, conductance: Array, volts: Array) -> Array:
        """(n,) V lost for volts (n,), where panels collect conductance (n,) x (volts - lost), A/m2 of all sides."""
        return self.on_panels(self.network.shunted(*self._pieces(conductance), self._first(volts)))

    def shunting(self, conductance: Array) -> Callable[[Array], Array]:
        """The same for any volts (n,)."""
        lost = self.network.shunting(*self._pieces(conductance))
        return lambda volts: self.on_panels(lost(self._first(volts)))

    def on_panels(self, lost: Array) -> Array:
        """(n,) V of the panels of every copy of the part, from those of its pieces (p,)."""
        out = np.zeros(len(self.coated))
        for rows in self.panels.bodies[: len(self.panels.arrangement.poses)]:
            out[rows] = lost
        return np.where(self.coated, out, 0.0)

    def _pieces(self, conductance: Array) -> tuple[Array, Ints]:
        """Of one side of the first copy's pieces, (p,), and whose each is."""
        rows = self.panels.bodies[0]
        return np.where(self.coated, conductance, 0.0)[rows] / self.panels.sides[rows], self.panels.part.twin

    def _first(self, value: Array) -> Array:
        return value[self.panels.bodies[0]]
