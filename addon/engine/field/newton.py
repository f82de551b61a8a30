"""Newton's method on the mixed problem: GMRES inside, a line search outside, the supply's limits as one equation.

Operators are only applied, never rebuilt. Alternatives that were tried, with counts, are in docs/theory-field.md.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..progress import Progress, Step, subrange
from .equations import PROGRESS_TEXT, System
from .problem import Array, Cell, Drive, Ending, State, guess

TOLERANCE = 1e-7  # residual over the spread of potential: densities then agree to 1e-6 of the mean on all processors
MAX_NEWTON_STEPS, MAX_LINEAR_STEPS = 30, 4
MAX_INNER_RESIDUAL = 0.9  # tolerance of the linear solver: above it a step need not reduce the residual
MAX_HALVINGS = 8  # trials of a step, each 0.4 times as long
SUFFICIENT_DECREASE = 1e-2  # of the residual, of what a full step promises (Armijo)
MIN_PROGRESS, MAX_WEAK_STEPS = (
    0.98,
    8,
)  # remaining share of the residual after a weak step; weak steps in a row that end the iteration
MAX_GROWTH, MAX_RIDGE_STEPS = (
    10.0,
    4,
)  # growth of the residual allowed in a step, and steps in a row without a new minimum
FORCING_FIRST, MIN_FORCING, MAX_FORCING = 0.02, 1e-3, 0.05  # of GMRES, relative


def solve(cell: Cell, drive: Drive, start: State | None = None, *, tolerance: float = TOLERANCE) -> Progress[State]:
    """Newton's method on the kinetics, GMRES inside; operators are only applied, never rebuilt.

    The residual may grow in a step: with a coat's drop, the way to the solution may lead over a ridge. After
    MAX_RIDGE_STEPS without a new minimum the best state is resumed: with a coat, first once with steps that follow
    each panel by itself; then every step must lower the residual or is shortened until it does (the watchdog
    technique; R. M. Chamberlain et al., Math. Programming Study 16 (1982) 1; from memory). So it always ends:
    converged, or with the best state met and the reason in `State.ending`.
    tolerance : residual of the equations, over the spread of potential between the electrodes
    """
    yield Step(0.0, PROGRESS_TEXT)
    system = System(cell, drive)
    iterate = best = _Iterate.of(system, start or guess(cell, drive))
    products, steps, iterations, weak, ridge = 1, 0, 0, 0, 0
    forcing, ending, patient = FORCING_FIRST, Ending.STEP_LIMIT, system.is_nonlinear
    for turn in range(MAX_NEWTON_STEPS if system.is_nonlinear else MAX_LINEAR_STEPS):
        if best.size <= tolerance * best.scale:
            break
        low, high = 1.0 - 0.7**turn, 1.0 - 0.7 ** (turn + 1)
        aim = max(0.3 * tolerance * iterate.scale / iterate.size, system.forcing(forcing, iterate.size))
        step = yield from subrange(low, high, system.direction(iterate.state, iterate.values, aim))
        products += step.iterations
        iterations += step.iterations
        if not step.converged and step.residual > MAX_INNER_RESIDUAL:
            ending = Ending.LINEAR_SOLVER
            break
        accepted, trials = yield from _line_search(system, iterate, step.x, high, MAX_GROWTH if patient else 1.0)
        products += trials
        if accepted is None and not patient:
            ending = Ending.STAGNATED
            break
        if accepted is not None:
            steps += 1
            forcing = _forcing(iterate.size, step.residual, accepted.size)
            weak = weak + 1 if not patient and accepted.size > MIN_PROGRESS * iterate.size else 0
            iterate = accepted
        best, ridge = (iterate, 0) if iterate.size < best.size else (best, ridge + 1)
        if patient and (accepted is None or ridge > MAX_RIDGE_STEPS):
            iterate, patient, ridge = best, system.behind_coat, 0
            system.behind_coat = False
        if weak >= MAX_WEAK_STEPS:
            ending = Ending.STAGNATED
            break
    if best.size <= tolerance * best.scale:
        ending = Ending.CONVERGED
    return replace(
        best.state,
        residual=best.size / best.scale,
        products=products,
        newton_steps=steps,
        iterations=iterations,
        ending=ending,
        control=system.control(best.state),
    )


def _forcing(before: float, linear: float, after: float) -> float:
    """The relative tolerance of GMRES in the next step: half of what the kinetics' curvature will leave there.

    before, after : the residual before and after a step; linear : what GMRES left of it. What is left beyond that falls
    with the square of the residual (S. C. Eisenstat and H. F. Walker, SIAM J. Sci. Comput. 17 (1996) 16; from memory).
    """
    curvature = float(np.sqrt(max(after**2 - (linear * before) ** 2, 0.0))) / before
    return float(np.clip(0.5 * curvature * min(after / before, 1.0), MIN_FORCING, MAX_FORCING))


class _Iterate(NamedTuple):
    """A state with its residual (n + 2,), V, the norm of that, and the norm to measure it by."""

    state: State
    values: Array
    size: float
    scale: float

    @classmethod
    def of(cls, system: System, state: State) -> _Iterate:
        values, scale = system.residual(state)
        return cls(state, values, float(np.linalg.norm(values)), scale)


def _line_search(
    system: System, start: _Iterate, step: Array, fraction: float, growth: float
) -> Progress[tuple[_Iterate | None, int]]:
    """The longest trial length of a step at which the residual falls, or grows by no more than a factor, and how many
    were tried.

    Where it hardly falls at any, the best of them; a trial that is not finite is discarded.
    """
    length = system.longest(start.state, step)
    best, least, count = None, growth * start.size, 0
    while count < MAX_HALVINGS:
        count += 1
        yield Step(fraction, PROGRESS_TEXT)
        trial = system.newton_update(start.state, length * step)
        if np.isfinite(trial.j).all() and np.isfinite(trial.phi).all() and np.isfinite(trial.voltage):
            candidate = _Iterate.of(system, trial)
            if best is not None and candidate.size > least:
                break
            if candidate.size < least:
                best, least = candidate, candidate.size
            if candidate.size <= (growth if growth > 1.0 else 1.0 - SUFFICIENT_DECREASE * length) * start.size:
                break
        if not system.is_nonlinear:
            break
        length *= 0.4
    return best, count
