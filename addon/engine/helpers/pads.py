"""Where a hanger's fingers may stand: the part seen from above along the hanger's axes, and the three places that hold
it best.

The part hangs on its wire, which pulls it up against the fingers. With a_i and b_i the barycentric coordinates of the
wire's place and of the balance point among the three tips, seen from above, a wire that pulls with T presses tip i with
T a_i - W b_i, W being the part's net load: statics. So a part stays against all tips while T > W b_i / a_i for every i,
whether it sinks (W > 0) or floats.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.frames import unit
from ..units import GRAM, MM
from .form import FIN, FINGER, LEG, PAD, REACH, TAPER, Finger, back_of
from .lattice import Array

PITCH = 0.4 * MM  # of the rays from above
REACH_M = 40 * MM  # furthest finger from the wire: common practice, no source
MIN_UPWARD = np.cos(np.radians(50))  # vertical part of the normal under a tip: on steeper faces it slides off
MIN_SHARE = 0.08  # of the pull, least share of each tip, so that none lifts off at a touch
TIP_ZONE = 3.0 * MM  # round the middle of a tip, within which the hanger comes nearer than the clearance
ZONE_HEIGHT = 2.5 * MM
NOT_TOUCHING = 0.9  # of a taper's slope
TIP_SLACK = 0.05 * MM  # that a face may reach up beside a tip before the finger must go higher
MIN_BESIDE_WIRE = 1.5 * MM  # of a finger from the middle of the wire
MIN_AHEAD = 4 * MM  # of the third finger before the wire
APART = 2.0 * MM  # between fingers
RIDGE = 2  # steps of the rays on either side, from which the radius of a ridge is taken
MIN_RADIUS = 1e-3 * MM  # of a sharp ridge
MAX_ROW, MAX_FRONT = 24, 220  # places in the plate, on either side, and before it, that are tried together
MAX_PULL = 1.0  # kg on the wire: by hand, on annealed copper of 0.8 mm (70 MPa bear 3.6 kg)
MIN_PULL = 20 * GRAM  # keeps the wire straight: common practice, no source
PULL_SAFETY = 1.5
COST_M, COST_KG = 100 * MM, 0.5  # distance and pull that cost as much as a face in full view of the bath


@dataclass(frozen=True, eq=False)
class Top:
    """The part from above on a grid of `PITCH`, in the hanger's axes.

    u, v : (k,), (n,) m; height : (k, n) m, z as in the tank, -inf beside the part; fit : (k, n) whether a tip may stand
    there; cost : (k, n) how much of the bath the face sees, 0 to 1
    """

    u: Array
    v: Array
    height: Array
    fit: NDArray[np.bool_]
    cost: Array


@dataclass(frozen=True, eq=False)
class Held:
    """Net load (kg, negative floats) and the point in the hanger's axes (3,) that it acts through."""

    net: float
    at: Array


@dataclass(frozen=True)
class Stance:
    """Fingers, and kg that the wire must pull at least. cost : by which stances are ranked, the less the better"""

    left: Finger
    right: Finger
    front: Finger | None
    pull: float
    cost: float


def three(top: Top, thickness: float, depth: float, clearance: float, loads: Sequence[Held]) -> Stance | None:
    """The best three places, two in the plate and one before it; None where no three hold the part."""
    back = back_of(thickness, depth)
    row, z_row = _row(top, back, back + 2 * PAD, back + min(LEG, thickness), clearance)
    row_u = back + PAD
    at = int(np.argmin(np.abs(top.u - row_u)))
    row &= top.fit[at]
    left = _subsample(np.flatnonzero(row & (top.v < -MIN_BESIDE_WIRE - FINGER)), MAX_ROW)
    right = _subsample(np.flatnonzero(row & (top.v > MIN_BESIDE_WIRE + FINGER)), MAX_ROW)
    feasible, z_front = _front(top, back, clearance)
    i, j = np.nonzero(feasible)
    keep = _subsample(np.arange(len(i)), MAX_FRONT)
    i, j = i[keep], j[keep]
    if not (len(left) and len(right) and len(i)):
        return None
    a, b, c = (index.reshape(-1) for index in np.meshgrid(left, right, np.arange(len(i)), indexing="ij"))
    va, vb, uc, vc = top.v[a], top.v[b], top.u[i[c]], top.v[j[c]]
    apart = np.minimum(np.abs(vc - va), np.abs(vc - vb)) >= FINGER + FIN + APART

    def shares(u: float, v: float) -> Array:
        """(3, k) barycentric coordinates of a point."""
        third = (u - row_u) / (uc - row_u)
        second = (v - va - third * (vc - va)) / (vb - va)
        return np.stack([1.0 - second - third, second, third])

    wire = shares(0.0, 0.0)
    pull = np.full(len(a), MIN_PULL)
    for load in loads:
        load_shares = shares(float(load.at[0]), float(load.at[1]))
        pull = np.maximum(pull, PULL_SAFETY * (load.net * load_shares / np.maximum(wire, MIN_SHARE)).max(axis=0))
    seen = (top.cost[at, a] + top.cost[at, b] + top.cost[i[c], j[c]]) / 3
    cost = seen + (vb - va + np.hypot(uc, vc)) / COST_M + pull / COST_KG
    cost[~(apart & (wire.min(axis=0) >= MIN_SHARE) & (pull <= MAX_PULL))] = np.inf
    k = int(np.argmin(cost))
    if not np.isfinite(cost[k]):
        return None
    return Stance(
        Finger(row_u, float(va[k]), float(z_row[a[k]])),
        Finger(row_u, float(vb[k]), float(z_row[b[k]])),
        Finger(float(uc[k]), float(vc[k]), float(z_front[i[c[k]], j[c[k]]])),
        float(pull[k]),
        float(cost[k]),
    )


