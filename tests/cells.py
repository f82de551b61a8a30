"""Cells for the field solver put together by hand: surfaces with roles, in a liquid, for shapes with a closed form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from addon.engine.coat import contact, wired
from addon.engine.coat.spread import Losses, Spread
from addon.engine.field.bem.influence import Influence, Liquid
from addon.engine.field.newton import solve
from addon.engine.field.problem import Cell, Drive, State
from addon.engine.chemistry.kinetics import Law, Linear
from addon.engine.mesh import surface as inspected
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.tank.body import Role

from models import Model, inside_out, lathe

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Surface:
    """A model with a role. sheet : wet on both sides (or flush in a mirror, where both are one); sides : that count"""

    model: Model
    role: Role
    sheet: bool = False
    sides: int = 1


class Bench:
    """A cell of surfaces wound into the liquid, and what a solution of it is asked for."""

    def __init__(self, surfaces: Sequence[Surface], liquid: Liquid, conductivity: float = 25.0) -> None:
        corners = [s.model[0][s.model[1]] for s in surfaces]
        starts = np.cumsum([0] + [len(c) for c in corners])
        self.rows = [np.arange(a, b) for a, b in zip(starts[:-1], starts[1:], strict=True)]
        each = list(zip(surfaces, corners, strict=True))
        sheet = np.concatenate([np.full(len(c), s.sheet) for s, c in each])
        influence = run_to_end(
            Influence.build(np.concatenate(corners), self.rows, ~sheet, liquid, [False] * len(surfaces))
        )
        n = influence.n
        self.cell = Cell(
            influence,
            np.concatenate([np.full(len(c), s.role, np.int8) for s, c in each]),
            np.concatenate([np.full(len(c), s.sides, np.int8) for s, c in each]),
            np.ones(n, dtype=bool),
            Linear(),
            Linear(),
            conductivity,
            np.zeros(n),
        )
        self.area, self.centroid = influence.area, influence.centroid

    def solved(self, cathode: Law | None = None, anode: Law | None = None, **drive: float) -> State:
        """The state with these kinetics. drive : current in A, or voltage in V. Operators are used again."""
        cell = replace(self.cell, cathode=cathode or Linear(), anode=anode or Linear())
        return run_to_end(solve(cell, Drive(**drive), tolerance=1e-6))

    def current(self, state: State, body: int) -> float:
        """A into a surface."""
        rows = self.rows[body]
        return float(self.area[rows] @ state.j[rows])

    def mean(self, state: State, body: int) -> float:
        """A/m2 into a surface."""
        return self.current(state, body) / float(self.area[self.rows[body]].sum())

    def ohms(self, state: State) -> float:
        """Voltage over the current into the first surface."""
        return state.voltage / self.current(state, 0)


def onto_sphere(model: Model, radius: float) -> Model:
    """The model scaled about the origin so that its area is that of the sphere: what first order needs."""
    points, faces = model
    a, b, c = (points[faces[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()
    return points * radius * np.sqrt(4.0 * np.pi / area), faces


def disk(radius: float, rings: int, around: int, *, grade: float = 1.0) -> Model:
    """A flat disk in z = 0 facing up; rings gather at the rim by the power `grade` >= 1."""
    r = radius * (1.0 - (1.0 - np.linspace(0.0, 1.0, rings + 1)) ** grade)
    angle = np.arange(around) * 2 * np.pi / around
    points = [np.zeros((1, 3))]
    points += [np.stack([x * np.cos(angle), x * np.sin(angle), 0 * angle], axis=1) for x in r[1:]]
    turn, after = np.arange(around), (np.arange(around) + 1) % around
    faces = [np.stack([0 * turn, 1 + turn, 1 + after], axis=1)]
    for ring in range(1, rings):
        a, b = 1 + (ring - 1) * around + turn, 1 + (ring - 1) * around + after
        c, d = b + around, a + around
        faces += [np.stack([a, d, c], axis=1), np.stack([a, c, b], axis=1)]
    return np.vstack(points), np.vstack(faces).astype(np.int32)


def strip(line: Array, depth: float, along: int = 1) -> Model:
    """A sheet over the line (k, 2) in x and z, drawn out along y from 0 to `depth`, facing the left of the line."""
    line = np.asarray(line, dtype=float)
    y = np.linspace(0.0, depth, along + 1)
    x, z = (np.repeat(line[:, k : k + 1], along + 1, axis=1) for k in (0, 1))
    points = np.stack([x, np.broadcast_to(y, x.shape), z], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(len(line) - 1), np.arange(along), indexing="ij")
    a = (i * (along + 1) + j).reshape(-1)
    b, c, d = a + along + 1, a + along + 2, a + 1
    return points, np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]).astype(np.int32)


def graded(start: float, end: float, count: int, *, low: float = 1.0, high: float = 1.0) -> Array:
    """count + 1 places from start to end, gathered at the start and the end by powers >= 1."""
    t = np.linspace(0.0, 1.0, count + 1)
    u = t**low if high == 1.0 else (t**low / (t**low + (1.0 - t) ** high))
    return start + (end - start) * u


def bowl(radius: float, rings: int = 12, around: int = 24) -> Model:
    """The lower half of a sphere about the origin, facing inward."""
    angle = np.linspace(-np.pi / 2, 0.0, rings + 1)
    profile = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    profile[0, 0] = 0.0
    return inside_out(lathe(profile, around))


def even_coat(part: inspected.Surface, ohms: float) -> Losses:
    """What a bare, even coat of so many ohm a square loses to one wire at the best place."""
    job = read_job({"coat": {"sheet_resistance_ohm_sq": ohms}})
    ranking = contact.rank(part, up=job.part.up, sheet_resistance=ohms, density=200.0, openness=None, dry=None)
    contacts = run_to_end(ranking)
    made = run_to_end(wired.build(part, contacts, contacts.pads[:1]))
    spread = Spread.of(made.fed, made.patches, contacts.pads[:1])
    return spread.loss(np.full(len(spread.own), 1.0 / ohms))
