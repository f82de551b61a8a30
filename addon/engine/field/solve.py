"""The field of a job, from its part and its tank to densities and thicknesses: the one way in."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from .. import kinetics
from ..errors import Fault
from ..job import Job
from ..part import Part
from ..steps import Step, Steps, between
from ..surface import Surface
from ..tank import arrange
from .answer import answer
from .clearance import check
from .coupling import Drop, coupled, raised
from .layers import LayerOperators
from .panels import Panels, cell, lay
from .pieces import Array
from .problem import Cell, Drive, State, solve
from .refine import carried, error, hint
from .result import Field

PREVIEW = 3000
COARSE, COARSEST, FINEST = (
    0.25,
    300,
    12_000,
)  # share of the panels of the level before the last, and its limits
MEMORY_SHARE = 0.5  # of the machine's memory


def run(
    surface: Surface,
    job: Job,
    *,
    meshes: Mapping[str, Part] | None = None,
    wire_drop: Array | Drop | None = None,
    level: str = "full",
    voltage: float | None = None,
) -> Steps[Field]:
    """The current distribution. Two levels are solved: the coarse one says where the fine one needs its
    panels.

    meshes : models that the job names by file (tank, anodes, shields, thieves): metres, tank coordinates
    wire_drop : (m,) V lost along the coat between each face and the wire, or a function from the density of
        the faces (m,) in A/m2 to it, which is then solved along; a face's metal lies as far above the wire
    level : "full" for `job.effort.panels`, "preview" for a quick look
    voltage : V to hold in place of the current; left out: `job.supply.hold`, where that is set
    Raises Fault, one line, where something in the tank cannot be as it is.
    """
    found = yield from solved(surface, job, meshes=meshes, wire_drop=wire_drop, level=level, voltage=voltage)
    panels, fine, state, off, warnings = found
    return answer(surface, job, panels, fine, state, off, warnings, with_coat=wire_drop is not None)


class Solved(NamedTuple):
    """A solution with all that it was made from, for whoever reads more from it than the answer.

    error : of the density, relative to its mean; warnings : sentences
    """

    panels: Panels
    cell: Cell
    state: State
    error: float
    warnings: list[str]


def solved(
    surface: Surface,
    job: Job,
    *,
    meshes: Mapping[str, Part] | None = None,
    wire_drop: Array | Drop | None = None,
    level: str = "full",
    voltage: float | None = None,
) -> Steps[Solved]:
    """The finer level's solution; arguments as for `run`."""
    area = float(surface.plated_area.sum())
    if not area > 0:
        raise Fault(f"{surface.name}: nothing is plated: every face is masked or enclosed; unmask some faces")
    yield Step(0.0, "Setting up the tank")
    arrangement = arrange(surface, job, meshes)
    count, warnings = _affordable(
        min(PREVIEW, job.effort.panels) if level == "preview" else job.effort.panels
    )
    held = job.supply.hold if voltage is None else voltage
    drive = (
        Drive(current=job.target.density * area * len(arrangement.poses))
        if held is None
        else Drive(voltage=held)
    )
    coarse = yield from between(
        0.0, 0.12, lay(surface, arrangement, int(np.clip(COARSE * count, COARSEST, FINEST)))
    )
    check(surface.points[np.unique(surface.triangles)], coarse)
    rough = yield from between(0.12, 0.2, _cell(coarse, job))
    rough, first = yield from between(0.2, 0.3, _solved(surface, rough, coarse, drive, wire_drop))
    panels = yield from between(0.3, 0.4, lay(surface, arrangement, count, hint(coarse, first.j)))
    fine = yield from between(0.4, 0.65, _cell(panels, job))
    start = carried(fine, panels, coarse, first)
    fine, state = yield from between(0.65, 1.0, _solved(surface, fine, panels, drive, wire_drop, start))
    off = error(coarse, panels, start.j, state.j)
    return Solved(panels, fine, state, off, warnings)


def _cell(panels: Panels, job: Job) -> Steps[Cell]:
    return (yield from cell(panels, *kinetics.laws(job.bath), job.bath.conductivity))


def _affordable(count: int) -> tuple[int, list[str]]:
    """The panels wanted, or as many as half of the machine's memory holds, and a warning then."""
    if not hasattr(os, "sysconf") or "SC_PHYS_PAGES" not in os.sysconf_names:
        return count, []
    room = MEMORY_SHARE * os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    if LayerOperators.memory_estimate(2 * count) <= room:
        return count, []
    most = int(count * room / LayerOperators.memory_estimate(2 * count))
    return most, [f"effort.panels: {count} panels do not fit into memory; {most} are used"]


def _solved(
    surface: Surface,
    cell: Cell,
    panels: Panels,
    drive: Drive,
    wire_drop: Array | Drop | None,
    start: State | None = None,
) -> Steps[tuple[Cell, State]]:
    """The state under a drive, with what is lost along the coat, and the cell that knows of it."""
    if callable(wire_drop):
        return (yield from coupled(surface, cell, panels, drive, wire_drop, start))
    if wire_drop is not None:
        cell = raised(cell, panels, wire_drop)
    return cell, (yield from solve(cell, drive, start))
