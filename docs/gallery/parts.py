"""Twelve parts of one old house, as a restorer's shop prints and plates them: a week's orders, a model and a job each.

python docs/gallery/parts.py FOLDER

Writes NAME.stl and NAME.toml for every part. Needs numpy alone.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import shapes

Array = NDArray[np.float64]
AROUND = 96  # steps of a turned part
FINE = 1.6  # mm: the longest stretch of a profile


@dataclass(frozen=True)
class Order:
    """A part with what its job says beyond the defaults, as TOML."""

    make: Callable[[], Array]
    what: str
    job: str


def finial() -> Array:
    """An urn for a gate post, with a blind socket for its dowel."""
    profile = [(0, 70), (3, 69), (4.5, 66), (3, 62.5), (2.6, 60), (9, 56), (14, 51), (16, 44), (14.5, 36), (10, 29)]
    profile += [(8, 26), (7.5, 21), (9, 18), (15, 15), (17, 13), (17, 3), (19, 0), (5, 0), (5, 24), (0, 24)]
    return shapes.turned(shapes.refined(profile, FINE), AROUND)


def bell() -> Array:
    """A servants' bell: a wall of 2.4 mm, the bore of its clapper's pin through the crown."""
    outside = [(2, 50), (6, 50), (7, 46), (13, 43), (16.5, 38), (18.5, 28), (20.5, 17), (24, 8), (30, 1), (30, 0)]
    inside = [(27.5, 0), (22, 7), (18.2, 16), (16.1, 28), (14.3, 36), (11.5, 40.3), (2, 42)]
    closed = shapes.refined([*outside, *inside, outside[0]], FINE)
    return shapes.hollow(closed[:-1], AROUND)


BOWL = {"outer_mm": 40.0, "inner_mm": 37.5}  # radii about one center, of half balls


def bowl() -> Array:
    """A sugar bowl: half a ball of 80 mm with a wall of 2.5 mm, open upwards."""
    turn = np.linspace(0.0, np.pi / 2, 40)
    outer = BOWL["outer_mm"] * np.column_stack([np.sin(turn), -np.cos(turn)])
    inner = BOWL["inner_mm"] * np.column_stack([np.sin(turn), -np.cos(turn)])
    profile = np.vstack([outer, inner[::-1]])
    profile[np.abs(profile) < 1e-9] = 0.0
    return shapes.turned(profile, AROUND)


GEAR = {"teeth": 18, "root_mm": 24.0, "tip_mm": 29.0, "bore_mm": 5.0, "thick_mm": 8.0}


def gear_outlines() -> tuple[Array, Array]:
    """(n, 2) the outline of the teeth and of the bore, points at the same angles."""
    phase = np.array([0.0, 0.06, 0.14, 0.22, 0.25, 0.28, 0.36, 0.44, 0.50, 0.62, 0.75, 0.88])
    high = np.interp(phase, [0.0, 0.22, 0.28, 0.50, 1.0], [0.0, 1.0, 1.0, 0.0, 0.0])
    angle = 2 * np.pi * (np.arange(GEAR["teeth"])[:, None] + phase).ravel() / GEAR["teeth"]
    way = np.column_stack([np.cos(angle), np.sin(angle)])
    tooth = GEAR["root_mm"] + np.tile(high, int(GEAR["teeth"])) * (GEAR["tip_mm"] - GEAR["root_mm"])
    return tooth[:, None] * way, GEAR["bore_mm"] * way


def gear() -> Array:
    """A wheel of the hall clock, 18 teeth, with its bore."""
    outer, bore = gear_outlines()
    between = [bore + (outer - bore) * share for share in (0.12, 0.25, 0.4, 0.55, 0.7, 0.85)]
    levels = np.linspace(0.0, GEAR["thick_mm"], 6)
    flat = [np.column_stack([one, np.full(len(one), z)]) for z in (0.0, GEAR["thick_mm"]) for one in between]
    low, high = flat[: len(between)], flat[len(between) :]
    rise = [np.column_stack([outer, np.full(len(outer), z)]) for z in levels]
    fall = [np.column_stack([bore, np.full(len(bore), z)]) for z in levels[::-1]]
    return shapes.loft(np.array([*low, *rise, *high[::-1], *fall]))


LATTICE = {"cells": 3, "pitch_mm": 14.0, "strut_mm": 3.0}


def lattice() -> Array:
    """A lantern's grating: square struts along three axes, three cells a side."""
    starts = np.arange(LATTICE["cells"] + 1) * LATTICE["pitch_mm"]
    inner = np.array([1.0, 2.0]) * LATTICE["strut_mm"] / 2
    gap = LATTICE["strut_mm"] + (LATTICE["pitch_mm"] - LATTICE["strut_mm"]) * np.arange(1, 6) / 6
    plane = np.unique(np.concatenate([[start, *(start + inner), *(start + gap)] for start in starts]).round(6))
    plane = plane[plane <= starts[-1] + LATTICE["strut_mm"] + 1e-6]
    on = (0.5 * (plane[:-1] + plane[1:]) % LATTICE["pitch_mm"]) < LATTICE["strut_mm"]
    x, y, z = np.meshgrid(on, on, on, indexing="ij")
    return shapes.blocks((plane, plane, plane), (x & y) | (y & z) | (x & z))


