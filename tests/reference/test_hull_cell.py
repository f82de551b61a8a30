"""The Hull cell: a trapezoid whose primary distribution is known exactly from a conformal map.

Dimensions of the 267 mL cell (from memory: Hull 1939, DIN 50957): parallel walls 47.6 and 127 mm, anode wall 63.5 mm.
The method is that of A. C. West, M. Matlosz and D. Landolt, J. Appl. Electrochem. 22 (1992) 301 (abstract read), worked
out here with scipy. The trade's formula 5.10 - 5.24 log x departs from it by 15 % and is no target.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from addon.engine.field.bem.influence import Liquid
from addon.engine.chemistry.kinetics import Linear, Tafel
from addon.engine.tank.body import Role

from cells import Bench, Surface, graded, strip

KAPPA, DEPTH = 25.0, 0.012
NEAR_END, FAR_END, HEIGHT = 0.0476, 0.127, 0.0635


@pytest.fixture(scope="module")
def hull() -> Bench:
    """In plan x, z; the floor and the free surface are the mirrors of a box, whose other walls lie outside."""

    def line(start, end, count, **grade):
        t = graded(0.0, 1.0, count, **grade)[:, None]
        return strip(np.array(start) * (1.0 - t) + np.array(end) * t, DEPTH)

    cathode = line((FAR_END, 0.0), (NEAR_END, HEIGHT), 48, low=1.5, high=2.0)
    anode = line((0.0, HEIGHT), (0.0, 0.0), 24)
    walls = [line((0.0, 0.0), (FAR_END, 0.0), 48, high=1.5), line((NEAR_END, HEIGHT), (0.0, HEIGHT), 24, low=2.0)]
    surfaces = [Surface(cathode, Role.PART), Surface(anode, Role.ANODE)]
    surfaces += [Surface(wall, Role.INSULATOR) for wall in walls]
    return Bench(surfaces, Liquid(box=np.array([[-0.05, 0.0, -0.05], [0.2, DEPTH, 0.15]])))


def profile(hull: Bench, state: object, places: list[float]) -> np.ndarray:
    """Density over its mean at x / L from the end near the anode."""
    rows = hull.rows[0]
    x = np.hypot(hull.centroid[rows, 0] - NEAR_END, hull.centroid[rows, 2] - HEIGHT) / np.hypot(
        FAR_END - NEAR_END, HEIGHT
    )
    j = state.j[rows] / hull.mean(state, 0)
    half = len(rows) // 2  # the two triangles of a strip's cell
    return np.interp(places, 0.5 * (x[:half] + x[half:])[::-1], 0.5 * (j[:half] + j[half:])[::-1])


class Map:
    """The half plane onto the trapezoid: the anode's lower corner from -1, the acute corner from 0, the obtuse one from
    d, the anode's upper corner from a. dz/dw = |w + 1|^-1/2 |w|^(s - 1) |w - d|^-s |w - a|^-1/2, s the acute angle over pi;
    with electrodes 0..d and a..-1 the current is the integral of |(w + 1) w (w - d) (w - a)|^-1/2."""

    def __init__(self) -> None:
        self.s = np.arctan2(HEIGHT, FAR_END - NEAR_END) / np.pi
        wanted = FAR_END / np.hypot(FAR_END - NEAR_END, HEIGHT)
        self.a = 3.0  # three corners of the half plane are free to choose
        self.d = brentq(
            lambda d: self.side(-1.0, 0.0, d, self.a) / self.side(0.0, d, d, self.a) - wanted,
            0.01,
            2.9,
            xtol=1e-12,
        )

    def side(self, start, end, d, a, powers=None, stop=None):
        """Integral between two corners; each half with w = corner +- t^12, which takes the corner's power along."""
        powers = powers or (-0.5, self.s - 1.0, -self.s, -0.5)
        corners = (-1.0, 0.0, d, a)
        middle = 0.5 * (start + end) if stop is None else stop
        total = 0.0
        for corner, way in ((start, 1.0), (end, -1.0))[: 2 if stop is None else 1]:

            def rate(t, corner=corner, way=way):
                step = t**12
                value = 12.0 * t**11
                for c, power in zip(corners, powers, strict=True):
                    value *= (step if c == corner else abs(corner - c + way * step)) ** power
                return value

            total += quad(rate, 1e-6, abs(middle - corner) ** (1 / 12), epsabs=1e-13, limit=300)[0]
        return total

    def profile(self, places):
        """Density over its mean at x / L from the obtuse corner."""
        length = self.side(0.0, self.d, self.d, self.a)
        current = self.side(0.0, self.d, self.d, self.a, (-0.5,) * 4)
        w = self.d * np.linspace(0.02, 0.98, 200) ** 4
        from_acute = [self.side(0.0, self.d, self.d, self.a, stop=x) for x in w]
        density = w ** (0.5 - self.s) * (self.d - w) ** (self.s - 0.5) * length / current
        return np.interp(places, (1.0 - np.array(from_acute) / length)[::-1], density[::-1])

    def resistance(self):
        """R kappa depth: the voltage is the current's integral along an insulating side."""
        across = self.side(self.d, self.a, self.d, self.a, (-0.5,) * 4)
        return across / self.side(0.0, self.d, self.d, self.a, (-0.5,) * 4)


