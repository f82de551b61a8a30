"""Which shells lie inside others, and where shells run into each other or themselves."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..geometry import ragged
from ..geometry.sampling import R2
from .rays import ParallelRays

SAMPLES_IN_ALL = 10_000  # places looked at
MIN_SAMPLES_A_SHELL = 16  # least samples of each shell
HELD_SHARE = 0.999  # share of a shell inside another that counts as all of it
SLIGHT_SHARE = 3e-4  # share of a shell inside another below which it is sampling noise
ASKEW = np.array([0.3127, 0.1873, 0.9312])  # along no axis or diagonal that a model is likely to have


class Nesting(NamedTuple):
    """depth : (s,) int32, how many closed shells hold all of a shell
    covered : (k,) int32, triangles found to lie, in part at least, inside a shell that does not hold all of theirs
    covered_area : m2, the area that lies so, estimated from the places looked at
    crossing : number of shells that run into another or into themselves
    """

    depth: NDArray[np.int32]
    covered: NDArray[np.int32]
    covered_area: float
    crossing: int


def nest(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    shell: NDArray[np.int32],
    closed: NDArray[np.bool_],
    area: NDArray[np.float64],
    normal: NDArray[np.float64],
    lift: float,
) -> Nesting:
    """Nesting of the `len(closed)` shells.

    shell : (m,); area : (m,) m2, zero on triangles to pass over; normal : (m, 3), outward on closed
    shells; lift : m, how far off a triangle to look.

    From just above and just below each sample a ray runs out; closed shell B holds that place where the
    ray leaves B more often than it enters (the winding number of B there is not zero). A sample that B
    holds below but not above lies flush in the face of B: that face is there twice, so half of it is counted.
    """
    shells = len(closed)
    depth = np.zeros(shells, dtype=np.int32)
    sample, weight, share = _samples(shell, closed, area)
    place = np.einsum("kc,kcx->kx", share, points[triangles[sample]])
    rise = lift * normal[sample]
    wall = np.flatnonzero(closed[shell] & (area > 0))
    both = np.vstack([place + rise, place - rise])
    held_at = _holders(points, triangles[wall], shell[wall], shells, normal[wall], both)
    above, below = held_at[held_at < len(place) * shells], held_at[held_at >= len(place) * shells]
    below = below - len(place) * shells
    flush = np.setdiff1d(below, above, assume_unique=True)
    flush = flush[shell[sample[flush // shells]] != flush % shells]
    looked = np.zeros(shells) + np.bincount(shell[sample], weight, minlength=shells)

    held, by, part, pair = _shares(above, shell[sample], weight, looked)
    wholly = (part > HELD_SHARE) & (held != by)
    np.add.at(depth, held[wholly], 1)
    # enclosed shells are not wetted anyway; all others should lie in no shell
    crossed = ~wholly & (part > SLIGHT_SHARE) & (depth[held] == 0)
    inside = np.unique(above[crossed[pair]] // shells)
    crossing = [held[crossed], by[crossed]]

    held, by, part, pair = _shares(flush, shell[sample], weight, looked)
    crossed = (part > SLIGHT_SHARE) & (depth[held] == 0)
    twice = np.setdiff1d(flush[crossed[pair]] // shells, inside)
    crossing += [held[crossed], by[crossed]]

    covered = np.unique(sample[np.append(inside, twice)]).astype(np.int32)
    covered_area = float(weight[inside].sum() + 0.5 * weight[twice].sum())
    return Nesting(depth, covered, covered_area, len(np.unique(np.concatenate(crossing))))


def _shares(
    pairs: NDArray[np.int64], own: NDArray[np.int32], weight: NDArray[np.float64], looked: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64], NDArray[np.intp]]:
    """Shells held and holding, the share of the held one's samples that is, and which of these each pair is of.

    pairs : sample x shells + holding shell; own : (k,) shell of each sample; looked : (s,) weight in each shell
    """
    shells = len(looked)
    sample, holder = np.divmod(pairs, shells)
    key, place = np.unique(own[sample].astype(np.int64) * shells + holder, return_inverse=True)
    held, by = np.divmod(key, shells)
    return held, by, np.bincount(place, weight[sample], minlength=len(key)) / looked[held], place


def _holders(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    shell: NDArray[np.int32],
    shells: int,
    normal: NDArray[np.float64],
    origin: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Pairs of an origin and a shell that holds it, as origin x shells + shell; rising."""
    leaves = np.where(normal @ ASKEW > 0, 1, -1)
    key, way = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for ray, met, _ in ParallelRays(points, triangles, ASKEW, slack=0.0).hits(origin):
        key.append(ray * shells + shell[met])
        way.append(leaves[met])
    pair, place = np.unique(np.concatenate(key), return_inverse=True)
    winding = np.bincount(place, np.concatenate(way), minlength=len(pair))
    return pair[winding != 0]


def _samples(
    shell: NDArray[np.int32], closed: NDArray[np.bool_], area: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]]:
    """Triangles to look at, the area that each place stands for, and its barycentric coordinates (k, 3).

    Places are spread evenly over the area of each shell, and a little towards the middle of a triangle:
    at a sharp inner edge the neighbor would hide them.
    """
    shells = len(closed)
    face = np.flatnonzero(area > 0) if closed.any() else np.zeros(0, dtype=np.intp)
    if shells > 1:
        face = face[np.argsort(shell[face], kind="stable")]
    total = np.bincount(shell[face], area[face], minlength=shells)
    wanted = SAMPLES_IN_ALL * total / max(total.sum(), np.finfo(float).tiny)
    count = np.where(total > 0, np.maximum(np.ceil(wanted), MIN_SAMPLES_A_SHELL), 0).astype(np.intp)
    step = np.divide(total, count, out=np.zeros(shells), where=count > 0)
    rank = ragged.places(count)
    target = np.repeat(np.cumsum(total) - total, count) + (rank + 0.5) * np.repeat(step, count)
    place = np.searchsorted(np.cumsum(area[face]), target)
    b, c = (rank * ratio % 1.0 for ratio in R2)
    over = b + c > 1.0  # fold the square onto the triangle
    b, c = np.where(over, 1.0 - b, b), np.where(over, 1.0 - c, c)
    share = 0.1 / 3.0 + 0.9 * np.stack([1.0 - b - c, b, c], axis=1)
    return face[np.minimum(place, len(face) - 1)], np.repeat(step, count), share
