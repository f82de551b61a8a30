"""Jobs of the field at random, the same for the same seed: shapes, baths, densities, coats, tanks and supplies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from addon.engine.errors import InputError
from addon.engine.field import pieces
from addon.engine.field.credible import check_coat
from addon.engine.field.ends import quarters
from addon.engine.field.refine import a_side
from addon.engine.field.solve import solved
from addon.engine.field.solved import Solved
from addon.engine.mesh import inspection
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.settings import tables
from addon.engine.settings.job import Job, read_job
from addon.engine.tank.body import Role

import cells
import models

SEED = 20
PANELS = (600, 1200)
REFINED = 2.5  # times the panels, for the error to be judged by
DENSITY_A_DM2, COAT_OHM_SQ = (0.1, 20.0), (0.01, 1000.0)  # both even in their logarithm


@dataclass(frozen=True, eq=False)
class RandomJob:
    """number : of the seed's jobs; shape : its name; ohms : per square of the bare coat with one wire"""

    number: int
    shape: str
    part: Surface
    table: dict[str, Any]
    ohms: float

    def job(self, panels: float) -> Job:
        return read_job({**self.table, "effort": {"panels": int(panels)}})

    @property
    def panels(self) -> int:
        return int(self.table["effort"]["panels"])


def make(number: int, seed: int = SEED) -> RandomJob:
    """The job of a number, whichever others are made."""
    rng = np.random.default_rng([seed, number])
    shape, model = _shape(rng)
    points, faces = model
    size = float(rng.uniform(15e-3, 60e-3))
    points = (points - points.mean(axis=0)) * (size / np.ptp(points, axis=0).max())
    part = run_to_end(inspection.inspect(models.part(models.moved((points, faces), turn=models.rotation(number)))))
    logarithmic = [np.exp(rng.uniform(*np.log(limits))) for limits in (DENSITY_A_DM2, COAT_OHM_SQ)]
    table = {
        "bath": {"name": str(rng.choice(tables.names("baths")))},
        "target": {"density_A_dm2": float(logarithmic[0])},
        "tank": _tank(rng, 1e3 * float(np.linalg.norm(np.ptp(part.bounds, axis=0)))),
        "supply": {"max_A": float(rng.choice([5.0, 30.0])), "max_V": float(rng.choice([6.0, 15.0, 30.0]))},
        "effort": {"panels": int(rng.integers(*PANELS))},
    }
    return RandomJob(number, shape, part, table, float(logarithmic[1]))


def _shape(rng: np.random.Generator) -> tuple[str, models.Model]:
    name = str(rng.choice(["sphere", "box", "plate", "cup", "torus", "cylinder", "lathe", "two", "star"]))
    if name == "sphere":
        return name, models.sphere(1.0, 3)
    if name == "box":
        return name, models.box(rng.uniform(0.3, 1.0, 3), (6, 6, 6))
    if name == "plate":
        return name, models.box((1.0, float(rng.uniform(0.4, 1.0)), float(rng.uniform(0.03, 0.1))), (10, 8, 1))
    if name == "cup":
        return name, models.cup(10.0, float(rng.uniform(5.0, 40.0)), float(rng.uniform(0.7, 3.0)), 32, 4)
    if name == "torus":
        return name, models.torus(2.0, float(rng.uniform(0.2, 1.2)), 48, 20)
    if name == "cylinder":
        return name, models.cylinder(1.0, float(rng.uniform(0.5, 6.0)), 32, 6)
    if name == "lathe":  # a post with a random profile
        height = np.linspace(0.0, 3.0, 12)
        radius = np.concatenate([[0.0], rng.uniform(0.2, 1.0, 10), [0.0]])
        height[1], height[-2] = height[0], height[-1]
        return name, models.lathe(np.stack([radius, height], axis=1), 32)
    if name == "two":
        return name, models.joined(models.sphere(1.0, 2), models.moved(models.sphere(0.7, 2), shift=(1.2, 0.1, 0.2)))
    points, faces = models.sphere(1.0, 4)  # lobes
    turn, lift = np.arctan2(points[:, 1], points[:, 0]), np.arccos(np.clip(points[:, 2], -1.0, 1.0))
    lobes = 1.0 + float(rng.uniform(0.1, 0.5)) * np.sin(int(rng.integers(2, 6)) * turn) * np.sin(lift) ** 2
    return name, (points * lobes[:, None], faces)


def _tank(rng: np.random.Generator, across: float) -> dict[str, Any]:
    """A tank that holds a part so many mm across, whichever way it lies, with room for anodes."""
    shape = str(rng.choice(["box", "box", "cylinder", "open"]))
    length, width, depth = (float(across * rng.uniform(2.5, 5.0) + 60.0) for _ in range(3))
    if shape == "cylinder":
        width = length
    return {"shape": shape, "size_mm": [length, width, depth], "level_mm": 0.95 * depth}


@dataclass(frozen=True)
class Outcome:
    """How a job ended.

    ending : "converged", "held" (the supply's limit), or why it was refused
    steps, iterations, products : Newton's, GMRES's, with the operators, of the fine level; balance : |cathodes - anodes| over the current
    stated, true : error of the density in the mean, as it was stated and against a refined solution; nan where unknown
    """

    ending: str
    steps: int = 0
    iterations: int = 0
    products: int = 0
    residual: float = np.nan
    balance: float = np.nan
    voltage: float = np.nan
    stated: float = np.nan
    true: float = np.nan


def outcome(random: RandomJob, *, refine: bool = True) -> Outcome:
    """Solve a job, and again with more panels where its field can be believed."""
    coat = cells.even_coat(random.part, random.ohms)
    job = random.job(random.panels)
    try:
        found = run_to_end(solved(random.part, job, wire_drop=coat))
    except InputError as fault:
        return Outcome(f"refused: {fault}")
    state, flow = found.state, found.cell.influence.area * found.state.j
    current = float(flow[found.cell.rows(Role.PART, Role.THIEF)].sum())
    balance = abs(current + float(flow[found.cell.rows(Role.ANODE)].sum())) / current
    figures = (state.newton_steps, state.iterations, state.products, state.residual, balance, state.voltage)
    try:
        check_coat(found.panels, found.cell, state, job.bath.limiting)
    except InputError:
        return Outcome("coat-too-poor", *figures)
    ending = "converged" if state.control.value == "current" else f"held {state.control.value}"
    stated = np.nan if found.error is None else found.error
    if not refine:
        return Outcome(ending, *figures, stated)
    finer = run_to_end(solved(random.part, random.job(REFINED * random.panels), wire_drop=coat))
    return Outcome(ending, *figures, stated, difference(found, finer))


def difference(one: Solved, other: Solved) -> float:
    """Of two solutions' densities on the plated panels of the first, mean by area over the mean, at four places a panel;
    each over its own mean, as far as the shape goes. A mean over a face, where faces are larger than panels, hides what
    the panels are off by."""
    some = one.panels.role[one.panels.bodies[0]] == Role.PART
    own, known = one.panels.part, other.panels.part
    ends, theirs = (
        part.cover.ends.of_values(a_side(found.panels, found.state.j)) for part, found in ((own, one), (known, other))
    )
    places, first = quarters(own.pieces[some], ends[some])
    middle, area = places.mean(axis=1), pieces.area(places)
    at = pieces.nearest(middle, pieces.normals(places), known.pieces.mean(axis=1), pieces.normals(known.pieces))
    second = pieces.dot(theirs[at], pieces.within(pieces.barycentric(middle, known.pieces[at])))
    return float(area @ np.abs(first / (area @ first) - second / (area @ second)))