def figure() -> Array:
    """A small standing figure for a niche: limbs that flow into each other."""
    limbs = [  # both ends, both radii, mm
        ((0, 0, 52), (0, 0, 52), 7.5, 7.5),
        ((0, 0, 42), (0, 0, 24), 7.0, 8.5),
        ((-7, 0, 40), (-16, -3, 24), 3.2, 2.6),
        ((7, 0, 40), (14, -9, 33), 3.2, 2.6),
        ((-4.5, 0, 24), (-5.5, 0, 4), 4.6, 3.6),
        ((4.5, 0, 24), (6.0, 2, 4), 4.6, 3.6),
        ((-5, 1, 3.5), (6, 1, 3.5), 8.0, 8.0),
    ]

    def inside(points: Array) -> Array:
        total = np.zeros(points.shape[:-1])
        for start, end, wide, narrow in limbs:
            a, b = np.array(start, float), np.array(end, float)
            along = np.clip((points - a) @ (b - a) / max(float((b - a) @ (b - a)), 1e-9), 0.0, 1.0)
            far = np.linalg.norm(points - a - along[..., None] * (b - a), axis=-1)
            total += np.exp(np.clip((wide + (narrow - wide) * along - far) / 1.1, -40.0, 40.0))
        floor = points[..., 2]  # its base is cut flat, with a rounded edge
        smooth = 1.1 * np.log(np.maximum(total, 1e-18))
        return -0.6 * np.log(np.exp(-np.clip(smooth, -20, 20) / 0.6) + np.exp(-np.clip(floor, -20, 20) / 0.6))

    return shapes.carved(inside, np.array([-22.0, -18.0, -3.0]), np.array([22.0, 14.0, 63.0]), 1.1)


RING = {"ring_mm": 22.0, "wire_mm": 4.0}  # radius of its middle line, of its section


def ring() -> Array:
    """A curtain ring: a torus."""
    turn = 2 * np.pi * np.arange(32) / 32
    section = np.column_stack([RING["ring_mm"] + RING["wire_mm"] * np.cos(turn), RING["wire_mm"] * np.sin(turn)])
    return shapes.hollow(section, AROUND)


BOX = {"long_mm": 60.0, "wide_mm": 40.0, "high_mm": 30.0, "wall_mm": 2.5, "lip_mm": 2.0}


