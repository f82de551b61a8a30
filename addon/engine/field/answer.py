"""From a solved cell to results on the part: densities on its faces, thickness, time, voltage and findings."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .. import faraday
from ..findings import Code, Finding, Quantity, Severity
from ..mesh.surface import Surface
from ..settings.job import Job
from ..tank.body import Role
from ..units import CM2
from . import cautions
from .dry import Dry
from .ends import quarters
from .extremes import extremes
from .panels import Panels
from .problem import Cell, Control, State
from .refine import a_side, on_faces
from .result import AnodeLoad, Field, Flag, Spread, flags
from .solved import Solved


def answer(
    surface: Surface,
    job: Job,
    solved: Solved,
    *,
    with_coat: bool,
    wanted: float | None = None,
) -> Field:
    """The state of a cell as the field of a job.

    with_coat : whether the cell knows of a loss along the coat
    wanted : A that were asked for, where the job's current is what the coat bears of it
    """
    field = unjudged(surface, job, solved, with_coat=with_coat, wanted=wanted)
    return replace(field, findings=_findings(surface, job, solved, field, with_coat=with_coat))


def unjudged(surface: Surface, job: Job, solved: Solved, *, with_coat: bool, wanted: float | None = None) -> Field:
    """As `answer`, without findings, some of which need every face of the part."""
    panels, cell, state = solved.panels, solved.cell, solved.state
    flow = cell.influence.area * state.j
    cathodes, plated = cell.rows(Role.PART, Role.THIEF), surface.plated_area
    current, parts = float(flow[cathodes].sum()), _part_currents(panels, cell, flow)
    polarization = float(flow @ cell.drops(state.j)[0]) / current
    coat = float(flow[cathodes] @ cell.raised[cathodes]) / current
    ohmic = state.voltage - polarization - coat

    density = on_faces(surface, panels, state.j)
    density *= parts[0] / float(plated @ density)  # faces and panels carry the same current
    mean = sum(parts) / len(parts) / float(plated.sum())
    time = faraday.time(faraday.metal(job.bath.metal), mean, job.target.thickness, job.bath.efficiency)
    growth = job.target.thickness / mean  # m of thickness for each A/m2
    laid = _laid(surface, job, solved)
    return Field(
        density=density,
        thickness=np.maximum(density, 0.0) * growth,
        flag=flags(density, surface.plated, job.bath.window, job.bath.limiting),
        density_spread=laid.spread,
        thickness_spread=Spread(*(max(value, 0.0) * growth for value in vars(laid.spread).values())),
        bare_area=laid.bare,
        dull_area=laid.dull,
        burnt_area=laid.burnt,
        uniformity=max(laid.spread.min, 0.0) / mean,
        voltage=state.voltage,
        ohmic=ohmic,
        polarization=polarization,
        coat=coat if with_coat else None,
        resistance=ohmic / current,
        current=current,
        anode_current=-float(flow[cell.rows(Role.ANODE)].sum()),
        thief_current=float(flow[cell.rows(Role.THIEF)].sum()),
        part_currents=parts,
        anodes=_loads(panels, cell, state),
        anode_limit=job.bath.anode_limit,
        wagner=_wagner(cell, mean, float(plated.sum())),
        time=time,
        time_thinnest=time * mean / laid.thinnest if laid.thinnest > 0 else np.inf,
        panels=len(panels.corners),
        error=solved.error,
        residual=state.residual,
        control=state.control if wanted is None or state.control == Control.VOLTAGE else Control.COAT,
        wanted_current=_wanted(job, len(parts) * float(plated.sum())) if wanted is None else wanted,
        assumed=(*panels.arrangement.notes, *_too_close(panels, cell)),
    )


def _part_currents(panels: Panels, cell: Cell, flow: NDArray[np.float64]) -> tuple[float, ...]:
    """A of each copy of the part; flow : (n,) A of each panel."""
    parts = cell.rows(Role.PART)
    return tuple(float(flow[rows][parts[rows]].sum()) for rows in panels.bodies[: len(panels.arrangement.poses)])


def _wagner(cell: Cell, mean: float, area: float) -> float:
    """Wagner's number at a mean density (A/m2): kappa d(eta)/dj over the radius of a sphere of so many m2."""
    return float(cell.conductivity * cell.cathode.resistance(np.array(mean)) / np.sqrt(area / (4.0 * np.pi)))


class _Laid(NamedTuple):
    """Figures of the first copy's panels.

    spread : A/m2; thinnest : A/m2 where what shows gets least; bare, dull, burnt : m2
    """

    spread: Spread
    thinnest: float
    bare: float
    dull: float
    burnt: float