def two(top: Top, thickness: float, depth: float, clearance: float, loads: Sequence[Held]) -> Stance | None:
    """The best two places in the plate, as wide as it is, on a ridge.

    A part that sinks hangs below their line by its own weight. One that floats by L, its balance point d below, is kept
    from turning over by a pull T > L d / r, r being the ridge's radius: the touch rolls on by r times the angle.
    """
    back = back_of(thickness, depth)
    row, z_row = _row(top, back, back + thickness, back + thickness, clearance)
    at = int(np.argmin(np.abs(top.u)))
    row &= top.fit[at] & (_widest(top.height[at], PAD) > z_row - TIP_SLACK)  # on the ridge, under the wire
    left = _subsample(np.flatnonzero(row & (top.v < -MIN_BESIDE_WIRE - FINGER)), MAX_ROW)
    right = _subsample(np.flatnonzero(row & (top.v > MIN_BESIDE_WIRE + FINGER)), MAX_ROW)
    if not (len(left) and len(right)):
        return None
    a, b = (index.reshape(-1) for index in np.meshgrid(left, right, indexing="ij"))
    va, vb = top.v[a], top.v[b]
    wire = np.stack([vb, -va]) / (vb - va)
    sides = np.minimum(top.height[at - RIDGE], top.height[at + RIDGE])
    drop = np.maximum(np.where(row, top.height[at], 0.0) - sides, 1e-3 * MM)
    radius = np.maximum((RIDGE * PITCH) ** 2 / (2.0 * drop), MIN_RADIUS)
    pull = np.full(len(a), MIN_PULL)
    for load in loads:
        v = float(load.at[1])
        load_shares = np.stack([vb - v, v - va]) / (vb - va)
        pull = np.maximum(pull, PULL_SAFETY * (load.net * load_shares / np.maximum(wire, MIN_SHARE)).max(axis=0))
        below = z_row[a] - load.at[2]
        pull = np.maximum(pull, PULL_SAFETY * max(-load.net, 0.0) * below / np.minimum(radius[a], radius[b]))
    cost = (top.cost[at, a] + top.cost[at, b]) / 2 + (vb - va) / COST_M + pull / COST_KG
    cost[~((wire.min(axis=0) >= MIN_SHARE) & (pull <= MAX_PULL))] = np.inf
    k = int(np.argmin(cost))
    if not np.isfinite(cost[k]):
        return None
    middle = back + thickness / 2
    left_tip, right_tip = (Finger(middle, float(top.v[index]), float(z_row[index])) for index in (a[k], b[k]))
    return Stance(left_tip, right_tip, None, float(pull[k]), float(cost[k]))


def highest(top: Top, low: tuple[float, float], high: tuple[float, float]) -> float:
    """z of the part's highest point over a rectangle (u, v); -inf where it is not there."""
    inside = ((top.u >= low[0]) & (top.u <= high[0]))[:, None] & ((top.v >= low[1]) & (top.v <= high[1]))
    return float(top.height[inside].max(initial=-np.inf))


def _subsample(indices: NDArray[np.intp], most: int) -> NDArray[np.intp]:
    """A subset of at most `most` of them, evenly spaced."""
    return indices if len(indices) <= most else indices[np.linspace(0, len(indices) - 1, most).astype(np.intp)]


def _room(beyond: Array, slope: float, clearance: float) -> Array:
    """m that the part may reach over a tip at distances (n,) beyond its edge, where the finger rises with a slope.

    Close to the tip it must not touch; further than `TIP_ZONE` from it, stay off by the clearance.
    """
    beyond = np.maximum(beyond, 0.0)
    far = np.hypot(PAD + beyond, slope * beyond) > TIP_ZONE
    return np.where(far, slope * beyond - clearance * np.hypot(1.0, slope), NOT_TOUCHING * slope * beyond)


