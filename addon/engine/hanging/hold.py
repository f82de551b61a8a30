"""Where wires hold the part in a given way up: one or two contacts on the surface, or a rigid hook."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from .balance import Balance

MAX_HOLD_ANGLE_RAD = np.radians(8)  # rad: a wire holds a way up if the part hangs this close to it
SPOT_COUNT = 3000  # spots spread over the plated surface
MAX_PAIR_ENDS = 160  # of these, tried as ends of a pair
MAX_RAY_TESTED_SPOTS = 24  # nearest to plumb, checked for a free way up to the surface of the bath
# Of the part's size: a contact nearer to the balance point turns the part with too little force
MIN_ARM_OVER_SIZE = 0.05
# Share of the way between two contacts that the balance point keeps from either: both wires are taut
MIN_LEVER_SHARE = 0.15


@dataclass(frozen=True, eq=False)
class Spots:
    """Points where a wire may touch. points : (k, 3) m; normal : (k, 3) outward; show : (k,) on a show face."""

    points: NDArray[np.float64]
    normal: NDArray[np.float64]
    show: NDArray[np.bool_]

    def with_first(self, surface: Surface, points: NDArray[np.float64], face: NDArray[np.intp]) -> Spots:
        """These spots, followed by the others."""
        return Spots(
            np.concatenate([points, self.points]),
            np.concatenate([surface.normal[face], self.normal]),
            np.concatenate([surface.show[face], self.show]),
        )


@dataclass(frozen=True, eq=False)
class Hold:
    """Contacts that hold the part in a way up.

    wires : 1 to 3 flexible wires; 0: only a rigid hook does
    points : (wires, 3) meters, in the part's axes; show : whether one of them stands on a show face
    tether : the part floats, and this is where its ballast pulls it down, not where a wire holds it up
    """

    wires: int
    points: NDArray[np.float64]
    show: bool
    tether: bool = False


def sample_spots(surface: Surface, seed: int = 0) -> Spots:
    """Spots spread evenly over the plated surface."""
    total = np.cumsum(surface.plated_area)
    if not total[-1] > 0:
        return Spots(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0, dtype=bool))
    face = np.searchsorted(total, (np.arange(SPOT_COUNT) + 0.5) / SPOT_COUNT * total[-1])
    u, v = np.random.default_rng(seed).random((2, SPOT_COUNT))
    root = np.sqrt(u)
    share = np.stack([1 - root, root * (1 - v), root * v], axis=1)
    points = np.einsum("nk,nkj->nj", share, surface.corners[face])
    return Spots(points, surface.normal[face], surface.show[face])


def find(up: NDArray[np.float64], state: Balance, surface: Surface, tracer: Tracer, spots: Spots, hook: str) -> Hold:
    """The contact, or pair of contacts, on which the part comes to rest with `up` upright.

    hook : "one wire", "two wires" or "rigid"; the fewer wires do, the better. Off the show faces wherever another
    place holds as well. Rays decide which contacts a wire reaches from straight above.
    """
    none = Hold(0, np.zeros((0, 3)), False)
    if hook == "rigid" or not np.isfinite(state.point).all() or not len(spots.points):
        return none
    pull = -up if state.floats else up  # a floating part hangs upside down from its ballast
    spots = _with_plumb_spot(pull, state, surface, tracer, spots)
    single = _single(pull, state, surface, tracer, spots)
    if single is not None:
        return Hold(1, spots.points[[single]], bool(spots.show[single]), state.floats)
    pair = None if state.floats else _pair(pull, state, surface, tracer, spots)
    if pair is None:
        return none
    return Hold(2, spots.points[list(pair)], bool(spots.show[list(pair)].any()))


def hold_on_wires(
    up: NDArray[np.float64], state: Balance, surface: Surface, tracer: Tracer, used: Spots
) -> Hold | None:
    """Which of the existing wires hold the part with `up` upright: one, two or three of them, the others slack; None
    if none do, or the part floats."""
    if state.floats or not np.isfinite(state.point).all() or not len(used.points):
        return None
    few = np.flatnonzero(_reachable(up, surface, tracer, used, np.arange(len(used.points))))
    arm = used.points[few] - state.point
    length = np.linalg.norm(arm, axis=1)
    plumb = np.divide(arm @ up, length, out=np.full(len(arm), -1.0), where=length > MIN_ARM_OVER_SIZE * surface.size)
    if (plumb > np.cos(MAX_HOLD_ANGLE_RAD)).any():
        taut: tuple[int, ...] = (int(np.argmax(plumb)),)
    else:
        taut = _level_pair(arm, up, surface.size) or _level_three(arm, up, surface.size) or ()
    chosen = few[list(taut)]
    return Hold(len(chosen), used.points[chosen], bool(used.show[chosen].any())) if len(chosen) else None


def _level_three(arm: NDArray[np.float64], pull: NDArray[np.float64], size: float) -> tuple[int, int, int] | None:
    """Three contacts in a level plane over the balance point, all of them taut; the least tilted. arm : (k, 3) m, from
    the balance point"""
    best, held = np.cos(MAX_HOLD_ANGLE_RAD), None
    for three in combinations(range(len(arm)), 3):
        a, b, c = arm[list(three)]
        normal = np.cross(b - a, c - a)
        twice = float(np.linalg.norm(normal))
        if not twice > MIN_LEVER_SHARE * size**2 * MIN_ARM_OVER_SIZE:
            continue
        normal *= np.sign(normal @ pull) / twice
        over = float(a @ normal) * normal  # where the balance point's normal meets the plane
        share = [abs(float(normal @ np.cross(u - over, v - over))) / twice for u, v in ((b, c), (c, a), (a, b))]
        taut = (
            sum(share) < 1.0 + 1e-9 and min(share) > MIN_LEVER_SHARE and float(over @ pull) > MIN_ARM_OVER_SIZE * size
        )
        if taut and float(normal @ pull) > best:
            best, held = float(normal @ pull), three
    return held


def _with_plumb_spot(
    pull: NDArray[np.float64], state: Balance, surface: Surface, tracer: Tracer, spots: Spots
) -> Spots:
    """With the point straight over the balance point that a ray from outside meets first, if it can be plated."""
    start = state.point + pull * (2 * surface.size + np.linalg.norm(surface.bounds.mean(axis=0) - state.point))
    face, distance = tracer.first_hit(start[None], -pull[None])
    if face[0] < 0 or not surface.plated[face[0]]:
        return spots
    return spots.with_first(surface, (start - pull * distance[0])[None], face.astype(np.intp))


def _reachable(
    pull: NDArray[np.float64], surface: Surface, tracer: Tracer, spots: Spots, few: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether nothing of the part stands over each of these spots."""
    origin = spots.points[few] + surface.lift * (spots.normal[few] + pull)
    return ~tracer.blocked(origin, np.broadcast_to(pull, origin.shape))


