"""Directions over the sphere, and rotations in the words of a host: Euler angles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .frames import basis


def sphere(count: int) -> NDArray[np.float64]:
    """(2 * ceil(count / 2), 3) unit directions, even over the sphere, each with its opposite.

    Half a Fibonacci lattice (common construction; Gonzalez, Math. Geosci. 42 (2010) 49, from memory)
    and its mirror: gas with one way up is held liquid with the other, so one sweep serves both.
    """
    half = (count + 1) // 2
    k = np.arange(half) + 0.5
    z = 1.0 - k / half
    angle = np.pi * (1.0 + 5.0**0.5) * k
    r = np.sqrt(1.0 - z * z)
    directions = np.stack([r * np.cos(angle), r * np.sin(angle), z], axis=1)
    return np.concatenate([directions, -directions])


def around(direction: NDArray[np.float64], angle: float, count: int = 6) -> NDArray[np.float64]:
    """(count, 3) unit directions on a ring at `angle` (radians) about a direction."""
    u, v = basis(direction)
    turn = 2 * np.pi * np.arange(count)[:, None] / count
    return np.cos(angle) * direction + np.sin(angle) * (np.cos(turn) * u + np.sin(turn) * v)


def turn_up(up: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, 3) the smallest rotation that brings a unit model direction to +z."""
    x, y, z = up
    if z < -1.0 + 1e-12:  # upside down: half a turn about x
        return np.diag([1.0, -1.0, -1.0])
    k = 1.0 / (1.0 + z)
    return np.array([[1 - k * x * x, -k * x * y, -x], [-k * x * y, 1 - k * y * y, -y], [x, y, z]])


def about(yaw: float) -> NDArray[np.float64]:
    """(3, 3) the turn by `yaw` (radians) about z."""
    cos, sin = np.cos(yaw), np.sin(yaw)
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])


def yaw(rotation: NDArray[np.float64]) -> float:
    """Radians about z of a rotation (3, 3), after the smallest turn that brings its way up upright."""
    level = rotation @ turn_up(rotation[2]).T
    return float(np.arctan2(level[1, 0], level[0, 0]))


def euler(rotation: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3,) XYZ Euler angles in radians: rotation = Rz Ry Rx, the order that hosts call XYZ."""
    y = np.arcsin(np.clip(-rotation[2, 0], -1.0, 1.0))
    if abs(rotation[2, 0]) > 1.0 - 1e-12:  # gimbal lock: all turn about x
        return np.array([np.arctan2(-rotation[1, 2], rotation[1, 1]), y, 0.0])
    x = np.arctan2(rotation[2, 1], rotation[2, 2])
    return np.array([x, y, np.arctan2(rotation[1, 0], rotation[0, 0])])
