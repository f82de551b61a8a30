"""What a solved cell means for the part: densities on its faces, thickness, time, voltage and warnings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .. import faraday
from ..mesh.surface import Surface
from ..settings.job import Job
from ..tank.body import Role
from ..units import A_PER_DM2, CM2
from .dry import Dry
from .ends import quarters
from .extremes import extremes
from .panels import Panels
from .problem import Cell, State
from .refine import a_side, on_faces
from .result import AnodeLoad, Field, Flag, Spread, flags


def answer(
    surface: Surface,
    job: Job,
    panels: Panels,
    cell: Cell,
    state: State,
    error: float,
    warnings: list[str],
    *,
    with_coat: bool,
) -> Field:
    """The state of a cell as the field of a job. with_coat : whether the cell knows of a loss along the coat."""
    area = cell.influence.area
    flow = area * state.j
    cathodes = cell.rows(Role.PART, Role.THIEF)
    current = float(flow[cathodes].sum())
    copies = len(panels.arrangement.poses)
    parts = tuple(float(flow[rows][cell.rows(Role.PART)[rows]].sum()) for rows in panels.bodies[:copies])
    eta, _ = cell.drops(state.j)
    coat = float(flow[cathodes] @ cell.raised[cathodes]) / current
    polarization = float(flow @ eta) / current
    ohmic = state.voltage - polarization - coat

    density = on_faces(surface, panels, state.j)
    plated = surface.plated_area
    density *= parts[0] / float(plated @ density)  # faces and panels carry the same current
    metal = faraday.metal(job.bath.metal)
    mean = sum(parts) / copies / float(plated.sum())
    time = faraday.time(metal, mean, job.target.thickness, job.bath.efficiency)
    deposit = job.target.thickness / mean  # m of thickness for each A/m2

    laid = replace(cell, role=panels.role)  # coat without a wire takes nothing, and counts as bare
    mine = panels.bodies[0][laid.rows(Role.PART)[panels.bodies[0]]]
    fine, weight = state.j[mine] / panels.sides[mine], area[mine] * panels.sides[mine]
    pieces, whole = panels.part.pieces, float(plated.sum())
    ends = panels.part.cover.ends.of_values(a_side(panels, state.j))
    here = laid.rows(Role.PART)[panels.bodies[0]]
    low, high = extremes(*quarters(pieces[here], ends[here]), whole)
    spread = replace(Spread.of(fine, weight), min=low, max=high)
    shown, _ = showing(surface, panels, laid)
    thin = extremes(*quarters(pieces[shown], ends[shown]), whole)[0] if shown.any() else 0.0
    found = flags(fine, np.ones(len(fine), bool), job.bath.window, job.bath.limiting)
    scale = float(plated.sum()) / float(weight.sum())
    bare, dull, burnt = (scale * float(weight[found == flag].sum()) for flag in (Flag.BARE, Flag.DULL, Flag.BURNT))
    loads = _loads(panels, cell, state)
    law = cell.cathode
    return Field(
        density=density,
        thickness=np.maximum(density, 0.0) * deposit,
        flag=flags(density, surface.plated, job.bath.window, job.bath.limiting),
        density_spread=spread,
        thickness_spread=Spread(*(max(value, 0.0) * deposit for value in vars(spread).values())),
        bare_area=bare,
        dull_area=dull,
        burnt_area=burnt,
        throw=max(spread.min, 0.0) / mean,
        voltage=state.voltage,
        ohmic=ohmic,
        polarization=polarization,
        coat=coat if with_coat else None,
        resistance=ohmic / current,
        current=current,
        anode_current=-float(flow[cell.rows(Role.ANODE)].sum()),
        thief_current=float(flow[cell.rows(Role.THIEF)].sum()),
        part_currents=parts,
        anodes=loads,
        anode_limit=job.bath.anode_limit,
        wagner=float(cell.conductivity * law.resistance(np.array(mean)) / np.sqrt(plated.sum() / (4.0 * np.pi))),
        time=time,
        time_thinnest=time * mean / thin if thin > 0 else np.inf,
        panels=len(panels.corners),
        error=error,
        residual=state.residual,
        assumed=(*panels.arrangement.notes, *_too_close(panels, cell)),
        warnings=(
            *warnings,
            *_held(job, mean),
            *_warnings(job, surface, panels, cell, state, current, loads, (bare, burnt), error, thin),
        ),
    )


def _held(job: Job, mean: float) -> list[str]:
    """What a held voltage makes of the wanted density, where it is another."""
    held, wanted = job.supply.hold, job.target.density
    if held is None or abs(mean / wanted - 1.0) < 0.05:
        return []
    return [
        f"at the held {held:.3g} V the mean density is {mean / A_PER_DM2:.3g} A/dm2, not the wanted"
        f" {wanted / A_PER_DM2:.3g}; time and current of the deposit are those of the wanted one"
    ]


def showing(surface: Surface, panels: Panels, cell: Cell) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Of the first copy's pieces (p,) those that show, or all that are plated where no face is marked; and
    the plated.
    """
    shows = surface.show & surface.plated
    rows = panels.bodies[0]
    plated = cell.rows(Role.PART)[rows]
    if not shows.any():
        return plated, plated
    some = plated & (panels.part.cover.to_pieces(shows.astype(float)) > 0.5)
    return (some if some.any() else plated), plated


