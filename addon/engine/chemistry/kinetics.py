"""How an electrode's overpotential rises with current density.

The same description serves both electrodes. j is the current density that flows from the liquid into the electrode
(positive at a cathode, negative at an anode) and eta = phi(liquid) - phi(metal), less its value at rest; so
eta has the sign of j, and the metal of a cathode lies eta below the liquid beside it.

    none             eta = 0                                          primary distribution
    linear           eta = R j
    tafel            eta = b asinh(j / (2 i0))                        b = R T / (alpha F)
    butler-volmer    j = i0 (exp(eta / bc) - exp(-eta / ba))          bc, ba from either transfer coefficient

Tafel's line eta = b ln(j / i0) is kept finite at rest by an equal reverse reaction: a hundredth of b apart at
j = 10 i0, and less by the square of j / i0 beyond. The last has the reverse reaction's own slope; with equal
ones it is the third. Source: J. Newman and K. E. Thomas-Alyea, Electrochemical Systems, 3rd ed. (2004), ch. 8
(from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Protocol

import numpy as np
from numpy.typing import NDArray

from ..faraday import FARADAY
from ..settings.bath import Bath, Kinetics

GAS_CONSTANT = 8.314462618  # J/(mol K), exact since the SI of 2019

Array = NDArray[np.float64]

MAX_EXPONENT = 300.0  # of exp and sinh: products of two stay below the largest double, exp(709)
_TURNS, _CLOSE = 30, 1e-13  # most Newton steps, and the relative step that ends them


class Law(Protocol):
    """Overpotential of an electrode. Arrays of any one shape; A/m2, V, ohm m2. is_nonlinear :
    whether eta is not linear in j; e_fold : V in which the density grows e-fold far from rest, inf where it is linear
    """

    @property
    def is_nonlinear(self) -> bool:
        """Whether eta is not linear in j."""
        ...

    @property
    def e_fold(self) -> float:
        """V in which the density grows e-fold far from rest; inf where the law is linear."""
        ...

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
    """eta = polarization j; polarization in ohm m2, zero for the primary distribution."""

    polarization: float = 0.0
    is_nonlinear: ClassVar[bool] = False
    e_fold: ClassVar[float] = math.inf

    def overpotential(self, j: Array) -> Array:
        """eta = R j, V."""
        return self.polarization * j

    def resistance(self, j: Array) -> Array:
        """R, ohm m2, at every density."""
        return np.full(np.shape(j), self.polarization)

    def density(self, eta: Array) -> Array:
        """As of a `Law`. Raises ZeroDivisionError where there is no overpotential."""
        if self.polarization == 0.0:
            raise ZeroDivisionError("without overpotential the current density is not a function of it")
        return eta / self.polarization


@dataclass(frozen=True)
class Tafel:
    """eta = slope asinh(j / (2 exchange)); slope in V an e-fold, exchange current density in A/m2."""

    exchange: float
    slope: float
    is_nonlinear: ClassVar[bool] = True

    @property
    def e_fold(self) -> float:
        """V, the slope b."""
        return self.slope

    def overpotential(self, j: Array) -> Array:
        """eta = b asinh(j / (2 i0)), V."""
        return self.slope * np.arcsinh(j / (2.0 * self.exchange))

    def resistance(self, j: Array) -> Array:
        """d eta / dj = b / sqrt(j^2 + 4 i0^2), ohm m2."""
        return self.slope / np.hypot(j, 2.0 * self.exchange)

    def density(self, eta: Array) -> Array:
        """j = 2 i0 sinh(eta / b), A/m2."""
        return 2.0 * self.exchange * np.sinh(_exponent(eta / self.slope))


@dataclass(frozen=True)
class ButlerVolmer:
    """j = exchange (exp(eta / cathodic) - exp(-eta / anodic)); exchange in A/m2, slopes in V an e-fold."""

    exchange: float
    cathodic: float
    anodic: float
    is_nonlinear: ClassVar[bool] = True

    @property
    def e_fold(self) -> float:
        """V, of the steeper of the two branches."""
        return min(self.cathodic, self.anodic)

    def overpotential(self, j: Array) -> Array:
        """Newton's method on J = exp(u) - exp(-r u) for u, in e-folds of the branch that j is on."""
        flow = np.abs(np.asarray(j, dtype=float)) / self.exchange
        own = np.where(np.asarray(j) < 0.0, self.anodic, self.cathodic)
        other = own / (self.cathodic + self.anodic - own)
        u = np.log1p(
            flow
        )  # never too small; where the curve is concave the first step undershoots and the others ascend
        for _ in range(_TURNS):
            ahead, back = np.exp(u), np.exp(-other * u)
            step = (np.expm1(u) - np.expm1(-other * u) - flow) / (ahead + other * back)
            u = np.maximum(u - step, 0.0)
            if not (np.abs(step) > _CLOSE * u).any():
                break
        return np.copysign(own * u, j)

    def resistance(self, j: Array) -> Array:
        """d eta / dj, ohm m2: one over the slope of j(eta)."""
        eta = self.overpotential(j)
        ahead, back = np.exp(_exponent(eta / self.cathodic)), np.exp(_exponent(-eta / self.anodic))
        return 1.0 / (self.exchange * (ahead / self.cathodic + back / self.anodic))

    def density(self, eta: Array) -> Array:
        """j(eta), A/m2, in closed form."""
        # the difference of the two as one product: nothing is lost near rest
        rate = 1.0 / self.cathodic + 1.0 / self.anodic
        back = np.exp(_exponent(-eta / self.anodic))
        return self.exchange * back * np.expm1(_exponent(eta * rate))


