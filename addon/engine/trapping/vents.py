"""Where to cut: a straight bore from each pocket's top, and from each pool's bottom, to the outside.

Of many straight ways the best is taken: off the show faces, short, and rather where less of the bath is seen; wide
enough by `bores`, and with a wall's thickness left all round it. Docs: theory-gas.md, "Where to cut".
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..filled import filled
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step
from .bores import MIN_FREED_SHARE, NEGLIGIBLE_VOLUME_M3, head_needed
from .gas import Drainage, Gas
from .hole import Hole, HoleKind, Vents
from .pockets import Pocket
from .ways import MIN_WALL_M, Task, Ways, clear_of_contacts, cost, find_ways, is_clear, overrun

Array = NDArray[np.float64]

MAX_HOLES = 24  # more would change the design


def holes(
    surface: Surface,
    tracer: Tracer,
    gas: Gas,
    drainage: Drainage,
    *,
    capillary_length: float,
    sight: Array | None = None,
    contacts: Array | None = None,
) -> Progress[Vents]:
    """The holes for the way up of `gas` and `drainage`: one for each pocket, dome or pool that is worth one.

    sight : (m,) share of the bath that each triangle sees; contacts : (k, 4) where wires touch the part, m, and the
    radius that they need. Cost: some thousand rays a hole.
    """
    tasks = _tasks(surface, gas, drainage)
    chosen: list[Hole] = []
    blocked = 0.0
    for number, task in enumerate(tasks[:MAX_HOLES]):
        yield Step(number / len(tasks), filled("placing hole {number} of {count}", number=number + 1, count=len(tasks)))
        hole = _hole(surface, tracer, replace(task, contacts=contacts), capillary_length, sight, chosen)
        if hole is None:
            blocked += task.frees
        else:
            chosen.append(hole)
    blocked += sum(task.frees for task in tasks[MAX_HOLES:])
    chosen.sort(key=lambda hole: (hole.kind == HoleKind.DRAIN, -hole.frees))
    return Vents(gas.up, tuple(chosen), blocked, not tasks)


def _tasks(surface: Surface, gas: Gas, drainage: Drainage) -> list[Task]:
    """What is worth a hole, the largest first."""
    plated = float(surface.plated_area.sum())
    tasks = []
    for pocket in gas.pockets:
        if pocket.bores and pocket.worth_a_hole(plated):
            tasks += _tasks_of_pocket(HoleKind.VENT, pocket, gas.up, gas.face)
    for pool in drainage.pools:
        if pool.hole is not None and pool.volume >= NEGLIGIBLE_VOLUME_M3:
            tasks += _tasks_of_pocket(HoleKind.DRAIN, pool.pocket, -drainage.up, drainage.face)
    return sorted(tasks, key=lambda task: -task.frees)


def _tasks_of_pocket(kind: HoleKind, pocket: Pocket, up: Array, closed: Array) -> list[Task]:
    first = pocket.volume - float(pocket.more_volumes.sum())
    tops = [(pocket.vent, first), *zip(pocket.more_vents, pocket.more_volumes, strict=True)]
    domes = [tops[0], *(top for top in tops[1:] if top[1] >= NEGLIGIBLE_VOLUME_M3)]
    return [Task(kind, pocket, top, float(volume), up, closed) for top, volume in domes]


def _hole(
    surface: Surface,
    tracer: Tracer,
    task: Task,
    capillary_length: float,
    sight: Array | None,
    others: list[Hole],
) -> Hole | None:
    """The best straight way clear of the other holes; narrower ones are tried where the wanted bore has none.

    Through a face that shows only where nothing else is left.
    """
    pocket = task.pocket
    widths = [bore.diameter for bore in pocket.bores if bore.diameter <= pocket.vent_diameter][::-1]
    worthy = [bore.diameter for bore in pocket.bores if bore.remaining <= (1.0 - MIN_FREED_SHARE) * pocket.volume]
    off_show = [width for width in widths if not worthy or width in worthy]
    for diameter, show in [*((width, False) for width in off_show), *((width, True) for width in widths)]:
        ways = find_ways(surface, tracer, task, diameter / 2)
        ways = ways if show else ways.at(~surface.show[ways.face])
        ways = ways.at(clear_of_contacts(ways, diameter / 2, task.contacts))
        for k in np.argsort(cost(surface, ways, sight), kind="stable"):
            if not is_clear(surface, tracer, ways, int(k), diameter / 2):
                continue
            hole = _hole_along(surface, task, ways, int(k), diameter, capillary_length)
            if hole.frees < MIN_FREED_SHARE * task.frees:
                continue  # it comes out too low: the meniscus holds there
            if all(_axis_distance(hole, other) > (diameter + other.diameter) / 2 + MIN_WALL_M for other in others):
                return hole
    return None


def _axis_distance(first: Hole, second: Hole) -> float:
    """m between the axes of two holes, sampled along both: accurate to a twentieth of the longer."""
    t = np.linspace(0.0, 1.0, 33)[:, None]
    a, b = (hole.start + t * (hole.tip - hole.start) for hole in (first, second))
    return float(np.linalg.norm(a[:, None] - b[None], axis=2).min())


def _hole_along(surface: Surface, task: Task, ways: Ways, k: int, diameter: float, capillary_length: float) -> Hole:
    along, pocket = ways.direction[k], task.pocket
    end = ways.origin[k] + ways.leave[k] * along
    mouth = float(end @ task.up) - pocket.spill_level
    level = max(mouth - float(head_needed(diameter, capillary_length)), 0.0)
    left = float(pocket.column.volume_above(np.full((1, len(pocket.column.down)), level))[0])
    share = task.frees / max(pocket.volume, 1e-300)
    over = overrun(surface, ways, diameter / 2)[k]
    return Hole(
        task.kind,
        ways.origin[k] - ways.back[k] * along,
        ways.origin[k] + ways.entry[k] * along,
        end,
        end + over * along,
        diameter,
        max(task.frees - share * left, 0.0),
        bool(surface.show[ways.face[k]]),
    )