def _loads(panels: Panels, cell: Cell, state: State) -> tuple[AnodeLoad, ...]:
    found = []
    copies = len(panels.arrangement.poses)
    for body, rows in zip(panels.arrangement.bodies, panels.bodies[copies:], strict=True):
        if body.role == Role.ANODE:
            area, out = cell.influence.area[rows], -state.j[rows]
            total = float(area @ out)
            found.append(AnodeLoad(body.name, total, total / float(area.sum()), Spread.of(out, area).p95))
    return tuple(found)


def _dry(panels: Panels, cell: Cell) -> NDArray[np.int8]:
    """(p,) Dry of the first copy's pieces."""
    rows = panels.bodies[0]
    return np.zeros(len(rows), np.int8) if cell.dry is None else cell.dry[rows]


def _too_close(panels: Panels, cell: Cell) -> list[str]:
    """What was done with surfaces too close to each other for panels, each with its number and area."""
    dry, area, found = _dry(panels, cell), cell.influence.area[panels.bodies[0]], []
    for why, done in (
        (Dry.COVERED, "lie under another one too close for liquid to plate them and take no current"),
        (Dry.SLIT, "face each other across a slit that no current enters and take none"),
        (Dry.MERGED, "are one side of a wall thinner than any panel and share the density of the other side"),
    ):
        some = dry == why
        if some.any():
            found.append(f"{int(some.sum())} panels ({float(area[some].sum()) / CM2:.2g} cm2) {done}")
    return found


def _warnings(
    job: Job,
    surface: Surface,
    panels: Panels,
    cell: Cell,
    state: State,
    current: float,
    loads: tuple[AnodeLoad, ...],
    areas: tuple[float, float],
    error: float,
    thin: float,
) -> list[str]:
    """What to know of the answer, in sentences."""
    found = []
    if not thin > 0:
        found.append("field.time_thinnest_h: never: the thinnest place gets no deposit, however long")
    bare, burnt = areas
    whole = float(surface.plated_area.sum())
    if bare > 0.005 * whole:
        found.append(f"{100 * bare / whole:.0f} % of the plated area stays next to bare: little current reaches it")
    if burnt > 0.005 * whole:
        found.append(
            f"{100 * burnt / whole:.0f} % of the plated area gets more current than the bath bears: expect burnt edges"
        )
    limit = job.bath.anode_limit
    for load in loads:
        if load.density > limit:
            found.append(
                f"{load.name} gives {load.density / A_PER_DM2:.2g} A/dm2, above its limit of"
                f" {limit / A_PER_DM2:.2g}: take a larger anode or less current"
            )
    if state.voltage > job.supply.voltage:
        found.append(f"the supply must give {state.voltage:.2g} V, more than its {job.supply.voltage:.3g} V")
    if current > job.supply.current * 1.001:
        found.append(f"parts and thieves draw {current:.3g} A, more than the supply's {job.supply.current:.3g} A")
    dry = _dry(panels, cell)
    hidden = dry == Dry.BURIED
    if hidden.any():
        lost = float(cell.influence.area[panels.bodies[0]][hidden].sum())
        found.append(
            f"{100 * lost / whole:.1f} % of the surface lies inside another shell of the part: no current reaches it"
        )
    if (cell.rows(Role.PART) & ~cell.influence.double).any():
        found.append("the surface is open: it is taken as a sheet with liquid, and one potential, on both sides")
    if state.residual > 1e-3:
        found.append(f"the current distribution did not settle (residual {state.residual:.0e}): take it as a hint")
    if error > 0.1:
        found.append(f"the current distribution is sure to {100 * error:.0f} % only: raise effort.panels")
    return found
