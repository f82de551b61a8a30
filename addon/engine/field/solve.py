"""The field of a job, from part and tank to densities and thicknesses: the entry point of the package."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..chemistry import kinetics
from ..findings import Code, Finding, Quantity, Severity
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, Step, subrange
from ..settings.job import Job
from ..tank.arrange import Arrangement, arrange, turned_by_half
from .answer import answer
from .clearance import check
from .coarsen import Coarse
from .coupling import Coat, Drop, coupled, evenly, raised
from .credible import check_coat, check_credible, check_wetted
from .estimate import error
from .level import Level
from .newton import solve
from .panel_sizes import Hint
from .panels import Panels, cell, lay, memory_estimate, prepared
from .pieces import Array
from .problem import Cell, Drive, Ending, State, resumed, scaled
from .refine import carried, hint
from .result import Field
from .solved import Solved

PREVIEW_PANELS = 3000
COARSE_LEVEL_SHARE = 0.25  # of the panels, that the level before the last has
MIN_COARSE_PANELS, MAX_COARSE_PANELS = 300, 12_000
MAX_START_RESIDUAL = 0.05  # of the coarse level's equations
MAX_CACHED_PANELS = 25_000  # of the finer level whose operators are kept for another current: 0.2 GB
# Times more or fewer panels than a preview's, with which a level is kept to be solved on again
MAX_SHARED_LEVEL_RATIO = 2.0
MEMORY_SHARE = 0.5  # of the machine's memory


def run(
    surface: Surface,
    job: Job,
    *,
    meshes: Mapping[str, Part] | None = None,
    wire_drop: Array | Drop | Coat | None = None,
    level: str = "full",
    voltage: float | None = None,
    wanted: float | None = None,
) -> Progress[Field]:
    """The current distribution. Two levels are solved: the coarse one determines the panel sizes of the fine one.

    meshes : models that the job names by file (tank, anodes, shields, thieves): meters, tank coordinates
    wire_drop : (m,) V lost along the coat between each face and the wire, or a function from the density of
        the faces (m,) in A/m2 to it, or a coat, which is then solved along; a face's metal lies as far above the wire
    level : "full" for `job.effort.panels`, "preview" for a quick look
    voltage : V to hold in place of the current; left out: `job.supply.hold`, where that is set
    wanted : A that were asked for, where the job's current is what the coat bears of it
    The current is the one that flows: the wanted one, or as much of it as the supply's current and voltage allow.
    Raises InputError, one line, where something in the tank cannot be as it is, or the solution cannot be believed.
    """
    first = solved(surface, job, meshes=meshes, wire_drop=wire_drop, level=level, voltage=voltage)
    solution = yield from subrange(0.0, 0.7 if job.place.half_turn else 1.0, first)
    if job.place.half_turn:
        solution = yield from _other_half(surface, job, solution, wire_drop, voltage)
    if wire_drop is not None:
        check_coat(solution.panels, solution.cell, solution.state, job.bath.limiting)
    field = answer(surface, job, solution, with_coat=wire_drop is not None, wanted=wanted)
    return replace(field, level=solution.level, levels=None if job.place.half_turn else solution.levels)


def at_current(
    surface: Surface,
    job: Job,
    before: Field,
    current: float,
    *,
    meshes: Mapping[str, Part] | None = None,
    wire_drop: Array | Drop | Coat | None = None,
) -> Progress[Field]:
    """The current distribution at what the coat bears of the current that the job asks for.

    before : at the job's own current, on whose operators and from whose states this one is solved; solved anew where
    it kept none; current : A of all parts; other arguments and errors as for `run`
    """
    density = current / float(surface.plated_area.sum()) / len(before.part_currents)
    flowing = replace(job, target=replace(job.target, density=density))
    if before.levels is None:
        wanted = before.wanted_current
        return (yield from run(surface, flowing, meshes=meshes, wire_drop=wire_drop, wanted=wanted))
    drive = _limited(_drive(surface, flowing, len(before.part_currents), None), job)
    share, solutions = current / sum(before.part_currents), []
    for low, before_level in zip((0.0, 0.3), before.levels, strict=True):
        begin = None if before_level.state is None else scaled(before_level.state, share)
        again = _solved(surface, before_level.cell, before_level.panels, drive, wire_drop, begin)
        solutions.append((yield from subrange(low, 0.3 + 2.0 * low, again)))
    (_, rough), (cell, state) = solutions
    coarse, fine = (
        level._replace(state=solved, coat=wire_drop)
        for level, solved in zip(before.levels, (rough, state), strict=True)
    )
    check_credible(fine.panels, cell, state)
    if wire_drop is not None:
        check_coat(fine.panels, cell, state, job.bath.limiting)
    off = error(coarse.panels, fine.panels, rough.j, state.j)
    reduced = [finding for finding in before.findings if finding.code == Code.PANELS_REDUCED]
    solution = Solved(fine.panels, cell, state, off, reduced, levels=(coarse, fine))
    previous_panels = None if before.level is None else before.level.panels
    level = next((candidate for candidate in (coarse, fine) if candidate.panels is previous_panels), None)
    field = answer(surface, flowing, solution, with_coat=wire_drop is not None, wanted=before.wanted_current)
    return replace(field, level=level, levels=solution.levels)


def stands(surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None) -> Progress[None]:
    """Raises InputError where something in the tank cannot be as it is: a quick check before anything is solved."""
    arrangement = arrange(surface, job, meshes)
    panels = yield from lay(surface, arrangement, MIN_COARSE_PANELS)
    check(surface, panels)
    if job.place.half_turn:
        check(surface, (yield from lay(surface, turned_by_half(arrangement), MIN_COARSE_PANELS, part=panels.part)))


def solved(
    surface: Surface,
    job: Job,
    *,
    meshes: Mapping[str, Part] | None = None,
    wire_drop: Array | Drop | Coat | None = None,
    level: str = "full",
    voltage: float | None = None,
) -> Progress[Solved]:
    """The finer level's solution; arguments as for `run`."""
    surface.check_plated()
    yield Step(0.0, "Setting up the tank")
    arrangement = arrange(surface, job, meshes)
    count = min(PREVIEW_PANELS, job.effort.panels) if level == "preview" else job.effort.panels
    drive = _drive(surface, job, len(arrangement.poses), voltage)
    needed: float | None = None
    few = int(np.clip(COARSE_LEVEL_SHARE * count, MIN_COARSE_PANELS, MAX_COARSE_PANELS))
    skin = yield from subrange(0.0, 0.08, prepared(surface, arrangement, count))
    coarse = yield from subrange(0.08, 0.12, lay(surface, arrangement, few, start=skin))
    check(surface, coarse)
    rough = yield from subrange(0.12, 0.2, _cell(coarse, job))
    first = (yield from subrange(0.2, 0.25, _solved(surface, rough, coarse, drive, wire_drop)))[1]
    if drive.current is not None and not first.voltage <= job.supply.voltage:
        needed = first.voltage if first.ending == Ending.CONVERGED else None
        begin = resumed(rough, scaled(first, job.supply.voltage / first.voltage)) if needed is not None else None
        limited = _limited(drive, job)
        first = (yield from subrange(0.25, 0.3, _solved(surface, rough, coarse, limited, wire_drop, begin)))[1]
    keeps, rougher = count <= MAX_CACHED_PANELS, None
    if keeps or _shared(few, job):
        rougher = Level(coarse, rough, first, coat=wire_drop)
    del rough  # unless kept, its operators are freed for those of the finer level
    panels, findings = yield from subrange(
        0.3, 0.4, _affordable(surface, arrangement, count, hint(coarse, first.j), skin)
    )
    fine = yield from subrange(0.4, 0.65, _cell(panels, job))
    # a coarse state that is not converged is a worse start than an even density
    start = carried(fine, panels, coarse, first) if first.residual < MAX_START_RESIDUAL else None
    bare, drive = fine, _limited(drive, job)
    fine, state = yield from subrange(0.65, 1.0, _solved(surface, fine, panels, drive, wire_drop, start))
    check_credible(panels, fine, state)
    off = error(coarse, panels, first.j, state.j)
    finer, shared = Level(panels, bare, state, coat=wire_drop), None
    if rougher is not None and _shared(few, job):
        shared = rougher._replace(finer=evenly(surface, panels, state.j))
    elif _shared(count, job):
        shared = finer
    pair = (rougher, finer) if keeps and rougher is not None else None
    return Solved(panels, fine, state, off, findings, shared, needed, pair)


