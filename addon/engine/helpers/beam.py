"""How far a printed bar gives way, by the formulas of the straight elastic beam (Euler and Bernoulli).

Closed forms as in any text on the strength of materials (e.g. Timoshenko, Strength of Materials, from memory): a
cantilever of length l under a force F square to its end and a moment M at its end bends by F l^3 / (3 E I) +
M l^2 / (2 E I); pushed along itself it buckles at pi^2 E I / (4 l^2). A rectangle has I = b h^3 / 12.
"""

from __future__ import annotations

import math


def second_moment(breadth: float, height: float) -> float:
    """m4 of a rectangle, for bending along its height. Meters."""
    return breadth * height**3 / 12.0


def deflection(force: float, moment: float, length: float, modulus: float, inertia: float) -> float:
    """m at the free end of a cantilever. force : N; moment : N m; length : m; modulus : Pa; inertia : m4"""
    return (force * length / 3.0 + moment / 2.0) * length**2 / (modulus * inertia)


def buckling(length: float, modulus: float, inertia: float) -> float:
    """N along a bar that is clamped at one end and free at the other."""
    return math.pi**2 * modulus * inertia / (4.0 * length**2)