def _laid(surface: Surface, job: Job, solved: Solved) -> _Laid:
    """Computed from panels, not faces; coat without a wire takes no current and counts as bare."""
    panels, state = solved.panels, solved.state
    cell = replace(solved.cell, role=panels.role)
    whole, rows = float(surface.plated_area.sum()), panels.bodies[0]
    plated = cell.rows(Role.PART)[rows]
    density, weight = a_side(panels, state.j), cell.influence.area[rows] * panels.sides[rows]
    fine, weight = (state.j[rows] / panels.sides[rows])[plated], weight[plated]
    pieces, ends = panels.part.pieces, panels.part.cover.ends.of_values(density)
    low, high = extremes(*quarters(pieces[plated], ends[plated]), whole)
    shown, _ = showing(surface, panels, cell)
    thin = extremes(*quarters(pieces[shown], ends[shown]), whole)[0] if shown.any() else 0.0
    flagged = flags(fine, np.ones(len(fine), bool), job.bath.window, job.bath.limiting)
    scale = whole / float(weight.sum())
    bare, dull, burnt = (scale * float(weight[flagged == flag].sum()) for flag in (Flag.BARE, Flag.DULL, Flag.BURNT))
    return _Laid(replace(Spread.of(fine, weight), min=low, max=high), thin, bare, dull, burnt)


def _findings(surface: Surface, job: Job, solved: Solved, field: Field, *, with_coat: bool) -> tuple[Finding, ...]:
    mean = sum(field.part_currents) / len(field.part_currents) / float(surface.plated_area.sum())
    return (
        *solved.findings,
        *_held(job, mean),
        *cautions.deposit(surface, job, field),
        *cautions.circuit(job, field, mean, solved.needed_voltage),
        *(cautions.crowding(job, solved) if with_coat else ()),
        *cautions.model(surface, solved.panels, solved.cell),
        *cautions.computation(field),
    )


def _wanted(job: Job, area: float) -> float:
    """A that a job asks for on so many m2; 0 where it asks for a voltage."""
    return 0.0 if job.supply.hold is not None else job.target.density * area


def _held(job: Job, mean: float) -> list[Finding]:
    """A finding if a held voltage leads to another density than the wanted one."""
    held, wanted = job.supply.hold, job.target.density
    if held is None or abs(mean / wanted - 1.0) < 0.05:
        return []
    quantities = {Quantity.VOLTAGE: held, Quantity.DENSITY: mean, Quantity.WANTED_DENSITY: wanted}
    return [Finding(Code.HELD_VOLTAGE_OFF, Severity.COSTS, quantities)]


def showing(surface: Surface, panels: Panels, cell: Cell) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(p,) visible pieces of the first copy, or all plated ones if no face is marked; and (p,) plated ones."""
    shows = surface.show & surface.plated
    rows = panels.bodies[0]
    plated = cell.rows(Role.PART)[rows]
    if not shows.any():
        return plated, plated
    visible = plated & (panels.part.cover.to_pieces(shows.astype(float)) > 0.5)
    return (visible if visible.any() else plated), plated


def _loads(panels: Panels, cell: Cell, state: State) -> tuple[AnodeLoad, ...]:
    loads = []
    copies = len(panels.arrangement.poses)
    for body, rows in zip(panels.arrangement.bodies, panels.bodies[copies:], strict=True):
        if body.role == Role.ANODE:
            area, out = cell.influence.area[rows], -state.j[rows]
            total = float(area @ out)
            loads.append(AnodeLoad(body.name, total, total / float(area.sum()), Spread.of(out, area).p95))
    return tuple(loads)


def _dry(panels: Panels, cell: Cell) -> NDArray[np.int8]:
    """(p,) Dry of the first copy's pieces."""
    rows = panels.bodies[0]
    return np.zeros(len(rows), np.int8) if cell.dry is None else cell.dry[rows]


def _too_close(panels: Panels, cell: Cell) -> list[str]:
    """How surfaces too close for panels were treated, each with number and area of panels."""
    dry, area, findings = _dry(panels, cell), cell.influence.area[panels.bodies[0]], []
    for why, treatment in (
        (Dry.COVERED, "lie under another one too close for liquid to plate them and take no current"),
        (Dry.SLIT, "face each other across a slit that no current enters and take none"),
        (Dry.MERGED, "are one side of a wall thinner than any panel and share the density of the other side"),
        (Dry.UNRESOLVED, "lie in folds or gaps too narrow for panels to resolve and take no current"),
    ):
        close = dry == why
        if close.any():
            findings.append(f"{int(close.sum())} panels ({float(area[close].sum()) / CM2:.2g} cm2) {treatment}")
    return findings