def _single(pull: NDArray[np.float64], state: Balance, surface: Surface, tracer: Tracer, spots: Spots) -> int | None:
    arm = spots.points - state.point
    length = np.linalg.norm(arm, axis=1)
    plumb = np.divide(arm @ pull, length, out=np.full(len(arm), -1.0), where=length > MIN_ARM_OVER_SIZE * surface.size)
    near = np.flatnonzero(plumb > np.cos(MAX_HOLD_ANGLE_RAD))
    for group in (near[~spots.show[near]], near[spots.show[near]]):
        few = group[np.argsort(-plumb[group], kind="stable")][:MAX_RAY_TESTED_SPOTS]
        few = few[_reachable(pull, surface, tracer, spots, few)] if len(few) else few
        if len(few):
            return int(few[0])
    return None


def _pair(
    pull: NDArray[np.float64], state: Balance, surface: Surface, tracer: Tracer, spots: Spots
) -> tuple[int, int] | None:
    """Two contacts, level, with the balance point plumb under the line between them; the furthest apart."""
    above = np.flatnonzero((spots.points - state.point) @ pull > MIN_ARM_OVER_SIZE * surface.size)
    for group in (above[~spots.show[above]], above):
        few = group[:: max(1, len(group) // MAX_PAIR_ENDS)]
        few = few[_reachable(pull, surface, tracer, spots, few)] if len(few) else few
        if len(few) < 2:
            continue
        level = _level_pair(spots.points[few] - state.point, pull, surface.size)
        if level is not None:
            return int(few[level[0]]), int(few[level[1]])
    return None


def _level_pair(arm: NDArray[np.float64], pull: NDArray[np.float64], size: float) -> tuple[int, int] | None:
    """Of contacts (k, 3), m from the balance point, two in a level line that passes over it; the furthest apart."""
    line = arm[None] - arm[:, None]
    length = np.linalg.norm(line, axis=2)
    axis = line / np.maximum(length, 1e-300)[..., None]
    foot = np.einsum("ik,ijk->ij", arm, axis)
    hang = arm[:, None] - foot[..., None] * axis
    drop = np.linalg.norm(hang, axis=2)
    plumb = np.divide(hang @ pull, drop, out=np.full(drop.shape, -1.0), where=drop > MIN_ARM_OVER_SIZE * size)
    share = np.divide(-foot, length, out=np.zeros_like(foot), where=length > 0)
    feasible = (plumb > np.cos(MAX_HOLD_ANGLE_RAD)) & (share > MIN_LEVER_SHARE) & (share < 1 - MIN_LEVER_SHARE)
    if not feasible.any():
        return None
    far = np.where(feasible, plumb + 0.02 * length / size, -np.inf)
    i, j = np.unravel_index(int(np.argmax(far)), far.shape)
    return int(i), int(j)