def box() -> Array:
    """A snuff box and, beside it, its lid with a lip that fits inside: two pieces in one file."""
    x, y, wall, lip = BOX["long_mm"], BOX["wide_mm"], BOX["wall_mm"], BOX["lip_mm"]
    planes = (_planes(0, wall, x - wall, x), _planes(0, wall, y - wall, y), _planes(0, wall, BOX["high_mm"]))
    at = np.meshgrid(*(0.5 * (one[:-1] + one[1:]) for one in planes), indexing="ij")
    hollow = (at[0] > wall) & (at[0] < x - wall) & (at[1] > wall) & (at[1] < y - wall) & (at[2] > wall)
    body = shapes.blocks(planes, ~hollow)
    gap = wall + 0.3
    planes = (_planes(0, gap, x - gap, x), _planes(0, gap, y - gap, y), _planes(0, wall, wall + lip))
    at = np.meshgrid(*(0.5 * (one[:-1] + one[1:]) for one in planes), indexing="ij")
    within = (at[0] > gap) & (at[0] < x - gap) & (at[1] > gap) & (at[1] < y - gap)
    lid = shapes.blocks(planes, (at[2] < wall) | within)
    return np.concatenate([body, lid + np.array([0.0, y + 12.0, 0.0])])


def knob() -> Array:
    """A fluted cabinet knob with a blind hole for its screw."""
    profile = [(0, 30), (7, 29.6), (13, 27.5), (16, 23.5), (16.4, 19), (14, 14.5), (9, 11), (7, 7), (7.5, 3), (10, 1)]
    profile += [(10, 0), (2, 0), (2, 14), (0, 14)]

    def flutes(z: Array, angle: Array) -> Array:
        fade = np.exp(-(((z - 21.0) / 5.0) ** 2))
        outside = np.arange(len(z))[:, None] < 0.6 * len(z)
        return 1.0 - 0.07 * fade * np.cos(8 * angle / 2) ** 2 * outside

    return shapes.turned(shapes.refined(profile, FINE), AROUND, flutes)


HORN = {"throat_mm": (22.9, 10.2), "mouth_mm": (60.0, 44.0), "long_mm": 60.0, "neck_mm": 18.0, "wall_mm": 2.0}


def horn() -> Array:
    """The horn antenna of an amateur's mast: a rectangular throat that widens to its mouth, open at both ends."""
    neck, high, wall = HORN["neck_mm"], HORN["neck_mm"] + HORN["long_mm"], HORN["wall_mm"]
    throat, mouth = np.array(HORN["throat_mm"]), np.array(HORN["mouth_mm"])
    levels = [*np.linspace(0, neck, 8)[:-1], *np.linspace(neck, high, 22)]
    sides = [throat + (mouth - throat) * max(0.0, (z - neck) / HORN["long_mm"]) for z in levels]
    inner = [_rectangle(side, z) for side, z in zip(sides, levels, strict=True)]
    outer = [_rectangle(side + 2 * wall, z) for side, z in zip(sides, levels, strict=True)]
    return shapes.loft(np.array([*outer, *inner[::-1]]))


def medallion() -> Array:
    """A relief for a mantelpiece: a rosette of four leaves on a plate of 60 by 60 mm."""
    cells = 72
    x, y = np.meshgrid(*(np.linspace(-1.0, 1.0, cells + 1),) * 2, indexing="ij")
    radius, angle = np.hypot(x, y), np.arctan2(y, x)
    leaf = (
        np.maximum(0.0, np.cos(4 * angle)) ** 0.6 * np.clip((0.85 - radius) / 0.25, 0, 1) * np.clip(radius / 0.3, 0, 1)
    )
    bud = np.sqrt(np.clip(1 - (radius / 0.22) ** 2, 0, 1))
    rim = np.clip(1 - np.abs(np.maximum(np.abs(x), np.abs(y)) - 0.93) / 0.05, 0, 1)
    return shapes.relief(3.0 + 4.0 * np.maximum(np.maximum(leaf, bud), rim), 60.0 / cells)


BRACKET = {"wide_mm": 24.0, "leg_mm": 50.0, "thick_mm": 5.0, "hole_mm": 6.0, "rib_mm": 5.0}


