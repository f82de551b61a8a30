"""The current density at the rim of a wire's pad, resolved finer than panels.

The coat loses c ln(r/a) beyond a pad of radius a, c = Rs I / (2 pi), and the liquid evens that out sideways within
about
the polarization length l = kappa d(eta)/dj. On a flat sheet under deep liquid a Hankel transform gives the density on
top of what comes from afar,

    j(r) = kappa c  integral_0^inf  J0(k r) J0(k a) / (1 + l k)  dk,

about kappa c ln(1 + l/r) / l for r > 2 a. At the rim the integral is tabulated. Own derivation. As metal grows there
the rim moves outwards: what conducts within it counts as pad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..linalg.sparse import Vector

# integral_0^inf J0(x)^2 / (1 + l x) dx over l, the polarization length in radii of the pad
TABLE_LENGTHS_RADII = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 100.0)
FRONT_RADII = 24  # radii between the rim and where the field is read
TABLE_RIM_INTEGRALS = (1.7989, 1.5776, 1.3552, 1.0585, 0.8350, 0.6231, 0.3866, 0.2531, 0.1186, 0.0473)


def excess(length: float, radius: float, away: float) -> float:
    """1/m: the density at the rim of a pad less that at `away` from its middle, over kappa Rs I / (2 pi).

    length : polarization length, radius : of the pad, all meters. A rim is no sharper than TABLE_LENGTHS_RADII[0].
    """
    ratio = max(length / radius, TABLE_LENGTHS_RADII[0])
    rim = math.exp(np.interp(math.log(ratio), np.log(TABLE_LENGTHS_RADII), np.log(TABLE_RIM_INTEGRALS))) / radius
    if ratio > TABLE_LENGTHS_RADII[-1]:
        rim = math.log1p(ratio) / ratio / radius
    return max(rim - float(_beyond(length, np.array(away))), 0.0)


def _beyond(length: float, radius: Vector) -> Vector:
    """1/m: the integral at radii well outside the pad."""
    return np.log1p(length / radius) / length if length > 0 else 1.0 / radius


@dataclass(frozen=True, eq=False)
class Front:
    """The film between a pad's rim and where the field is read, finer than patches.

    radii : (k,) from the rim to there, meters; film : (k,) meters of metal
    """

    radii: Vector
    film: Vector

    @classmethod
    def of(cls, radius: float, away: float, film: float) -> Front:
        """A film of one thickness, m, from a rim of this radius to `away`, both in meters."""
        return cls(np.geomspace(radius, max(away, 1.001 * radius), FRONT_RADII), np.full(FRONT_RADII, film))

    def radius(self, closed: float) -> float:
        """How far metal thicker than `closed` reaches without a gap, meters."""
        thin = np.flatnonzero(self.film <= closed)
        return float(self.radii[thin[0] if len(thin) else -1])

    def through(self, closed: float) -> bool:
        """Whether the closed film spans the whole range."""
        return bool((self.film > closed).all())

    def excess(self, length: float, closed: float) -> float:
        """1/m: as the function `excess`, at the present rim; 0 once the film spans the whole range."""
        if self.through(closed):
            return 0.0
        return excess(length, self.radius(closed), float(self.radii[-1]))

    def grown(self, length: float, ring: float, strength: float, metal: float) -> Front:
        """After some time. ring : A/m2 at the outer end; strength : kappa c, A/m; metal : m3/C times the seconds"""
        more = _beyond(length, self.radii)
        return replace(self, film=self.film + metal * (ring + strength * (more - more[-1])))
