"""How a body settles in the bath: on one flexible wire, on two, or afloat.

Weight m g acts at the centre of mass and buoyancy rho V g at the centre of the displaced volume. Their
sum is one force through the balance point (m c - rho V b) / (m - rho V): on one wire the part turns
until that point is plumb under the wire (common statics; see e.g. any text on the compound pendulum).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..copper_wire import DENSITY_KG_M3, SAFETY_FACTOR, STIFFNESS_PA, YIELD_PA
from ..units import GRAVITY

MIN_PULL_SHARE = 0.2  # of the coated print's weight, on a flexible wire: stirring then leaves it taut, common practice
MIN_BALLAST_KG = 1e-3  # less is not felt on the wire of a part that sinks by itself: common practice, no source
FREE_WIRE_M = 0.1  # of wire between its clamp and the part: common practice, no source
MIN_RIGID_WIRE_M = 1.5e-3  # common practice, no source
MAX_RIGID_WIRE_M = 4e-3  # thicker copper is not bent by hand: common practice, no source


@dataclass(frozen=True, eq=False)
class Load:
    """A mass (kg) at a point, with the volume (m3) that it displaces at another; points (3,) in meters."""

    mass: float
    centre: NDArray[np.float64]
    displaced: float
    buoyancy: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Balance:
    """Net load in the bath.

    net : kg, mass less displaced bath; negative floats
    point : (3,) meters, where the net force acts; nan where the net is too small to have one
    """

    net: float
    point: NDArray[np.float64]

    @property
    def floats(self) -> bool:
        """Whether the part is lighter than the bath that it displaces."""
        return self.net < 0


def balance(loads: list[Load], bath_density: float) -> Balance:
    """Net load and its line of action. bath_density : kg/m3."""
    net = sum(load.mass - bath_density * load.displaced for load in loads)
    moment = sum(
        (load.mass * load.centre - bath_density * load.displaced * load.buoyancy for load in loads),
        start=np.zeros(3),
    )
    whole = sum(load.mass for load in loads)
    neutral = abs(net) < 1e-4 * whole
    return Balance(float(net), np.full(3, np.nan) if neutral else moment / net)


def ballast(net: float, bath_density: float, pull: float = 0.0) -> float:
    """kg of solid copper, itself immersed, that brings a net load (kg) up to a pull on the wire (kg)."""
    return max(0.0, pull - net) / (1.0 - bath_density / DENSITY_KG_M3)


def rigid_wire(lift: float, arm: float, free: float = FREE_WIRE_M) -> float | None:
    """m, the diameter of an annealed copper wire, clamped above the bath, that holds down a part that floats.

    lift : kg; arm : m, level, from the wire to the point through which the lift acts; free : m of wire below the clamp
    It neither buckles (Euler: clamped above, free below, pi^2 E I / (4 free^2)) nor bends for good (lift x arm over the
    section modulus), each with `SAFETY_FACTOR`; never thinner than `MIN_RIGID_WIRE_M`, for hands and stirring.
    None where it would be thicker than `MAX_RIGID_WIRE_M`.
    """
    force = SAFETY_FACTOR * lift * GRAVITY
    buckles = (64.0 / np.pi * force * 4.0 * free**2 / (np.pi**2 * STIFFNESS_PA)) ** 0.25
    bends = (32.0 / np.pi * force * arm / YIELD_PA) ** (1.0 / 3.0)
    needed = float(max(buckles, bends, MIN_RIGID_WIRE_M))
    return needed if needed <= MAX_RIGID_WIRE_M else None


def sinking_deposit(net: float, bath_density: float, metal_density: float) -> float:
    """kg of deposit, itself immersed, that brings a net load (kg) up to zero; 0 where the part sinks anyway."""
    return max(0.0, -net) / (1.0 - bath_density / metal_density)


def settled_up(contact: NDArray[np.float64], state: Balance) -> NDArray[np.float64]:
    """(3,) unit: the model direction that points up once the part has turned on one flexible wire.

    nan where the part floats (a slack wire turns nothing), has no net load, or is held at its balance
    point, where any way up is as good.
    """
    return _up_of_arm(contact - state.point, state)


def settled_up_two(first: NDArray[np.float64], second: NDArray[np.float64], state: Balance) -> NDArray[np.float64]:
    """(3,) unit up of a part on two wires of equal length: free to turn about the line between the contacts.

    The contacts stay level, and the balance point comes to rest below the line. nan as for one wire.
    """
    axis = (second - first) / np.linalg.norm(second - first)
    arm = first - state.point
    return _up_of_arm(arm - (arm @ axis) * axis, state)


def _up_of_arm(arm: NDArray[np.float64], state: Balance) -> NDArray[np.float64]:
    length = np.linalg.norm(arm)
    return np.full(3, np.nan) if state.floats or not length > 0 else arm / length
