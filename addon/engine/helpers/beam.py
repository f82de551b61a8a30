"""Deflection of printed bars by Euler-Bernoulli beam theory.

Closed forms as in any text on the strength of materials (e.g. Timoshenko, Strength of Materials, from memory): a
cantilever of length l under a force F square to its end and a moment M at its end bends by F l^3 / (3 E I) +
M l^2 / (2 E I); pushed along itself it buckles at pi^2 E I / (4 l^2). A rectangle has I = b h^3 / 12. Loads on a bar on
two supports are added up by Macaulay's brackets: E I w'' = M(x), M being the sum of force x (x - place) to its right.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray


def second_moment(breadth: float, height: float) -> float:
    """m4 of a rectangle, for bending along its height. Meters."""
    return breadth * height**3 / 12.0


def deflection(force: float, moment: float, length: float, modulus: float, inertia: float) -> float:
    """m at the free end of a cantilever. force : N; moment : N m; length : m; modulus : Pa; inertia : m4"""
    return (force * length / 3.0 + moment / 2.0) * length**2 / (modulus * inertia)


def buckling(length: float, modulus: float, inertia: float) -> float:
    """N along a bar that is clamped at one end and free at the other."""
    return math.pi**2 * modulus * inertia / (4.0 * length**2)


def sag(
    forces: ArrayLike, places: ArrayLike, supports: tuple[float, float], at: ArrayLike, modulus: float, inertia: float
) -> NDArray[np.float64]:
    """m that a bar on two supports gives way downward at places `at` (n,), its ends free beyond them.

    forces : (k,) N downward; places : (k,) m along the bar; supports : m, the lower one first
    modulus : Pa; inertia : m4
    """
    load, where = np.atleast_1d(np.asarray(forces, float)), np.atleast_1d(np.asarray(places, float))
    low, high = supports
    right = float(load @ (where - low)) / (high - low)
    push = np.concatenate([[float(load.sum()) - right, right], -load])
    starts = np.concatenate([[low, high], where])

    def bent(x: NDArray[np.float64]) -> NDArray[np.float64]:
        """E I times the deflection, up to a linear function."""
        return np.asarray((np.maximum(x[:, None] - starts, 0.0) ** 3) @ push / 6.0)

    ends, x = bent(np.array([low, high])), np.atleast_1d(np.asarray(at, float))
    line = ends[0] + (x - low) / (high - low) * (ends[1] - ends[0])
    return (line - bent(x)) / (modulus * inertia)
