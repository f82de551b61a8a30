"""All surfaces of a tank as panels: small where the current density changes, large where it does not."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..chemistry.kinetics import Law
from ..linalg.labels import connected
from ..mesh.surface import Surface
from ..mesh.topology import Topology
from ..progress import Progress, Step, subrange
from ..tank.arrange import Arrangement
from ..tank.body import Body, Pose, Role
from .bem.influence import Influence, Liquid
from .bem.neighborhoods import Neighborhoods, unresolved
from .bem.precondition import SchwarzPreconditioner
from .coarsen import Coarse, coarsen
from .cover import Cover, cover
from .dry import MIN_LIQUID_SHARE, Dry, dry_panels
from .fit import fitted
from .panel_sizes import Hint, beside, on_part
from .pieces import MAX_REFINEMENT_RATIO, Array, Ints, area, cut, dot, even_size, normals
from .problem import Cell
from .proximity import Pairs, close_pairs, cut_close, twins, width
from .skin import reduced, skin

PART_SHARE = 0.75  # of the panels, the walls' aside
COARSENING_OVER_WANTED_SIZE = 0.5  # of the wanted size: how far the surface is coarsened before it is cut
PREPARED = 0.6  # of that: how far it is coarsened once for levels of panels, of which some are small
PREPARED_OVER_PIECES = 2.0  # triangles within reach of that count
SKIN_SHARE = 0.9  # of the panels: to so many triangles at most
MAX_BURIED_LAYERS = 4  # one behind the other
MAX_GROWTH = 1.3  # of the number of panels, where walls and gaps are thin
PROGRESS_TEXT = "Cutting the surfaces into panels"
PANELING_BYTES, PANELING_BYTES_PER_FACE = 35_000_000, 150  # that laying panels takes; more for each of the part's faces
COARSE_LEVEL_BYTES = 20_000_000  # bytes of the coarse level that stays, for the coat to be solved on
WALL_SHARE = 0.6  # of the panels: as many more on walls that are not mirrors
MIN_SMOOTH_COSINE = 0.7  # of the normals of two triangles that belong to one smooth patch: 45 degrees
MAX_SOLID_ANGLE_ERROR = 0.1  # deviation from half of the sphere, as seen by a body's panels, that shows holes


@dataclass(frozen=True, eq=False)
class PartPieces:
    """One copy of the part: pieces (p, 3, 3) in model coordinates; role, loose, sides : (p,) as of the skin;
    cover : to its faces; twin : (p,) the piece whose density it has, of a wall too thin to tell its sides apart
    close : pairs of pieces that are nearer than they are wide; finest : m, edges of pieces are cut to at least
    """

    pieces: Array
    role: NDArray[np.int8]
    loose: Ints
    sides: NDArray[np.int8]
    cover: Cover
    twin: Ints
    close: Pairs
    finest: float

    @property
    def merged(self) -> NDArray[np.bool_]:
        """(p,) pieces that another stands for."""
        return self.twin != np.arange(len(self.twin))

    @property
    def sheet(self) -> NDArray[np.bool_]:
        """(p,) pieces with liquid on both sides."""
        return (self.loose > 0) & (self.sides > 1) & (np.bincount(self.twin, self.merged, len(self.twin)) == 0)


@dataclass(frozen=True, eq=False)
class Panels:
    """Panels of a whole arrangement, in tank coordinates.

    corners : (n, 3, 3) meters, normals into the liquid
    role : (n,) Role; sheet : (n,) what is known to have liquid on both sides; sides : (n,) that count
    loose : (n,) number of a part's shell with open edges, else 0
    bodies : the panels of each copy of the part, then of each body; part : what its copies are made of, in
    order
    """

    corners: Array
    role: NDArray[np.int8]
    sheet: NDArray[np.bool_]
    sides: NDArray[np.int8]
    loose: Ints
    bodies: tuple[Ints, ...]
    part: PartPieces
    arrangement: Arrangement

    @cached_property
    def close(self) -> Pairs:
        """Pairs of panels of one copy of the part that are nearer than they are wide."""
        pairs, copies = self.part.close, self.bodies[: len(self.arrangement.poses)]
        small, large = (np.concatenate([rows[indices] for rows in copies]) for indices in (pairs.small, pairs.large))
        above, faces = (np.tile(values, len(copies)) for values in (pairs.above, pairs.faces))
        return Pairs(small, large, np.tile(pairs.gap, len(copies)), above, faces)


def lay(
    surface: Surface,
    arrangement: Arrangement,
    count: int,
    hint: Hint | None = None,
    part: PartPieces | None = None,
    start: Coarse | None = None,
) -> Progress[Panels]:
    """About `count` panels, and as many more as walls need.

    hint : where to make those of the part small; part : its pieces, of another arrangement
    start : what `prepared` makes of the part's surface for as many panels or more
    """
    copies = arrangement.poses
    part_count = _part_count(arrangement, count)
    anodes = np.concatenate([_spots(b) for b in arrangement.bodies if b.role == Role.ANODE])
    seen = np.concatenate([(anodes - pose.shift) @ pose.turn for pose in copies])  # by each copy, in its own axes
    pieces_of_part = part or (yield from subrange(0.0, 0.8, _part(surface, seen, part_count, hint, start)))
    yield Step(0.8, PROGRESS_TEXT)
    laid = [_inside(arrangement, pose, pieces_of_part.pieces, surface.corners) for pose in copies]
    several = (pieces_of_part.role, pieces_of_part.sheet, pieces_of_part.sides, pieces_of_part.loose)
    roles, sheets, sides, loose = ([values] * len(copies) for values in several)
    near = np.concatenate(laid).mean(axis=1)
    near = near[:: max(1, len(near) // 3000)]
    reach = {b.name: float(np.linalg.norm(np.ptp(b.bounds, axis=0))) for b in arrangement.bodies if not b.wall}
    surroundings_count = max(count - part_count * len(copies), 0.15 * count)
    for body in arrangement.bodies:  # walls come last
        wanted = (
            WALL_SHARE * count if body.wall else max(surroundings_count * reach[body.name] / sum(reach.values()), 60)
        )
        laid_before = np.concatenate(laid).mean(axis=1) if body.wall else near
        corners = yield from _body(body, laid_before, int(wanted))
        laid.append(corners)
        roles.append(np.full(len(corners), body.role, np.int8))
        sheets.append(np.full(len(corners), body.sheet))
        sides.append(np.full(len(corners), 1 + body.sheet, np.int8))
        loose.append(np.zeros(len(corners), np.intp))
    starts = np.cumsum([0] + [len(corners) for corners in laid])
    rows = tuple(np.arange(a, b) for a, b in zip(starts[:-1], starts[1:], strict=True))
    return Panels(
        corners=np.concatenate(laid),
        role=np.concatenate(roles),
        sheet=np.concatenate(sheets),
        sides=np.concatenate(sides),
        loose=np.concatenate(loose),
        bodies=rows,
        part=pieces_of_part,
        arrangement=arrangement,
    )


def _inside(arrangement: Arrangement, pose: Pose, pieces: Array, faces: Array) -> Array:
    """(p, 3, 3) pieces of a copy of the part, in tank coordinates, none beyond a wall or the surface that mirrors.

    Coarse panels of a round part may protrude: a corner beyond the wall is moved back to the part's own extent.
    pieces, faces : (p, 3, 3), (m, 3, 3) of the part in its own coordinates
    """
    placed = pose.of(pieces)
    low, high = np.full(3, -np.inf), np.full(3, np.inf)
    if arrangement.box is not None:
        low, high = arrangement.box
    elif arrangement.surface is not None:
        high[2] = arrangement.surface
    below, above = placed < low, placed > high
    if not (below | above).any():
        return placed
    part = pose.of(faces)
    return np.where(below, part.min(axis=(0, 1)), np.where(above, part.max(axis=(0, 1)), placed))


def prepared(surface: Surface, arrangement: Arrangement, count: int) -> Progress[Coarse | None]:
    """The surface of a fine part coarsened once, fine enough for up to `count` panels of varying size; None if it is
    not much finer than that."""
    pieces = _part_count(arrangement, count)
    even = even_size(float(surface.area[surface.wetted].sum()), pieces)
    return (
        yield from reduced(surface, PREPARED * COARSENING_OVER_WANTED_SIZE * even, int(PREPARED_OVER_PIECES * pieces))
    )


def _part_count(arrangement: Arrangement, count: int) -> int:
    """The pieces of each copy of the part, of so many panels."""
    return max(int(PART_SHARE * count / len(arrangement.poses)), 200)


def _part(surface: Surface, anodes: Array, count: int, hint: Hint | None, start: Coarse | None) -> Progress[PartPieces]:
    even = even_size(float(surface.area[surface.wetted].sum()), count)
    if hint is None:
        size = np.full(len(surface.points), COARSENING_OVER_WANTED_SIZE * even)
    else:
        size, wet = np.full(len(surface.points), np.inf), hint.face > 0
        np.minimum.at(size, surface.triangles[wet], COARSENING_OVER_WANTED_SIZE * even * hint.face[wet, None])
    whole = yield from subrange(0.0, 0.8, skin(surface, size, int(SKIN_SHARE * count), start))
    yield Step(0.8, PROGRESS_TEXT)
    pieces, origin = cut(whole.corners, on_part(anodes, even, hint), count)
    ragged = whole.loose > 0
    pieces, origin = cut_close(pieces, origin, even / MAX_REFINEMENT_RATIO, int(MAX_GROWTH * len(pieces)), ragged)
    yield Step(0.9, PROGRESS_TEXT)
    covered = cover(whole, pieces, origin)
    pieces = fitted(pieces, covered.high)
    pairs, sides = close_pairs(pieces, ragged=ragged[origin]), whole.sides[origin]
    twin = np.where(sides > 1, np.arange(len(pieces)), twins(pieces, pairs, even / MAX_REFINEMENT_RATIO))
    sides[twin[twin != np.arange(len(twin))]] = 2
    return PartPieces(
        pieces, whole.role[origin], whole.loose[origin], sides, covered, twin, pairs, even / MAX_REFINEMENT_RATIO
    )


def memory_estimate(panels: Panels) -> int:
    """Bytes that a solution on these panels takes at most."""
    estimate = Influence.memory_estimate(panels.corners, panels.bodies, *_surroundings(panels))
    return estimate + PANELING_BYTES + COARSE_LEVEL_BYTES + PANELING_BYTES_PER_FACE * panels.part.cover.faces


def _surroundings(panels: Panels) -> tuple[Liquid, list[bool]]:
    """The boundaries of the liquid besides panels, and which bodies are better mirrored whole."""
    liquid = Liquid(panels.arrangement.box, panels.arrangement.surface)
    return liquid, [i < len(panels.arrangement.poses) for i in range(len(panels.bodies))]


def cell(panels: Panels, cathode: Law, anode: Law, conductivity: float) -> Progress[Cell]:
    """The panels with their influence on each other.

    A shell with open edges counts as a body where its panels see half of the sphere liquid, else as a sheet. Panels
    that lie inside another body are left out.
    """
    influence = yield from Influence.build(panels.corners, panels.bodies, ~panels.sheet, *_surroundings(panels))
    thin = _sheets(panels.loose, influence)
    if thin.any():
        influence = influence.without(thin)
    twin = np.arange(influence.n)
    for rows in panels.bodies[: len(panels.arrangement.poses)]:
        twin[rows] = rows[panels.part.twin]
    merged = twin != np.arange(influence.n)
    dry = dry_panels(influence, panels.role == Role.PART, panels.close, width(panels.corners), panels.part.finest)
    dry[merged] = np.where(dry[twin[merged]], dry[twin[merged]], Dry.MERGED)
    if merged.any():
        influence = influence.tied(twin)
    for _ in range(MAX_BURIED_LAYERS):  # removed panels no longer hide those behind them
        gone = influence.double & (dry != Dry.WET) & (dry != Dry.MERGED)
        if not gone.any():
            break
        influence = influence.without(gone)
        dry[influence.double & (dry == Dry.WET) & (influence.share < MIN_LIQUID_SHARE)] = Dry.BURIED
    near = Neighborhoods(influence)
    lost = unresolved(influence, near, dry == Dry.WET, (panels.role == Role.PART) & (dry == Dry.WET))
    if lost:
        gone = np.isin(twin, lost)
        dry[gone] = Dry.UNRESOLVED
        influence = influence.without(gone)
    still, schwarz = np.zeros(influence.n), SchwarzPreconditioner(influence, near)
    laws = cathode, anode, conductivity
    return Cell(influence, panels.role, panels.sides, dry == Dry.WET, *laws, still, dry=dry, schwarz=schwarz)


def _sheets(loose: Ints, influence: Influence) -> NDArray[np.bool_]:
    """(n,) panels of shells with open edges that see half of the sphere on less than half of their area."""
    if not loose.any():
        return np.zeros(influence.n, bool)
    flaw = np.abs(influence.share - 0.5) < MAX_SOLID_ANGLE_ERROR
    whole, flawed = (np.bincount(loose, influence.area * weights) for weights in (np.ones(influence.n), flaw))
    return (loose > 0) & influence.double & (flawed < 0.5 * whole)[loose]


def _spots(body: Body) -> Array:
    """Some points all over a body."""
    corners = body.corners
    pieces, _ = cut(corners, lambda places: np.full(places.shape[:-1], np.inf), 300)
    return pieces.mean(axis=1)[:: max(1, len(pieces) // 3000)]


def _body(body: Body, near: Array, count: int) -> Progress[Array]:
    """Panels of one body, small where it comes near other things."""
    even = even_size(float(area(body.corners).sum()), count)
    corners = body.corners
    if len(corners) > count:  # few triangles are no finer than needed: short edges of theirs are a thin wall
        label = _smooth_patches(body)
        coarse = yield from coarsen(body.points, body.triangles, label, np.full(len(body.points), 0.5 * even), count)
        corners = body.points[coarse.triangles]

    return cut(corners[area(corners) > 1e-9 * even**2], beside(near, even), count)[0]


def _smooth_patches(body: Body) -> Ints:
    """(m,) one number for triangles that meet smoothly: edges between are kept, lest a thin plate is folded flat."""
    met = Topology.of(body.triangles, len(body.points)).edge_faces
    a, b = met[(met >= 0).all(axis=1)].T
    normal = normals(body.corners)
    smooth = dot(normal[a], normal[b]) > MIN_SMOOTH_COSINE
    return connected(len(body.triangles), a[smooth], b[smooth])[0].astype(np.intp)
