"""The demo part: a finial for a newel post, 60 mm tall, as a joiner would have it printed and plated.

python docs/demo/finial.py FINIAL.stl [TRIANGLES]

One of a batch of twelve for a staircase. A turned profile with a sharp rim under a fluted ball; below, a
bell-shaped hollow that sits over the post's top; at its crown, a blind hole for the dowel. Watertight by
construction: the surface is one grid of rings about the axis, closed by a point at either end.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

# The profile from the top of the ball down the outside, over the foot, up the bell and the dowel hole, to
# the axis again: (radius, height) in mm, one list for each stretch; stretches meet in a crease.
BALL = [(0.0, 60.0), (4.5, 59.3), (8.6, 56.6), (11.3, 52.0), (12.0, 47.0), (11.0, 42.0), (8.2, 37.6), (6.0, 36.0)]
NECK = [(6.0, 36.0), (5.2, 34.6), (5.2, 33.0), (6.2, 31.6), (9.0, 30.4)]
RIM_ABOVE = [(9.0, 30.4), (14.0, 29.6), (19.0, 28.8)]
RIM_BELOW = [(19.0, 28.8), (15.8, 27.9), (13.6, 26.2)]
SKIRT = [(13.6, 26.2), (12.8, 22.0), (13.4, 16.0), (15.6, 9.0), (18.6, 4.0), (20.0, 2.4)]
FOOT = [(20.0, 2.4), (20.0, 0.0)]
UNDERSIDE = [(20.0, 0.0), (17.0, 0.0)]
BELL = [(17.0, 0.0), (16.2, 3.0), (13.4, 8.5), (11.0, 14.0), (9.4, 19.0), (7.4, 22.4), (4.0, 24.0)]
DOWEL = [(4.0, 24.0), (4.0, 44.0)]
BLIND = [(4.0, 44.0), (0.0, 44.0)]
STRETCHES = (BALL, NECK, RIM_ABOVE, RIM_BELOW, SKIRT, FOOT, UNDERSIDE, BELL, DOWEL, BLIND)

FLUTES, DEPTH = 12, 0.9  # on the ball: how many, and how deep in mm
FLUTED = (38.5, 57.0)  # mm: heights between which they fade in and out
TRIANGLES = 28_000


def finial(triangles: int = TRIANGLES) -> NDArray[np.float32]:
    """Corners (m, 3, 3) in mm, normals out of the solid."""
    around = max(48, round((triangles / 2 * 0.85) ** 0.5 / FLUTES) * FLUTES)
    profile = _profile(max(40, round(triangles / 2 / around)))
    rings = _rings(profile[1:-1], around)
    return _corners(rings, _axis(profile[0]), _axis(profile[-1]))


def _profile(count: int) -> NDArray[np.float64]:
    """About `count` points (radius, height) along the stretches, evenly by length, creases kept."""
    curves = [_smooth(np.array(stretch)) for stretch in STRETCHES]
    lengths = [np.linalg.norm(np.diff(curve, axis=0), axis=1).sum() for curve in curves]
    found = [curves[0][:1]]
    for curve, length in zip(curves, lengths, strict=True):
        pieces = max(2, round(count * length / sum(lengths)))
        along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))]
        at = np.linspace(0.0, along[-1], pieces + 1)[1:]
        found.append(np.stack([np.interp(at, along, curve[:, k]) for k in (0, 1)], axis=1))
    return np.vstack(found)


def _smooth(points: NDArray[np.float64], fine: int = 32) -> NDArray[np.float64]:
    """A curve through the points (centripetal slopes, cubic Hermite pieces), finely cut."""
    if len(points) == 2:
        return points
    chord = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))]
    slope = np.gradient(points, chord, axis=0)
    step = np.diff(chord)[:, None, None]
    t = np.linspace(0.0, 1.0, fine, endpoint=False)[None, :, None]
    a, b, u, v = (x[:, None, :] for x in (points[:-1], points[1:], slope[:-1], slope[1:]))
    curve = (2 * t**3 - 3 * t**2 + 1) * a + (t**3 - 2 * t**2 + t) * step * u
    curve = curve + (3 * t**2 - 2 * t**3) * b + (t**3 - t**2) * step * v
    return np.vstack([curve.reshape(-1, 2), points[-1:]])


def _rings(profile: NDArray[np.float64], around: int) -> NDArray[np.float64]:
    """The profile turned about the axis, (rows, around, 3), with the flutes cut into the ball."""
    angle = np.arange(around) * 2 * np.pi / around
    radius, height = profile[:, :1], profile[:, 1:]
    low, high = FLUTED
    rise = np.clip((height - low) / (high - low), 0.0, 1.0)
    outside = np.arange(len(profile))[:, None] < np.argmin(np.abs(profile[:, 1] - low))
    cut = DEPTH * np.sin(np.pi * rise) ** 0.5 * np.abs(np.cos(FLUTES * angle / 2)) ** 4 * outside
    radius = radius - cut
    return np.stack([radius * np.cos(angle), radius * np.sin(angle), height + 0 * angle], axis=-1)


def _axis(point: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.array([0.0, 0.0, point[1]])


def _corners(rings: NDArray[np.float64], top: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.float32]:
    """Two triangles a cell of the grid, and a fan at either end."""
    after = np.roll(rings, -1, axis=1)
    a, b, c, d = rings[:-1], rings[1:], after[1:], after[:-1]
    cells = np.stack([a, b, c, a, c, d], axis=-2).reshape(-1, 3, 3)
    first = np.stack([np.broadcast_to(top, rings[0].shape), rings[0], after[0]], axis=1)
    last = np.stack([np.broadcast_to(end, rings[-1].shape), after[-1], rings[-1]], axis=1)
    return np.concatenate([first, cells, last]).astype(np.float32)


def write(path: Path, corners: NDArray[np.float32]) -> None:
    """As binary STL."""
    record = np.zeros(len(corners), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    record["normal"] = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    record["corners"] = corners
    header = b"newel-post finial, millimeters".ljust(80) + len(corners).to_bytes(4, "little")
    path.write_bytes(header + record.tobytes())


if __name__ == "__main__":
    write(Path(sys.argv[1]), finial(*map(int, sys.argv[2:3])))
