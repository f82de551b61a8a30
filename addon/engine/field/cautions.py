"""Findings of the current distribution: on the deposit, the circuit, the model, and the computation itself."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..chemistry.deposit import window_findings
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity, spot
from ..geometry.quantiles import weighted_quantiles
from ..geometry.solid_angle import rough_winding
from ..mesh.surface import Surface
from ..settings.bath import SAFE_LIMITING_SHARE
from ..settings.job import Job
from ..tank.body import Role
from .credible import crowded_share, too_poor
from .dry import Dry
from .panels import Panels
from .problem import Cell
from .result import Field, Flag
from .solved import Solved

NEGLIGIBLE_AREA_SHARE = 0.005  # of the plated area; a smaller share gives no finding
MIN_REPORTED_AREA_SHARE = 0.005  # of the area: smaller flaws of a mesh change no figure of the field (a round number)
# of the visible area: few parts have no recess below the bath's range (a round figure, common practice, no source)
MAX_IGNORED_DULL_SHARE = 0.25
DULL_DENSITY_MARGIN = 1.05  # times the density that is needed: the more current flows, the less evenly it spreads
MAX_IGNORED_CROWDED_SHARE = 0.1  # of the current, at densities that make no metal; a smaller share gives no finding
MAX_RESIDUAL = 1e-3  # relative residual: a larger one is no solution
MAX_INSIDE_PAIRS, MIN_INSIDE_RAYS = 20_000_000, 16  # of faces and triangles: a second or two
# times the upper end of a bath's range, a round figure: less beyond it burns nothing (common practice, no source)
MIN_EXCESS = 1.05
MAX_RELATIVE_ERROR = 0.1  # of the density, relative to its mean


def deposit(surface: Surface, job: Job, field: Field) -> list[Finding]:
    """Faces that get almost no current, too little to shine, or more than the bath bears."""
    never = Finding(Code.THINNEST_NEVER, Severity.COSTS, remedy=Remedy(RemedyCode.MOVE_ANODE))
    return [
        *([] if np.isfinite(field.time_thinnest) else [never]),
        *_bare(surface, job, field),
        *_dull(surface, job, field),
        *_burnt(surface, job, field),
    ]


def _bare(surface: Surface, job: Job, field: Field) -> list[Finding]:
    whole = float(surface.plated_area.sum())
    if field.bare_area <= NEGLIGIBLE_AREA_SHARE * whole:
        return []
    figures = {Quantity.LOW_DENSITY: job.bath.window[0]}
    faces = surface.plated & (field.flag == Flag.BARE)
    cost = field.density
    return [_on_area(Code.ALMOST_BARE, surface, faces, cost, field.bare_area, figures, Remedy(RemedyCode.MOVE_ANODE))]


def _dull(surface: Surface, job: Job, field: Field) -> list[Finding]:
    """Faces below the bath's range, where they make up more of the area than the recesses of most parts do."""
    faces = surface.plated & (field.flag == Flag.DULL)
    if _spoilt(surface, faces, field.dull_area) <= MAX_IGNORED_DULL_SHARE:
        return []
    figures = {Quantity.LOW_DENSITY: job.bath.window[0]}
    remedy = _brighter(surface, job, field)
    return [_on_area(Code.DULL, surface, faces, field.density, field.dull_area, figures, remedy)]


def _brighter(surface: Surface, job: Job, field: Field) -> Remedy:
    """The remedy that brings all but an ignored share of the area into the bath's range: a higher current density if
    it burns nothing and the supply can give it; otherwise a better arrangement of the anodes."""
    low, high = job.bath.window
    limit = min(high, job.bath.limiting)
    whole = float(surface.plated_area.sum())
    mean = sum(field.part_currents) / len(field.part_currents) / whole
    shown = surface.plated_area * surface.show if (surface.show & surface.plated).any() else surface.plated_area
    dull = float(weighted_quantiles(field.density, shown, MAX_IGNORED_DULL_SHARE))
    factor = DULL_DENSITY_MARGIN * low / dull if dull > 0 else np.inf
    if factor * field.density_spread.max > limit or factor * mean > SAFE_LIMITING_SHARE * job.bath.limiting:
        return Remedy(RemedyCode.MOVE_ANODE)
    figures = {Quantity.DENSITY: factor * mean, Quantity.CURRENT: factor * field.current}
    short = factor * field.current > job.supply.current
    return Remedy(RemedyCode.LARGER_SUPPLY if short else RemedyCode.RAISE_DENSITY, figures)


def _burnt(surface: Surface, job: Job, field: Field) -> list[Finding]:
    if not burns(job, field, float(surface.plated_area.sum())):
        return []
    limit = min(job.bath.window[1], job.bath.limiting)
    figures = {Quantity.DENSITY: field.density_spread.max, Quantity.LIMIT_DENSITY: limit}
    faces, remedy = surface.plated & (field.flag == Flag.BURNT), Remedy(RemedyCode.LOWER_DENSITY)
    return [_on_area(Code.BURNT, surface, faces, -field.density, field.burnt_area, figures, remedy)]


def _on_area(
    code: Code,
    surface: Surface,
    faces: NDArray[np.bool_],
    cost: NDArray[np.float64],
    area: float,
    figures: Mapping[Quantity, float],
    remedy: Remedy,
) -> Finding:
    """A finding on some faces (n,), the one of least cost (n,) being the worst. area : m2 of their panels"""
    return Finding(
        code,
        Severity.SPOILS,
        {Quantity.AREA: area, Quantity.SHARE: area / float(surface.plated_area.sum()), **figures},
        places=_worst(surface, faces, cost),
        faces=np.flatnonzero(faces),
        spoilt_share=_spoilt(surface, faces, area),
        remedy=remedy,
    )