def _shared(count: int, job: Job) -> bool:
    """Whether a level of this many panels can serve where a preview's resolution is used."""
    wanted = min(PREVIEW_PANELS, job.effort.panels)
    return wanted / MAX_SHARED_LEVEL_RATIO <= count <= wanted * MAX_SHARED_LEVEL_RATIO


def _drive(surface: Surface, job: Job, copies: int, voltage: float | None) -> Drive:
    """The drive of the supply by its current; whether its voltage suffices only the solution shows."""
    held = job.supply.hold if voltage is None else voltage
    if held is not None:
        return Drive(voltage=held)
    wanted = job.target.density * float(surface.plated_area.sum()) * copies
    return Drive(current=job.supply.sets(wanted), draw=job.supply.current)


def _limited(drive: Drive, job: Job) -> Drive:
    """With the supply's voltage as a limit where it is the current that is set."""
    return drive if drive.current is None else replace(drive, voltage=job.supply.voltage)


def _other_half(
    surface: Surface, job: Job, first: Solved, wire_drop: Array | Drop | Coat | None, voltage: float | None
) -> Progress[Solved]:
    """The part turned by half after half of the time: of both halves the mean density on the part, and for the rest
    the half that asks for more voltage.
    """
    panels, state = first.panels, first.state
    copies = len(panels.arrangement.poses)
    other = turned_by_half(panels.arrangement)
    turned = yield from subrange(0.7, 0.75, lay(surface, other, len(panels.corners), part=panels.part))
    check(surface, turned)
    cell = yield from subrange(0.75, 0.88, _cell(turned, job))
    start = carried(cell, turned, panels, state)
    drive = _limited(_drive(surface, job, copies, voltage), job)
    cell, second = yield from subrange(0.88, 1.0, _solved(surface, cell, turned, drive, wire_drop, start))
    part_rows = np.concatenate(panels.bodies[:copies])
    mean = 0.5 * (state.j[part_rows] + second.j[part_rows])
    check_credible(turned, cell, second)
    harder = first if state.voltage >= second.voltage else first._replace(panels=turned, cell=cell, state=second)
    j = harder.state.j.copy()
    j[part_rows] = mean
    return harder._replace(state=replace(harder.state, j=j))


