"""Caging by bars that run along the rod around the part: where they stand, and how far the part can still move.

The part among the bars is a flat outline among points: it is caged where no way leads out of the free part of its
configuration space (two shifts and a turn) that it begins in; this is caging as robotics uses the term (E. Rimon and
A. Blake, Int. J. Robotics Research; abstract read). That space is flooded here on a grid whose steps are less than the
play.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..units import MM
from .lattice import Array
from .silhouette import Silhouette

MAX_TURN = np.radians(15)  # rad, range of the search; a part that can turn this far turns freely
GOOD_TURN = np.radians(6)  # rad, turn that does not count as another way up: common practice, no source
LEEWAY_M = 2.5 * MM  # m beyond the play: a part that can shift further is not held
ROUND = 0.15  # of the outline's radius: an outline with smaller deviation counts as round, and its turn does not matter
APART_M = 2.0 * MM  # between bars
ON_EDGE = 16  # places on a bar's edge that are tested
NUDGES = (0.0, 0.06, -0.06, 0.12, -0.12)  # of a side, by which a bar gives way to a vent or a face that shows
SETS = (  # side of the outline, and how far along it; fewer bars first
    ("B50", "T50", "L50", "R50"),
    ("B25", "B75", "T50", "L50", "R50"),
    ("B25", "B75", "T25", "T75", "L50", "R50"),
    ("B50", "T50", "L20", "L80", "R20", "R80"),
    ("B20", "B80", "T50", "L20", "L80", "R20", "R80"),
    ("B20", "B80", "T20", "T80", "L20", "L80", "R20", "R80"),
    ("B10", "B90", "T10", "T90", "L10", "L90", "R10", "R90"),
)


@dataclass(frozen=True, eq=False)
class Caged:
    """Bars (k, 2) m, v and z of their middles; below : (k,) whether the part lies on it

    shift : m that the part can be moved at most, square to the rod; turn : rad, None where it turns freely
    """

    bars: Array
    below: NDArray[np.bool_]
    shift: float
    turn: float | None


def find(outline: Silhouette, half: float, play: float, fit: Callable[[Array], bool]) -> Caged | None:
    """The fewest bars that cage the part; None where none do. half : m, half a diagonal of a bar; play : m to the part

    fit : whether a bar may stand at a place (2,).
    """
    near = outline.widened(half, play)
    best: Caged | None = None
    for sides in SETS:
        bars = list(_placed(outline, near, sides, fit))
        if len(bars) < len(sides) or _least_apart(np.array(bars)) < 2 * half + APART_M:
            continue
        shift, turn = _movable(outline, np.array(bars), half, play)
        if shift > play + LEEWAY_M:
            continue
        below = np.array([side.startswith("B") for side in sides])
        caged = Caged(np.array(bars), below, shift, turn if turn < MAX_TURN else None)
        if turn <= GOOD_TURN or (caged.turn is None and _is_round(outline)):
            return caged
        if best is None or turn < (MAX_TURN if best.turn is None else best.turn):
            best = caged
    return best


def _placed(
    outline: Silhouette, near: NDArray[np.bool_], sides: tuple[str, ...], fit: Callable[[Array], bool]
) -> Iterator[Array]:
    """(2,) m, where each bar stands; those that may stand nowhere are left out."""
    for side in sides:
        for nudge in NUDGES:
            at = _against(outline, near, side[0], int(side[1:]) / 100 + nudge)
            if at is not None and fit(at):
                yield at
                break


def _against(outline: Silhouette, near: NDArray[np.bool_], side: str, share: float) -> Array | None:
    """The place on one side of the outline, the nearest to it that is free."""
    axis = 0 if side in "BT" else 1
    along = (outline.v, outline.z)[axis]
    wanted = outline.middle[axis] + (share - 0.5) * outline.size[axis]
    k = int(np.argmin(np.abs(along - wanted)))
    line = np.flatnonzero(near[k] if axis == 0 else near[:, k])
    if not len(line):
        return None
    across = (outline.v, outline.z)[1 - axis]
    end = int(line[0]) - 1 if side in "BL" else int(line[-1]) + 1
    if not 0 <= end < len(across):
        return None
    return np.array([along[k], across[end]] if axis == 0 else [across[end], along[k]])


def _least_apart(bars: Array) -> float:
    away = np.linalg.norm(bars[:, None] - bars, axis=2)
    return float(away[~np.eye(len(bars), dtype=bool)].min())


def _is_round(outline: Silhouette) -> bool:
    """Whether the outline's support is that of a circle."""
    i, j = np.nonzero(outline.solid)
    points = np.column_stack([outline.v[i], outline.z[j]]) - outline.middle
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    reach = (points @ np.stack([np.cos(angle), np.sin(angle)])).max(axis=0)
    return bool(reach.min() > (1.0 - ROUND) * reach.max())


def _movable(outline: Silhouette, bars: Array, half: float, play: float) -> tuple[float, float]:
    """The largest shift (m) and turn (rad) of the part from its place, by flooding its configuration space."""
    step = play / 2
    steps = int(np.ceil((play + LEEWAY_M) / step)) + 1
    shifts = step * np.arange(-steps, steps + 1)
    most = int(np.ceil(MAX_TURN / (play / 2 / outline.reach)))
    turns = MAX_TURN * np.arange(-most, most + 1) / most
    free = np.stack([_free(outline, bars, half, shifts, turn) for turn in turns])
    reached = np.zeros_like(free)
    reached[most, steps, steps] = True
    count = 0
    while count != (count := int(reached.sum())):
        for axis in range(3):
            for way in (1, -1):
                grown = np.roll(reached, way, axis=axis)
                np.moveaxis(grown, axis, 0)[0 if way > 0 else -1] = False
                reached |= grown & free
    turn, v, z = np.nonzero(reached)
    return float(np.hypot(shifts[v], shifts[z]).max()), float(np.abs(turns[turn]).max())


def _free(outline: Silhouette, bars: Array, half: float, shifts: Array, turn: float) -> NDArray[np.bool_]:
    """(k, k) whether no bar is in the part, shifted by each pair and turned about its middle."""
    corner = half * np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])
    share = np.arange(ON_EDGE // 4)[:, None] * 4 / ON_EDGE
    edge = np.concatenate([(1 - share) * a + share * b for a, b in zip(corner, np.roll(corner, -1, 0), strict=True)])
    places = (bars[:, None] + edge).reshape(-1, 2) - outline.middle
    level = np.stack(np.meshgrid(shifts, shifts, indexing="ij"), axis=-1)
    moved = places - level[:, :, None]
    cosine, sine = np.cos(turn), np.sin(turn)
    v = outline.middle[0] + cosine * moved[..., 0] + sine * moved[..., 1]
    z = outline.middle[1] - sine * moved[..., 0] + cosine * moved[..., 1]
    return ~outline.at(v, z).any(axis=2)