def burns(job: Job, field: Field, whole: float) -> bool:
    """Whether more than an ignored share of a plated area in m2 visibly burns."""
    limit = min(job.bath.window[1], job.bath.limiting)
    return field.burnt_area > NEGLIGIBLE_AREA_SHARE * whole and field.density_spread.max > MIN_EXCESS * limit


def _spoilt(surface: Surface, faces: NDArray[np.bool_], area: float) -> float:
    """Share of the visible area: of faces, or by the panels' finer area (m2) where no face is marked as visible."""
    if (surface.show & surface.plated).any():
        return surface.visible_share(faces)
    return min(area / float(surface.plated_area.sum()), 1.0)


def _worst(
    surface: Surface, selected: NDArray[np.bool_], cost: NDArray[np.float64]
) -> tuple[tuple[float, float, float], ...]:
    """The middle of the face of least cost among these, if there is one."""
    faces = np.flatnonzero(selected)
    return (spot(surface.centroid[faces[np.argmin(cost[faces])]]),) if len(faces) else ()


def crowding(job: Job, solved: Solved) -> list[Finding]:
    """A finding where much of the current crowds at the wire."""
    panels, cell, state, limiting = solved.panels, solved.cell, solved.state, job.bath.limiting
    if crowded_share(panels, cell, state, limiting) < MAX_IGNORED_CROWDED_SHARE:
        return []
    return [too_poor(panels, cell, state, limiting)]


def circuit(job: Job, field: Field, mean: float, needed: float | None) -> list[Finding]:
    """Anodes over their limit, and what the supply does not give.

    mean : A/m2 on the parts; needed : V that the wanted current would take, where it is more than there is and known
    """
    findings = []
    limit = job.bath.anode_limit
    findings += overloaded(field, limit)
    if field.limited_by_voltage:
        figures = {
            Quantity.LIMIT_VOLTAGE: job.supply.voltage,
            Quantity.CURRENT: field.wanted_current,
            Quantity.LIMIT_CURRENT: field.current,
        }
        wanted = {} if needed is None else {Quantity.VOLTAGE: needed}
        remedy = Remedy(RemedyCode.LARGER_SUPPLY, wanted)
        findings.append(Finding(Code.SUPPLY_VOLTAGE_TOO_SMALL, Severity.COSTS, {**figures, **wanted}, remedy=remedy))
    elif field.voltage > job.supply.voltage:
        volts = {Quantity.VOLTAGE: field.voltage, Quantity.LIMIT_VOLTAGE: job.supply.voltage}
        remedy = Remedy(RemedyCode.LARGER_SUPPLY, {Quantity.VOLTAGE: field.voltage})
        findings.append(Finding(Code.SUPPLY_VOLTAGE_TOO_SMALL, Severity.COSTS, volts, remedy=remedy))
    if field.is_below_wanted or job.supply.hold is not None:  # otherwise reported by the deposit, for the same density
        copies = len(field.part_currents)
        whole = sum(field.part_currents) / mean if mean > 0 else 0.0
        findings += window_findings(mean, job.bath, job.supply, whole, copies)
    own = job.supply.hold is not None or field.thief_current > 0  # otherwise reported by the deposit
    short = field.limited_by_supply and not field.limited_by_voltage
    drawn = field.current * (field.wanted_current / sum(field.part_currents) if short else 1.0)
    if own and drawn > job.supply.current * 1.001:
        amperes = {Quantity.CURRENT: drawn, Quantity.SUPPLY_CURRENT: job.supply.current}
        remedy = Remedy(RemedyCode.LARGER_SUPPLY, {Quantity.CURRENT: drawn})
        findings.append(Finding(Code.DRAW_TOO_LARGE, Severity.COSTS, amperes, remedy=remedy))
    return findings


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
    findings = []
    area, rows = cell.influence.area, panels.bodies[0]
    hidden = np.zeros(len(rows), dtype=bool) if cell.dry is None else cell.dry[rows] == Dry.BURIED
    if hidden.any():
        hidden[hidden] = inside(surface, panels.part.cover.home[hidden])
    share = float(area[rows][hidden].sum()) / float(surface.plated_area.sum())
    if share >= MIN_REPORTED_AREA_SHARE:
        mend = Remedy(RemedyCode.MEND_MESH)
        findings.append(Finding(Code.INSIDE_SHELL, Severity.COSTS, {Quantity.SHARE: share}, remedy=mend))
    part = cell.rows(Role.PART)
    share = float(area[part & ~cell.influence.double].sum()) / float(area[part].sum())
    if share >= MIN_REPORTED_AREA_SHARE:
        figures = {Quantity.SHARE: share}
        findings.append(Finding(Code.OPEN_SHEET, Severity.COSTS, figures, remedy=Remedy(RemedyCode.MEND_MESH)))
    return findings


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
    held = rough_winding(surface.centroid[asked] + surface.lift * surface.normal[asked], corners) > 0.5
    return np.repeat(held, stride)[: len(faces)]


def computation(field: Field) -> list[Finding]:
    """Whether the solution converged, and how accurate it is."""
    findings = []
    if field.residual > MAX_RESIDUAL:
        findings.append(Finding(Code.NOT_CONVERGED, Severity.COSTS, {Quantity.RESIDUAL: field.residual}))
    if field.error is None or field.error > MAX_RELATIVE_ERROR:
        remedy = Remedy(RemedyCode.RAISE_PANELS)
        figures = {} if field.error is None else {Quantity.ERROR: field.error}
        findings.append(Finding(Code.FIELD_UNSURE, Severity.COSTS, figures, remedy=remedy))
    return findings