@pytest.mark.slow
def test_hull_cell_primary(hull):
    """i / mean along the panel as the map has it, 1.529, 0.714 and 0.208 at x / L = 0.2, 0.5 and 0.8, and R kappa depth =
    1.0563, as an earlier map gave. The solver within 2 % of it, from 0.05 to 0.9 of the panel within 3 %."""
    exact = Map()
    assert exact.resistance() == pytest.approx(1.0563, abs=5e-4)
    all_along = [0.05, *np.linspace(0.1, 0.9, 9), 0.15]
    row = [2.834, 2.135, 1.529, 1.184, 0.928, 0.714, 0.526, 0.358, 0.208, 0.083, 1.774]
    np.testing.assert_allclose(exact.profile(all_along), row, atol=1e-3)
    state = hull.solved(voltage=1.0)
    assert hull.ohms(state) * KAPPA * DEPTH == pytest.approx(exact.resistance(), rel=0.005)
    places = np.linspace(0.1, 0.8, 15)
    np.testing.assert_allclose(profile(hull, state, places), exact.profile(places), rtol=0.02)
    np.testing.assert_allclose(profile(hull, state, all_along), row, rtol=0.03)


def test_hull_cell_evens_out_with_polarization(hull):
    """Any rising kinetics flattens the primary distribution at both ends, the more the stronger it is."""
    steep = [
        profile(hull, hull.solved(law, current=0.5 * DEPTH / 0.0482), [0.1, 0.8])
        for law in (Linear(), Tafel(10.0, 0.0514), Linear(0.02))
    ]
    high, low = np.array(steep).T
    assert (np.diff(high) < 0).all() and (np.diff(low) > 0).all()


def test_measured_deposit_along_a_hull_panel(hull):
    """Thickness over its mean at 0.26, 0.52, 1.02 and 3.05 inches of 4 (M. McCormick and A. T. Kuhn, Trans. Inst. Metal
    Finish. 71 (1993) 74, table 1; read as scanned text, two digits, the bath's cell not named there). Nothing is fitted: the
    primary distribution within 6 %. At the far end, 3.45 and 3.63 inches, polarization lays more metal than that."""
    measured = np.array([2.5, 1.8, 1.3, 0.26, 0.15, 0.10])
    found = profile(hull, hull.solved(voltage=1.0), np.array([0.26, 0.52, 1.02, 3.05, 3.45, 3.63]) / 4.0)
    np.testing.assert_allclose(found[:4], measured[:4], rtol=0.06)
    assert (found[4:] < measured[4:]).all() and (found[4:] > 0.7 * measured[4:]).all()