def _cell(panels: Panels, job: Job) -> Progress[Cell]:
    panel_cell = yield from cell(panels, *kinetics.laws(job.bath), job.bath.conductivity)
    check_wetted(panel_cell)
    return panel_cell


def _affordable(
    surface: Surface, arrangement: Arrangement, count: int, where: Hint, skin: Coarse | None
) -> Progress[tuple[Panels, list[Finding]]]:
    """The panels wanted, or as many as half of the machine's memory holds, and a finding then."""
    panels = yield from subrange(0.0, 0.5, lay(surface, arrangement, count, where, start=skin))
    needed, room = memory_estimate(panels), _memory_room()
    if needed <= room:
        return panels, []
    fewer = max(int(count * room / needed), MIN_COARSE_PANELS)
    panels = yield from subrange(0.5, 1.0, lay(surface, arrangement, fewer, where, start=skin))
    quantities = {Quantity.WANTED_PANELS: count, Quantity.PANELS: fewer, Quantity.MEMORY: needed}
    return panels, [Finding(Code.PANELS_REDUCED, Severity.COSTS, quantities)]


def _memory_room() -> float:
    """Bytes that one solution may take."""
    if not hasattr(os, "sysconf") or "SC_PHYS_PAGES" not in os.sysconf_names:
        return np.inf
    return MEMORY_SHARE * os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")


def _solved(
    surface: Surface,
    cell: Cell,
    panels: Panels,
    drive: Drive,
    wire_drop: Array | Drop | Coat | None,
    start: State | None = None,
) -> Progress[tuple[Cell, State]]:
    """The state under a drive with the loss along the coat, and the cell that includes it."""
    if isinstance(wire_drop, np.ndarray):
        cell = raised(cell, panels, wire_drop)
    elif wire_drop is not None:
        return (yield from coupled(surface, cell, panels, drive, wire_drop, start))
    return cell, (yield from solve(cell, drive, start))
