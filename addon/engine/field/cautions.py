"""What the current distribution finds wrong: with the deposit, the circuit, the model, and the computation itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..chemistry.deposit import window_findings
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity, spot
from ..geometry.solid_angle import winding
from ..mesh.surface import Surface
from ..settings.job import Job
from ..tank.body import Role
from .credible import crowded_share, too_poor
from .dry import Dry
from .panels import Panels
from .problem import Cell
from .result import Field, Flag
from .solved import Solved

NEGLIGIBLE_AREA_SHARE = 0.005  # of the plated area: less is not told
MAX_IGNORED_CROWDED_SHARE = 0.1  # of the current, at densities that make no metal: less is not told
MAX_RESIDUAL = 1e-3  # of the equations, relative: more is no solution
MAX_INSIDE_PAIRS, MIN_INSIDE_RAYS = 20_000_000, 16  # of faces and triangles: a second or two
# times the upper end of a bath's range, a round figure: less beyond it burns nothing (common practice, no source)
MIN_EXCESS = 1.05
MAX_RELATIVE_ERROR = 0.1  # of the density, relative to its mean


def deposit(surface: Surface, job: Job, field: Field) -> list[Finding]:
    """Faces that get next to nothing, and faces that get more than the bath bears."""
    found = []
    whole = float(surface.plated_area.sum())
    if not np.isfinite(field.time_thinnest):
        found.append(Finding(Code.THINNEST_NEVER, Severity.COSTS, remedy=Remedy(RemedyCode.MOVE_ANODE)))
    if field.bare_area > NEGLIGIBLE_AREA_SHARE * whole:
        low = job.bath.window[0]
        bare = surface.plated & (field.flag == Flag.BARE)
        quantities = {
            Quantity.AREA: field.bare_area,
            Quantity.SHARE: field.bare_area / whole,
            Quantity.LOW_DENSITY: low,
        }
        found.append(
            Finding(
                Code.ALMOST_BARE,
                Severity.SPOILS,
                quantities,
                places=_worst(surface, bare, field.density),
                faces=np.flatnonzero(bare),
                spoilt_share=_spoilt(surface, bare, field.bare_area),
                remedy=Remedy(RemedyCode.MOVE_ANODE),
            )
        )
    if burns(job, field, whole):
        limit = min(job.bath.window[1], job.bath.limiting)
        burnt = surface.plated & (field.flag == Flag.BURNT)
        quantities = {
            Quantity.AREA: field.burnt_area,
            Quantity.SHARE: field.burnt_area / whole,
            Quantity.DENSITY: field.density_spread.max,
            Quantity.LIMIT_DENSITY: limit,
        }
        found.append(
            Finding(
                Code.BURNT,
                Severity.SPOILS,
                quantities,
                places=_worst(surface, burnt, -field.density),
                faces=np.flatnonzero(burnt),
                spoilt_share=_spoilt(surface, burnt, field.burnt_area),
                remedy=Remedy(RemedyCode.LOWER_DENSITY),
            )
        )
    return found


def burns(job: Job, field: Field, whole: float) -> bool:
    """Whether more than a trifle of a plated area in m2 gets so much current that it shows."""
    limit = min(job.bath.window[1], job.bath.limiting)
    return field.burnt_area > NEGLIGIBLE_AREA_SHARE * whole and field.density_spread.max > MIN_EXCESS * limit


def _spoilt(surface: Surface, faces: NDArray[np.bool_], area: float) -> float:
    """Share of the visible area: of faces, or by the panels' finer area (m2) where no face is marked as visible."""
    if (surface.show & surface.plated).any():
        return surface.visible_share(faces)
    return min(area / float(surface.plated_area.sum()), 1.0)


def _worst(
    surface: Surface, which: NDArray[np.bool_], cost: NDArray[np.float64]
) -> tuple[tuple[float, float, float], ...]:
    """The middle of the face of least cost among these, if there is one."""
    faces = np.flatnonzero(which)
    return (spot(surface.centroid[faces[np.argmin(cost[faces])]]),) if len(faces) else ()


def crowding(job: Job, found: Solved) -> list[Finding]:
    """A coat that lets much of the current in at the wire alone."""
    panels, cell, state, limiting = found.panels, found.cell, found.state, job.bath.limiting
    if crowded_share(panels, cell, state, limiting) < MAX_IGNORED_CROWDED_SHARE:
        return []
    return [too_poor(panels, cell, state, limiting)]


