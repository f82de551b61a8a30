"""How dense the current gets at the rim of a wire's pad, finer than any panel is.

The coat loses c ln(r/a) beyond a pad of radius a, c = Rs I / (2 pi), and the liquid evens that out sideways within about
the polarisation length l = kappa d(eta)/dj. On a flat sheet under deep liquid a Hankel transform gives the density on
top of what comes from afar,

    j(r) = kappa c  integral_0^inf  J0(k r) J0(k a) / (1 + l k)  dk,

about kappa c ln(1 + l/r) / l for r > 2 a. At the rim the integral is tabulated. Own derivation.
"""

from __future__ import annotations

import math

import numpy as np

# integral_0^inf J0(x)^2 / (1 + l x) dx over l, the polarisation length in radii of the pad
LENGTHS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 100.0)
AT_RIM = (1.7989, 1.5776, 1.3552, 1.0585, 0.8350, 0.6231, 0.3866, 0.2531, 0.1186, 0.0473)


def excess(length: float, radius: float, away: float) -> float:
    """1/m: the density at the rim of a pad less that at `away` from its middle, over kappa Rs I / (2 pi).

    length : polarisation length, radius : of the pad, all metres. A rim is taken as no sharper than LENGTHS[0] radii.
    """
    ratio = max(length / radius, LENGTHS[0])
    rim = math.exp(np.interp(math.log(ratio), np.log(LENGTHS), np.log(AT_RIM))) / radius
    if ratio > LENGTHS[-1]:
        rim = math.log1p(ratio) / ratio / radius
    further = math.log1p(length / away) / length if length > 0 else 1.0 / away
    return max(rim - further, 0.0)
