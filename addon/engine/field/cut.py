"""A cut through the tank: the potential in a plane, equipotentials and current lines.

With the current densities j and potentials phi of the panels known, Green's identity gives the potential at any
point x of the liquid,

    phi(x) = c + (D phi)(x) - (S j)(x) / kappa,

with the operators and the constant of the solution (see `problem`); near panels are integrated exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .. import color
from ..errors import InputError
from ..filled import filled
from ..geometry import chebyshev, contour
from ..mesh.surface import Surface
from ..progress import Progress, Step, subrange
from ..settings.options import Cut as Asked
from ..tank.arrange import Arrangement, Pose
from ..tank.body import Role
from .lattice import inside, nodes, place, walls
from .problem import Cell, State
from .section import Plane, Section, meet, touched
from .solved import Solved
from .trace import Grid, electric_field, ended, lines, starts
from .wall import Fine, added, fine

Array = NDArray[np.float64]

PROGRESS_TEXT = "Cutting through the tank"
INTERPOLATION_NODES_PER_AXIS = 20  # an axis, that carry the far images
POINTS_PER_BATCH, NODE_ROWS_PER_BATCH = 2000, 5  # points, and rows of nodes, at a time
MAX_EQUIPOTENTIALS, CURRENT_LINES = 14, 32  # at most so many equipotentials; so many current lines


@dataclass(frozen=True, eq=False)
class Outline:
    """The section of one body. sheet : without an inside; wall : of the tank itself"""

    name: str
    role: Role
    sheet: bool
    wall: bool
    section: Section


@dataclass(frozen=True, eq=False)
class Cut:
    """Potential and current in a plane. SI units, tank coordinates; places in the plane are (across, up).

    way, offset : as asked for; pose : where the part's first copy hangs
    grid : potential above the wire in V at nodes; next to the liquid they carry the surface's own
    low, high : V, least and greatest in the liquid; voltage : V of the supply
    levels : (k,) V; equipotentials : (s, 2, 2); step : V from one to the next
    lines : current lines, (steps, 2) each, from the anodes; the same current, a meter of depth, between neighbors
    there
    oblique : share of the current density that crosses the plane, root mean square: zero in a plane of symmetry,
        elsewhere the lines follow only what runs in the plane
    outlines : of the part's copies, bodies and walls
    surface : whether its upper side is the free surface
    """

    way: str
    offset: float
    plane: Plane
    pose: Pose
    grid: Grid
    low: float
    high: float
    voltage: float
    levels: Array
    equipotentials: Array
    lines: tuple[Array, ...]
    oblique: float
    outlines: tuple[Outline, ...]
    surface: bool

    @property
    def step(self) -> float:
        """V between neighboring equipotentials; 0 where there are fewer than two."""
        return float(self.levels[1] - self.levels[0]) if len(self.levels) > 1 else 0.0


def potential(cell: Cell, state: State, points: Array) -> Array:
    """V above the wire at points (m, 3) of the liquid, tank coordinates, (m,)."""
    return state.constant - cell.influence.evaluate(points, state.j / cell.conductivity, state.phi)


def run(surface: Surface, solution: Solved, asked: Asked) -> Progress[Cut]:
    """The cut of a solved tank. Raises InputError where the plane passes beside the liquid."""
    yield Step(0.0, PROGRESS_TEXT)
    panels, cell, state = solution.panels, solution.cell, solution.state
    arrangement = panels.arrangement
    plane = place(arrangement, asked)
    shown = _outlines(surface, arrangement, plane)
    parts, others = (_joined([o for o in shown if (o.role == Role.PART) == of_part]) for of_part in (True, False))
    part_ends, other_ends = (section.segments.reshape(-1, 2) for section in (parts, others))
    across, up = nodes(plane, arrangement, part_ends, other_ends, cell.influence.closed)
    where = plane.lift(np.stack(np.meshgrid(across, up), axis=-1))
    near = fine(cell, state, panels.corners, (panels.corners - plane.point) @ plane.normal)
    surfaces = meet(plane, np.concatenate([panels.corners[cell.electrode], near.corners]))
    beside = np.concatenate([state.phi[cell.electrode], near.value])
    wet = inside(arrangement, where) & ~touched(surfaces, across, up)
    wet[wet] = (yield from subrange(0.0, 0.2, _chunked(cell.influence.liquid, where[wet]))) > 0.5
    if not wet.any():
        raise InputError(filled("{cut.offset_mm}: this plane meets no liquid; bring it nearer to the part"))
    smooth = yield from subrange(0.2, 0.5, _far(cell, state, plane, across, up, INTERPOLATION_NODES_PER_AXIS))
    values = np.full(wet.shape, np.nan)
    values[wet] = yield from subrange(0.5, 0.75, _near(cell, state, where[wet]))
    values[wet] += smooth[wet] + (yield from subrange(0.75, 0.8, _beside(near, where[wet], arrangement)))
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    falls = electric_field(across, up, values, wet, surfaces, beside)
    values, nearest = _rimmed(values, wet, across, up, surfaces, beside)
    electrodes = int(cell.electrode.sum())
    metal = ~wet & (nearest >= 0) & (nearest < electrodes)
    grid = Grid(across, up, values, wet, metal, falls)
    anodes = meet(plane, panels.corners).of(cell.rows(Role.ANODE))
    cathodes = _joined([o for o in shown if o.role in (Role.PART, Role.THIEF)])
    body = np.zeros(len(panels.corners), dtype=np.intp)
    for number, rows in enumerate(panels.bodies):
        body[rows] = number
    on, off = starts(grid, anodes, -state.j, ~cell.influence.double, body, CURRENT_LINES)
    insulators = surfaces.take(surfaces.row >= electrodes)
    traced = yield from subrange(0.8, 0.9, lines(grid, off, insulators, walled=arrangement.inside is not None))
    drawn = tuple(np.vstack([first, ended(line, cathodes)]) for first, line in zip(on, traced, strict=True))
    yield Step(0.9, "Comparing with what crosses the plane")
    oblique = yield from subrange(0.9, 1.0, _oblique(cell, state, plane, grid, arrangement))
    levels = color.ticks(low, high, MAX_EQUIPOTENTIALS)
    return Cut(
        asked.way,
        asked.offset,
        plane,
        panels.arrangement.poses[0],
        grid,
        low,
        high,
        state.voltage,
        levels,
        _equal(grid, levels),
        drawn,
        oblique,
        shown,
        arrangement.inside is not None and bool(plane.up[2] > 0.5),
    )


def _outlines(surface: Surface, arrangement: Arrangement, plane: Plane) -> tuple[Outline, ...]:
    wetted = surface.corners[surface.wetted]
    copies = [(pose.name, Role.PART, not surface.closed, False, pose.of(wetted)) for pose in arrangement.poses]
    others = [(body.name, body.role, body.sheet, body.wall, body.corners) for body in arrangement.bodies]
    if arrangement.box is not None:
        others.append((filled("the tank"), Role.INSULATOR, False, True, walls(arrangement.box)))
    return tuple(
        Outline(name, role, sheet, wall, meet(plane, corners))
        for name, role, sheet, wall, corners in (*copies, *others)
    )


def _joined(shown: list[Outline]) -> Section:
    """All segments in one section; its triangle numbers are meaningless."""
    names = ("segments", "outward", "row")
    return Section(*(np.concatenate([getattr(o.section, name) for o in shown]) for name in names))


def _near(cell: Cell, state: State, points: Array) -> Progress[Array]:
    """The potential at points (m, 3) without the far images in the walls, (m,)."""

    def near(batch: Array) -> Array:
        return cell.influence.near(batch, state.j / cell.conductivity, state.phi)

    return state.constant - (yield from _chunked(near, points))


def _chunked(read: Callable[[Array], Array], points: Array) -> Progress[Array]:
    """A function of points (m, 3) evaluated in batches, (m,)."""
    out = np.empty(len(points))
    for start in range(0, len(points), POINTS_PER_BATCH):
        yield Step(start / len(points), PROGRESS_TEXT)
        out[start : start + POINTS_PER_BATCH] = read(points[start : start + POINTS_PER_BATCH])
    return out


def _beside(walls: Fine, points: Array, arrangement: Arrangement) -> Progress[Array]:
    """The correction close to walls and shields, with their images in a free surface."""

    def more(batch: Array) -> Array:
        if arrangement.surface is None:
            return added(walls, batch)
        return added(walls, batch) + added(walls, batch * (1.0, 1.0, -1.0) + (0.0, 0.0, 2.0 * arrangement.surface))

    return (yield from _chunked(more, points))


def _far(cell: Cell, state: State, plane: Plane, across: Array, up: Array, nodes: int) -> Progress[Array]:
    """The contribution of the far images in the walls at the nodes of a grid, (rows, columns).

    It is smooth all over the liquid, so it is interpolated from a few Chebyshev nodes.
    """
    if not cell.influence.imaged:
        return np.zeros((len(up), len(across)))
    middle, half = np.array([[0.5 * (ends[-1] + ends[0]), 0.5 * (ends[-1] - ends[0])] for ends in (across, up)]).T
    u, v = (m + h * chebyshev.nodes(nodes) for m, h in zip(middle, half, strict=True))
    points = plane.lift(np.stack(np.meshgrid(u, v), axis=-1))
    potential = np.empty((nodes, nodes))
    for row in range(0, nodes, NODE_ROWS_PER_BATCH):
        yield Step(row / nodes, PROGRESS_TEXT)
        batch = points[row : row + NODE_ROWS_PER_BATCH].reshape(-1, 3)
        read = cell.influence.far(batch, state.j / cell.conductivity, state.phi)
        potential[row : row + NODE_ROWS_PER_BATCH] = -read.reshape(-1, nodes)
    along_u, along_v = (
        chebyshev.cardinal(nodes, (ends - m) / h)[0] for ends, m, h in zip((across, up), middle, half, strict=True)
    )
    return along_v.T @ potential @ along_u


def _rimmed(
    values: Array, wet: NDArray[np.bool_], across: Array, up: Array, surfaces: Section, beside: Array
) -> tuple[Array, NDArray[np.intp]]:
    """The potentials with that of the nearest surface on nodes just beyond it, and which of its triangles that is, or
    -1."""
    grown = np.pad(wet, 1)
    next_to = np.zeros_like(wet)
    for i in range(3):
        for j in range(3):
            next_to |= grown[i : i + wet.shape[0], j : j + wet.shape[1]]
    rows, columns = np.nonzero(next_to & ~wet)
    out, nearest = values.copy(), np.full(wet.shape, -1, dtype=np.intp)
    if len(surfaces.segments):
        at = np.stack([across[columns], up[rows]], axis=1)
        start, along = surfaces.segments[:, 0], surfaces.segments[:, 1] - surfaces.segments[:, 0]
        square = np.maximum(np.einsum("ij,ij->i", along, along), 1e-30)
        for k, spot in enumerate(at):
            t = np.clip(np.einsum("ij,ij->i", spot - start, along) / square, 0.0, 1.0)
            gap = spot - start - t[:, None] * along
            nearest[rows[k], columns[k]] = surfaces.row[np.einsum("ij,ij->i", gap, gap).argmin()]
        out[rows, columns] = beside[nearest[rows, columns]]
    return out, nearest


def _oblique(cell: Cell, state: State, plane: Plane, grid: Grid, arrangement: Arrangement) -> Progress[float]:
    """The share of the current density that crosses the plane, from the potential a little before and behind it."""
    deep = np.pad(grid.wet, 2)
    clear = np.ones_like(grid.wet)
    for i in range(5):
        for j in range(5):
            clear &= deep[i : i + clear.shape[0], j : j + clear.shape[1]]
    rows, columns = (np.arange(2, length - 2, 4) for length in grid.wet.shape)
    down = grid.electric_field[rows[:, None], columns]
    off = float(np.diff(grid.across).min())
    falls = []
    for way in (1.0, -1.0):
        moved = Plane(plane.point + way * off * plane.normal, plane.across, plane.up)
        where = moved.lift(np.stack(np.meshgrid(grid.across[columns], grid.up[rows]), axis=-1))
        seen = clear[rows[:, None], columns] & inside(arrangement, where)
        values = np.full(seen.shape, np.nan)
        smooth = yield from subrange(
            0.5 - 0.25 * (1 + way),
            0.75 - 0.25 * (1 + way),
            _far(cell, state, moved, grid.across[columns], grid.up[rows], INTERPOLATION_NODES_PER_AXIS // 2),
        )
        if seen.any():
            values[seen] = (yield from _near(cell, state, where[seen])) + smooth[seen]
        falls.append(values)
    through = (falls[1] - falls[0]) / (2.0 * off)
    weight = np.outer(np.gradient(grid.up)[rows], np.gradient(grid.across)[columns])
    known = np.isfinite(through) & np.isfinite(down).all(axis=-1)
    crossing = float((weight * through**2)[known].sum())
    running = float((weight * (down**2).sum(axis=-1))[known].sum())
    return float(np.sqrt(crossing / (crossing + running))) if crossing + running > 0 else 0.0


def _equal(grid: Grid, levels: Array) -> Array:
    """Equipotentials (s, 2, 2) at the levels."""
    points = np.stack(np.meshgrid(grid.across, grid.up), axis=-1)
    corners, values = (np.concatenate(triangles(a)) for a in (points, grid.potential))
    usable = np.isfinite(values).all(axis=1) & np.concatenate(triangles(grid.wet)).any(axis=1)
    flat = np.concatenate([corners, np.zeros((*corners.shape[:2], 1))], axis=2)
    return contour.cut(flat[usable], values[usable], levels)[0][..., :2]


def triangles(nodes: NDArray[np.generic]) -> tuple[NDArray[np.generic], NDArray[np.generic]]:
    """Values of nodes (m, n, ...) at the corners (cells, 3, ...) of each half of the grid's cells."""
    a, b, c, d = nodes[:-1, :-1], nodes[:-1, 1:], nodes[1:, 1:], nodes[1:, :-1]
    halves = [np.stack(corners, axis=2).reshape(-1, 3, *nodes.shape[2:]) for corners in ((a, b, c), (a, c, d))]
    return halves[0], halves[1]