def circuit(job: Job, field: Field, mean: float, needed: float | None) -> list[Finding]:
    """Anodes over their limit, and what the supply does not give.

    mean : A/m2 on the parts; needed : V that the wanted current would take, where it is more than there is and known
    """
    found = []
    limit = job.bath.anode_limit
    found += overloaded(field, limit)
    if field.limited_by_voltage:
        figures = {
            Quantity.LIMIT_VOLTAGE: job.supply.voltage,
            Quantity.CURRENT: field.wanted_current,
            Quantity.LIMIT_CURRENT: field.current,
        }
        wanted = {} if needed is None else {Quantity.VOLTAGE: needed}
        remedy = Remedy(RemedyCode.LARGER_SUPPLY, wanted)
        found.append(Finding(Code.SUPPLY_VOLTAGE_TOO_SMALL, Severity.COSTS, {**figures, **wanted}, remedy=remedy))
    elif field.voltage > job.supply.voltage:
        volts = {Quantity.VOLTAGE: field.voltage, Quantity.LIMIT_VOLTAGE: job.supply.voltage}
        remedy = Remedy(RemedyCode.LARGER_SUPPLY, {Quantity.VOLTAGE: field.voltage})
        found.append(Finding(Code.SUPPLY_VOLTAGE_TOO_SMALL, Severity.COSTS, volts, remedy=remedy))
    if field.is_below_wanted or job.supply.hold is not None:  # else the deposit says it, of the same density
        found += window_findings(mean, job.bath)
    own = job.supply.hold is not None or field.thief_current > 0  # else the deposit says it
    if own and field.current > job.supply.current * 1.001:
        amperes = {Quantity.CURRENT: field.current, Quantity.SUPPLY_CURRENT: job.supply.current}
        remedy = Remedy(RemedyCode.LARGER_SUPPLY, {Quantity.CURRENT: field.current})
        found.append(Finding(Code.DRAW_TOO_LARGE, Severity.COSTS, amperes, remedy=remedy))
    return found


def overloaded(field: Field, limit: float) -> list[Finding]:
    """Anodes above their limit in A/m2, as one finding on the worst with their number."""
    over = [load for load in field.anodes if load.density > limit]
    if not over:
        return []
    worst = max(over, key=lambda load: load.density)
    quantities = {
        Quantity.DENSITY: worst.density,
        Quantity.LIMIT_DENSITY: limit,
        Quantity.CURRENT: worst.current,
        Quantity.COUNT: float(len(over)),
    }
    larger = {Quantity.NEEDED_AREA: worst.current / limit}
    remedy = Remedy(RemedyCode.LARGER_ANODE, larger, names={"anode": worst.name})
    return [Finding(Code.ANODE_OVERLOADED, Severity.SPOILS, quantities, {"anode": worst.name}, remedy=remedy)]


def model(surface: Surface, panels: Panels, cell: Cell) -> list[Finding]:
    """Surface that no current reaches, and a surface that is open."""
    found = []
    hidden = np.zeros(0, dtype=bool) if cell.dry is None else cell.dry[panels.bodies[0]] == Dry.BURIED
    hidden[hidden] = inside(surface, panels.part.cover.home[hidden])
    if hidden.any():
        share = float(cell.influence.area[panels.bodies[0]][hidden].sum()) / float(surface.plated_area.sum())
        mend = Remedy(RemedyCode.MEND_MESH)
        found.append(Finding(Code.INSIDE_SHELL, Severity.COSTS, {Quantity.SHARE: share}, remedy=mend))
    if (cell.rows(Role.PART) & ~cell.influence.double).any():
        found.append(Finding(Code.OPEN_SHEET, Severity.COSTS, remedy=Remedy(RemedyCode.MEND_MESH)))
    return found


def inside(surface: Surface, faces: NDArray[np.intp]) -> NDArray[np.bool_]:
    """(k,) whether the liquid side of each face lies in the part's own solid.

    Walls of coarse panels may cross where those of the part do not, so the part itself is asked. Of many faces on a
    large part every n-th is asked for those after it: cost at most MAX_INSIDE_PAIRS, or MIN_INSIDE_LOOKS by triangles.
    """
    if not len(faces):
        return np.zeros(0, dtype=bool)
    corners = surface.corners[surface.wetted]
    looks = max(MAX_INSIDE_PAIRS // len(corners), MIN_INSIDE_RAYS)
    stride = -(-len(faces) // looks)
    asked = faces[::stride]
    held = winding(surface.centroid[asked] + surface.lift * surface.normal[asked], corners) > 0.5
    return np.repeat(held, stride)[: len(faces)]


def computation(field: Field) -> list[Finding]:
    """Whether the solution is one, and how sure it is."""
    found = []
    if field.residual > MAX_RESIDUAL:
        found.append(Finding(Code.NOT_CONVERGED, Severity.COSTS, {Quantity.RESIDUAL: field.residual}))
    if field.error is None or field.error > MAX_RELATIVE_ERROR:
        remedy = Remedy(RemedyCode.RAISE_PANELS)
        figures = {} if field.error is None else {Quantity.ERROR: field.error}
        found.append(Finding(Code.FIELD_UNSURE, Severity.COSTS, figures, remedy=remedy))
    return found
