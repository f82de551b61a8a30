"""How an electrode's overpotential rises with current density.

Both electrodes are described alike. j is the current density that flows from the liquid into the electrode
(positive at a cathode, negative at an anode) and eta = phi(liquid) - phi(metal), less its value at rest; so
eta has the sign of j, and the metal of a cathode lies eta below the liquid beside it.

    none     eta = 0                          primary distribution
    linear   eta = R j
    tafel    eta = b asinh(j / (2 i0))        b = R T / (alpha F)

The last is Tafel's line eta = b ln(j / i0) with the reverse reaction that keeps it finite at rest: a
hundredth of b apart at j = 10 i0, and less by the square of j / i0 beyond. Source: J. Newman and K. E.
Thomas-Alyea, Electrochemical Systems, 3rd ed. (2004), ch. 8 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Protocol

import numpy as np
from numpy.typing import NDArray

from .faraday import FARADAY
from .job import Kinetics

GAS = 8.314462618  # J/(mol K), exact since the SI of 2019

Array = NDArray[np.float64]


class Law(Protocol):
    """Overpotential of an electrode. Arrays of any one shape; A/m2, V, ohm m2. bent : whether eta is not
    linear in j
    """

    @property
    def bent(self) -> bool: ...

    def overpotential(self, j: Array) -> Array:
        """eta(j), V."""
        ...

    def resistance(self, j: Array) -> Array:
        """d eta / dj, ohm m2."""
        ...

    def density(self, eta: Array) -> Array:
        """j(eta), A/m2: the inverse of `overpotential`."""
        ...


@dataclass(frozen=True)
class Linear:
    """eta = polarisation j; polarisation in ohm m2, zero for the primary distribution."""

    polarisation: float = 0.0
    bent: ClassVar[bool] = False

    def overpotential(self, j: Array) -> Array:
        return self.polarisation * j

    def resistance(self, j: Array) -> Array:
        return np.full(np.shape(j), self.polarisation)

    def density(self, eta: Array) -> Array:
        if self.polarisation == 0.0:
            raise ZeroDivisionError("without overpotential the current density is not a function of it")
        return eta / self.polarisation


@dataclass(frozen=True)
class Tafel:
    """eta = slope asinh(j / (2 exchange)); slope in V an e-fold, exchange current density in A/m2."""

    exchange: float
    slope: float
    bent: ClassVar[bool] = True

    def overpotential(self, j: Array) -> Array:
        return self.slope * np.arcsinh(j / (2.0 * self.exchange))

    def resistance(self, j: Array) -> Array:
        return self.slope / np.hypot(j, 2.0 * self.exchange)

    def density(self, eta: Array) -> Array:
        return 2.0 * self.exchange * np.sinh(eta / self.slope)


def law(section: Kinetics, temperature: float) -> Linear | Tafel:
    """The law that a job asks for, at a temperature in K."""
    if section.kind == "none":
        return Linear(0.0)
    if section.kind == "linear":
        return Linear(section.resistance)
    return Tafel(section.exchange, GAS * temperature / (section.transfer * FARADAY))