def density_behind(law: Law, volts: Array, resistance: Array) -> Array:
    """(n,) A/m2 with eta(j) + resistance j = volts: the current density that a voltage drives through kinetics and a
    series resistance.

    law : nonlinear; volts : (n,) V; resistance : (n,) ohm m2, above zero
    Newton's method on eta from above, where j(eta) is convex: either drop alone exceeds the solution.
    """
    eta = law.overpotential(volts / resistance)
    eta = np.where(np.abs(eta) < np.abs(volts), eta, volts)
    for _ in range(_TURNS):
        j = law.density(eta)
        step = (eta + resistance * j - volts) / (1.0 + resistance / law.resistance(j))
        eta = eta - step
        if not (np.abs(step) > _CLOSE * np.abs(eta)).any():
            break
    return law.density(eta)


def _exponent(value: Array) -> Array:
    """Clipped so that its exponential, and the product of two, stay finite; the limit is far beyond real voltages."""
    return np.clip(value, -MAX_EXPONENT, MAX_EXPONENT)


def law(section: Kinetics, temperature: float) -> Linear | Tafel | ButlerVolmer:
    """The law that a section asks for, at a temperature in K."""
    if section.kind == "none":
        return Linear(0.0)
    if section.kind == "linear":
        return Linear(section.resistance)
    slope = GAS_CONSTANT * temperature / (section.transfer * FARADAY)
    if section.kind == "tafel":
        return Tafel(section.exchange, slope)
    return ButlerVolmer(section.exchange, slope, GAS_CONSTANT * temperature / (section.anodic * FARADAY))


def laws(bath: Bath) -> tuple[Law, Law]:
    """Of the cathodes and of the anodes of a bath."""
    return law(bath.kinetics, bath.temperature), law(bath.anode_kinetics, bath.temperature)


def scaled(law: Law, transfer: float) -> Law:
    """The law with its transfer coefficient multiplied by a factor, and its slope (or resistance) divided by it."""
    if isinstance(law, Linear):
        return Linear(law.polarization / transfer)
    if isinstance(law, Tafel):
        return Tafel(law.exchange, law.slope / transfer)
    if isinstance(law, ButlerVolmer):
        return ButlerVolmer(law.exchange, law.cathodic / transfer, law.anodic)
    return law
