"""Plausibility checks of a solution: figures of an invalid field never reach a report."""

from __future__ import annotations

import numpy as np

from ..filled import filled
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity
from ..tank.body import Role
from .panels import Panels
from .problem import Cell, Ending, NotSolvedError, State

MAX_RESIDUAL = 1e-3  # residual over the spread of potential: above it densities are off by 100 %
MAX_VOLTAGE_V = 1000.0  # V, more than any bench supply gives
MAX_RECEIVED_SHARE = 0.05  # of the current of an anode that some of its panels may take, as their error has it
MIN_CROWDED_OVER_LIMITING = 3.0  # times the limiting density: above it current makes gas and powder
MAX_CROWDED_SHARE = 0.5  # of the current: above it the density is that of a spot at the wire


def check_wetted(cell: Cell) -> None:
    """Raises NotSolvedError where liquid reaches no panel of the part: all lie inside other bodies or on each other."""
    if not cell.rows(Role.PART).any():
        raise NotSolvedError(filled("liquid reaches no panel of the part; {remedy}", remedy=REMEDY))


def check_credible(panels: Panels, cell: Cell, state: State) -> None:
    """Raises NotSolvedError, one line, where the equations are not met, or their solution is not physical.

    A voltage that no supply gives, a part that gives current, or an anode that takes it: where all anodes are on one
    potential, the highest there is, current leaves them everywhere (maximum principle of Laplace's equation).
    """
    if not np.isfinite(state.residual) or state.residual > MAX_RESIDUAL:
        raise NotSolvedError(
            filled("the current distribution was not found ({how}); {remedy}", how=_residual_text(state), remedy=REMEDY)
        )
    if not 0.0 < state.voltage < MAX_VOLTAGE_V:
        raise NotSolvedError(
            filled(
                "the current distribution would take {voltage} V, which cannot be; {remedy}",
                voltage=f"{state.voltage:.2g}",
                remedy=REMEDY,
            )
        )
    flow = cell.influence.area * state.j
    copies = len(panels.arrangement.poses)
    for number, rows in enumerate(panels.bodies[:copies]):
        if not float(flow[rows].sum()) > 0.0:
            template = (
                "the part number {number} would give current in place of taking it, which cannot be; {remedy}"
                if copies > 1
                else "the part would give current in place of taking it, which cannot be; {remedy}"
            )
            raise NotSolvedError(filled(template, number=number + 1, remedy=REMEDY))
    for body, rows in zip(panels.arrangement.bodies, panels.bodies[copies:], strict=True):
        if body.role == Role.ANODE:
            _check_anode(body.name, cell.influence.area[rows], -state.j[rows])


def check_coat(panels: Panels, cell: Cell, state: State, limiting: float) -> None:
    """Raises NotSolvedError with its finding where a coat confines the current to so little of the part that no sound
    deposit grows, on a scale finer than panels. limiting : A/m2 of the bath.
    """
    share = crowded_share(panels, cell, state, limiting)
    if share > MAX_CROWDED_SHARE:
        too_resistive = too_poor(panels, cell, state, limiting)
        raise NotSolvedError(
            filled(
                "the coat is too poor for this current: {share} % of it would crowd at the wire; take a better coat,"
                " more wires or less current",
                share=f"{100 * min(share, 1.0):.0f}",
            ),
            (too_resistive,),
        )


def crowded_share(panels: Panels, cell: Cell, state: State, limiting: float) -> float:
    """Share of the parts' current above MIN_CROWDED_OVER_LIMITING times the limiting density, which deposits no
    metal."""
    rows = np.concatenate(panels.bodies[: len(panels.arrangement.poses)])
    flow = cell.influence.area[rows] * state.j[rows]
    dense = state.j[rows] / panels.sides[rows] > MIN_CROWDED_OVER_LIMITING * limiting
    return float(flow[dense].sum()) / float(flow.sum())


def too_poor(panels: Panels, cell: Cell, state: State, limiting: float) -> Finding:
    """The finding that the current crowds at the wire."""
    rows = np.concatenate(panels.bodies[: len(panels.arrangement.poses)])
    quantities = {
        Quantity.SHARE: min(crowded_share(panels, cell, state, limiting), 1.0),
        Quantity.DENSITY: float((state.j[rows] / panels.sides[rows]).max()),
        Quantity.LIMIT_DENSITY: limiting,
    }
    return Finding(Code.COAT_TOO_POOR, Severity.STOPS, quantities, remedy=Remedy(RemedyCode.BETTER_COAT))


def _check_anode(name: str, area: np.ndarray, out: np.ndarray) -> None:
    """area : (n,) m2; out : (n,) A/m2 that leaves each panel."""
    total, whole = float(area @ out), float(area.sum())
    if not total > 0.0:
        raise NotSolvedError(
            filled(
                "{name} would take current in place of giving it, which cannot be; {remedy}", name=name, remedy=REMEDY
            )
        )
    received = -float(area @ np.minimum(out, 0.0)) / total
    if received > MAX_RECEIVED_SHARE:
        where = 100 * float(area[out < 0.0].sum()) / whole
        raise NotSolvedError(
            filled(
                "{name} would take current on {share} % of its area, which cannot be; {remedy}",
                name=name,
                share=f"{where:.0f}",
                remedy=REMEDY,
            )
        )


REMEDY = filled("mend the mesh (crossing or doubled faces, walls thinner than its triangles) or raise {effort.panels}")


def _residual_text(state: State) -> str:
    why = {
        Ending.STAGNATED: "no step brings it nearer",
        Ending.LINEAR_SOLVER: "its linear equations do not converge",
        Ending.STEP_LIMIT: "it does not settle",
        Ending.CONVERGED: "it settles where it should not",
    }
    return filled(
        "{why}, residual {residual} after {count} steps",
        why=why[state.ending],
        residual=f"{state.residual:.0e}",
        count=state.newton_steps,
    )