def _row(top: Top, back: float, tip: float, face: float, clearance: float) -> tuple[NDArray[np.bool_], Array]:
    """Whether a finger in the plate may stand at each v, and its height there.

    back, tip, face : u of its back, and of the front edge of its tip and of itself
    """
    near = (top.u >= back - clearance) & (top.u <= face + clearance)
    u, height = top.u[near], top.height[near]
    below = (u >= back - PITCH / 2) & (u <= tip + PITCH / 2)
    under = np.where(below[:, None], height, -np.inf).max(axis=0)
    wide = _across(height, clearance)
    ahead = _room(np.minimum(u, face) - tip, TAPER / max(face - tip, PITCH), clearance)
    behind = np.where(u < back - PITCH / 2, ZONE_HEIGHT, 0.0)
    body = (wide - np.where(face > tip, ahead, 0.0)[:, None] - behind[:, None]).max(axis=0)
    stands = _widest(under, PAD)
    present = np.isfinite(height[below])
    full = present.all(axis=0) if face > tip else present.any(axis=0)
    return full & (body <= stands + TIP_SLACK), np.maximum(stands, body)


def _across(height: Array, clearance: float) -> Array:
    """(k, n) the least height of a tip for its finger to clear the part beside it: the largest height less the
    taper's room."""
    out = np.full(height.shape, -np.inf)
    for k in range(-int((FINGER + clearance) / PITCH + 0.5), int((FINGER + clearance) / PITCH + 0.5) + 1):
        beyond = np.array(min(abs(k) * PITCH, FINGER) - PAD)
        out = np.maximum(out, _moved(height, k, -1) - float(_room(beyond, TAPER / (FINGER - PAD), clearance)))
    return out


def _widest(values: Array, half: float) -> Array:
    """(..., n) the largest within half a width along the last axis."""
    steps = int(half / PITCH + 0.5)
    return np.max([_moved(values, k, -1) for k in range(-steps, steps + 1)], axis=0)


def _moved(values: Array, k: int, axis: int) -> Array:
    """The values k places further along an axis; -inf beyond the end."""
    out = np.full(values.shape, -np.inf)
    n = values.shape[axis]
    index: list[slice] = [slice(None)] * values.ndim
    source = list(index)
    index[axis], source[axis] = slice(max(0, -k), n - max(0, k)), slice(max(0, k), n - max(0, -k))
    out[tuple(index)] = values[tuple(source)]
    return out


def _front(top: Top, back: float, clearance: float) -> tuple[NDArray[np.bool_], Array]:
    """Whether the third finger may stand at each place, and its height there."""
    tip = _widest(top.height, FIN)
    wide = np.maximum(tip, _widest(top.height, FIN + clearance) - ZONE_HEIGHT)
    stands = np.full(top.height.shape, -np.inf)
    body = np.full(top.height.shape, -np.inf)
    for k in range(-int(PAD / PITCH + 0.5), int((REACH + clearance) / PITCH + 0.5) + 1):
        away = k * PITCH
        if away <= PAD + PITCH / 2:
            stands = np.maximum(stands, _moved(tip, k, 0))
        room = float(_room(np.array(min(away, REACH) - PAD), TAPER / (REACH - PAD), clearance))
        body = np.maximum(body, _moved(wide, k, 0) - room)
    fin = _widest(top.height, FIN + clearance)
    zone = int(TIP_ZONE / np.sqrt(2.0) / PITCH)
    for k in range(-zone - int(PAD / PITCH), -int(PAD / PITCH)):  # the fin's edge, close to the tip
        room = float(_room(np.array(-k * PITCH - PAD), 1.0, 0.0))
        body = np.maximum(body, _moved(np.minimum(fin, wide + room), k, 0) - room)
    behind = top.u[:, None] >= back - clearance
    rising = np.maximum.accumulate(np.where(behind, fin + top.u[:, None], -np.inf), axis=0)
    under = _moved(rising, -zone - int(PAD / PITCH), 0) - (top.u[:, None] - PAD - np.sqrt(2.0) * clearance)
    z = np.maximum(stands, body)
    fit = top.fit & np.isfinite(stands) & (top.u[:, None] >= MIN_AHEAD)
    fit &= np.abs(top.v) >= MIN_BESIDE_WIRE + FIN
    fit &= (body <= stands + TIP_SLACK) & (under <= z + TIP_SLACK)
    return fit, z


def axes(along: Array) -> Array:
    """(3, 3) rows u, v, z of the hanger in the tank. along : (2,) level, the rod's way"""
    u = unit([float(along[0]), float(along[1]), 0.0])
    return np.stack([u, np.cross([0.0, 0.0, 1.0], u), np.array([0.0, 0.0, 1.0])])