def bracket() -> Array:
    """A shelf bracket: two legs, a stepped rib between them, a square hole for a coach bolt in each leg."""
    wide, leg, thick, hole, rib = (BRACKET[key] for key in ("wide_mm", "leg_mm", "thick_mm", "hole_mm", "rib_mm"))
    middle, far = wide / 2, leg - 15.0
    steps = [thick + k * (leg - 20.0 - thick) / 4 for k in range(5)]
    across = _planes(0, middle - hole / 2, middle - rib / 2, middle + rib / 2, middle + hole / 2, wide)
    along = _planes(0, *steps, far, far + hole, leg)
    planes = (across, along, along)
    x, y, z = np.meshgrid(*(0.5 * (one[:-1] + one[1:]) for one in planes), indexing="ij")
    square = np.abs(x - middle) < hole / 2
    legs = ((z < thick) & ~(square & (y > far) & (y < far + hole))) | (
        (y < thick) & ~(square & (z > far) & (z < far + hole))
    )
    below = (np.searchsorted(steps, y) + np.searchsorted(steps, z) < 6) & (np.maximum(y, z) < steps[-1])
    return shapes.blocks(planes, legs | (below & (np.abs(x - middle) < rib / 2)))


def _planes(*stops: float, most: float = 3.0) -> Array:
    """Planes at the stops, and between them no further apart than `most` mm."""
    return np.unique(shapes.refined([(stop, 0.0) for stop in sorted(set(stops))], most)[:, 0].round(6))


def _rectangle(side: Array, z: float, pieces: int = 14) -> Array:
    """(4 pieces, 3) the outline of a rectangle about the origin."""
    x, y = side / 2
    corners = [(x, y), (-x, y), (-x, -y), (x, -y), (x, y)]
    share = np.arange(pieces)[:, None] / pieces
    edges = [np.array(a) + share * (np.array(b) - np.array(a)) for a, b in zip(corners[:-1], corners[1:], strict=True)]
    outline = np.vstack(edges)
    return np.column_stack([outline, np.full(len(outline), z)])


COPPER = 'bath.name = "acid copper, decorative"\ncoat.name = "copper paint"\n'
NICKEL = 'bath.name = "nickel, Watts"\ncoat.name = "copper paint"\n'
ORDERS: dict[str, Order] = {
    "finial": Order(finial, "socketed finial", "target.thickness_um = 40\n" + COPPER),
    "bell": Order(bell, "bell", "target.thickness_um = 60\n" + COPPER),
    "bowl": Order(bowl, "bowl", "target.thickness_um = 30\n" + COPPER),
    "gear": Order(gear, "gear", "target.thickness_um = 25\n" + COPPER),
    "lattice": Order(lattice, "lattice", "target.thickness_um = 30\n" + COPPER),
    "figure": Order(figure, "figure", "target.thickness_um = 30\n" + COPPER),
    "ring": Order(ring, "ring", 'part.material = "PETG"\ntarget.thickness_um = 20\n' + NICKEL),
    "box": Order(box, "box with lid", "target.thickness_um = 20\n" + COPPER),
    "knob": Order(knob, "knob", "target.thickness_um = 15\n" + NICKEL),
    "horn": Order(horn, "antenna horn", "target.thickness_um = 25\n" + COPPER),
    "relief": Order(medallion, "relief", "target.thickness_um = 40\n" + COPPER),
    "bracket": Order(bracket, "bracket", "target.thickness_um = 50\n" + COPPER),
}


def write(folder: Path, names: list[str] | None = None) -> None:
    """The models and their jobs."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in names or ORDERS:
        order = ORDERS[name]
        shapes.write(folder / f"{name}.stl", order.make(), order.what)
        job = f'part.file = "{name}.stl"\n{order.job}effort.panels = 3000\n'
        (folder / f"{name}.toml").write_text(f"# {order.make.__doc__}\n{job}", encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]), sys.argv[2:])
