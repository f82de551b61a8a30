"""The models and jobs of the tasks in docs/tasks, each from a few figures that its page tells.

python docs/tasks/jobs.py FOLDER

Writes NAME.toml and its model for every task. Needs numpy alone.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "gallery"))
import shapes  # noqa: E402

Array = NDArray[np.float64]
AROUND = 96  # steps of a round part
FINE = 1.6  # mm: the longest stretch of a profile

# (radius, height) in mm from the rim to the crown. What the inside encloses is air when the bell hangs mouth down.
BELL_INSIDE = [(27.5, 0.0), (22.0, 7.0), (18.2, 16.0), (16.1, 28.0), (14.3, 36.0), (11.5, 40.3), (0.0, 42.0)]
BELL_OUTSIDE = [
    (0.0, 46.0),
    (9.0, 45.0),
    (13.0, 43.0),
    (16.5, 38.0),
    (18.5, 28.0),
    (20.5, 17.0),
    (24.0, 8.0),
    (30.0, 1.0),
]

SCREW = {"across_mm": 13.0, "head_mm": 5.3, "shank_mm": 8.0, "long_mm": 30.0, "nut_mm": 6.5, "bore_mm": 8.4}
KNOB_MM = [(0.0, 26.0), (8.0, 25.0), (13.0, 20.0), (13.0, 14.0), (7.0, 8.0), (6.0, 4.0), (9.0, 0.0), (0.0, 0.0)]
CUP = {"outer_mm": 20.0, "inner_mm": 18.0, "deep_mm": 30.0, "lost": 12}  # a scan that lost so many triangles


def bell() -> Array:
    """A bell without a hole in its crown."""
    profile = [*BELL_OUTSIDE, (30.0, 0.0), *BELL_INSIDE]
    return shapes.turned(shapes.refined(profile, FINE), AROUND)


def bolt() -> Array:
    """A round shank under a six-sided head; its thread is cut after plating."""
    angle = _angles()
    head, shank = _hexagon(angle), SCREW["shank_mm"] / 2 * _circle(angle)
    long, top = SCREW["long_mm"], SCREW["long_mm"] + SCREW["head_mm"]
    rise = [_at(share * shank, 0.0) for share in (0.3, 0.65)] + [_at(shank, z) for z in np.linspace(0.0, long, 20)]
    rise += [_at(shank + share * (head - shank), long) for share in (0.5, 1.0)]
    rise += [_at(head, z) for z in np.linspace(long, top, 5)[1:]] + [
        _at(share * head, top) for share in (0.75, 0.5, 0.25)
    ]
    return _capped(np.array(rise))


def nut() -> Array:
    """A six-sided nut with a plain bore."""
    angle = _angles()
    return shapes.bored(_hexagon(angle), SCREW["bore_mm"] / 2 * _circle(angle), np.linspace(0.0, SCREW["nut_mm"], 6))


def knob() -> Array:
    """A drawer knob, one of six."""
    return shapes.turned(shapes.refined(KNOB_MM, FINE), AROUND)


def scan() -> Array:
    """A cup as a scanner gives it: in meters, a little rough, a few triangles lost."""
    outer, inner, deep = CUP["outer_mm"], CUP["inner_mm"], CUP["deep_mm"]
    profile = [(0.0, 0.0), (outer, 0.0), (outer, deep), (inner, deep), (inner, 2.0), (0.0, 2.0)]
    corners = shapes.turned(shapes.refined(profile, FINE), AROUND)
    place = np.round(corners.reshape(-1, 3), 6)
    points, index = np.unique(place, axis=0, return_inverse=True)
    points = points + np.random.default_rng(1).normal(scale=0.02, size=points.shape)
    rough = points[index.ravel()].reshape(-1, 3, 3)
    lost = np.arange(400, 400 + 37 * int(CUP["lost"]), 37)
    return np.delete(rough, lost, axis=0) * 1e-3


def _angles() -> Array:
    return 2 * np.pi * np.arange(AROUND) / AROUND


def _circle(angle: Array) -> Array:
    return np.column_stack([np.cos(angle), np.sin(angle)])


def _hexagon(angle: Array) -> Array:
    """(n, 2) the outline of a hexagon across flats, with points at these angles; its corners are among them."""
    within = (angle + np.pi / 6) % (np.pi / 3) - np.pi / 6
    return SCREW["across_mm"] / 2 / np.cos(within)[:, None] * _circle(angle)


def _at(outline: Array, z: float) -> Array:
    return np.column_stack([outline, np.full(len(outline), z)])


def _capped(loops: Array) -> Array:
    """Loops (k, n, 3) with a fan over the first and the last one."""
    after = np.roll(loops, -1, axis=1)
    sides = shapes.strip(loops)
    ends = [np.broadcast_to(loops[k].mean(axis=0), loops[k].shape) for k in (0, -1)]
    first = np.stack([ends[0], loops[0], after[0]], axis=1)
    last = np.stack([ends[1], after[-1], loops[-1]], axis=1)
    return shapes.outward(np.concatenate([sides, first, last]))


MODELS = {"bell": bell, "bolt": bolt, "nut": nut, "knob": knob, "scan": scan}
COPPER = '[bath]\nname = "acid copper, decorative"\n[coat]\nname = "copper paint"\n'
JOBS = {
    "hang-a-bell": f'[part]\nfile = "bell.stl"\n[target]\nthickness_um = 60\n{COPPER}',
    "bolt": f'[part]\nfile = "bolt.stl"\nwalls_mm = 2\n[target]\nthickness_um = 20\n{COPPER}thickness_um = 30\n',
    "nut": f'[part]\nfile = "nut.stl"\nwalls_mm = 2\n[target]\nthickness_um = 20\n{COPPER}thickness_um = 30\n',
    "six-parts": f'[part]\nfile = "knob.stl"\n[target]\nthickness_um = 20\n[rack]\nsuggest = 6\n{COPPER}',
    "scan": f'[part]\nfile = "scan.stl"\nunit = "m"\n[target]\nthickness_um = 30\n{COPPER}',
    "copper": f'[part]\nfile = "knob.stl"\n[target]\nthickness_um = 20\n{COPPER}',
    "nickel": '[part]\nfile = "knob.stl"\n[target]\nthickness_um = 10\ndensity_A_dm2 = 3\n'
    '[bath]\nname = "nickel, Watts"\n[coat]\nname = "none (metal part)"\n',
}


def write(folder: Path) -> None:
    """The models and their jobs."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in MODELS.items():
        shapes.write(folder / f"{name}.stl", make(), name)
    for name, job in JOBS.items():
        (folder / f"{name}.toml").write_text(job, encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
