"""Newton's method on the mixed problem: GMRES inside, a line search outside, the supply's limits as one equation.

Operators are only applied, never rebuilt. What was tried, with counts, is in docs/theory-field.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..linalg.krylov import Solution, gmres
from ..progress import Progress, Step, subrange
from ..tank.body import Role
from .bem.precondition import SchwarzPreconditioner
from .follow import followed
from .problem import Array, Cell, Control, Drive, Ending, Shunt, State, guess

PROGRESS_TEXT = "Calculating the current"

TOLERANCE = 1e-7  # residual over the spread of potential: densities then agree to 1e-6 of the mean on all processors
MAX_NEWTON_STEPS, MAX_LINEAR_STEPS = 30, 4
MAX_PRODUCTS_PER_STEP = 120  # of GMRES: twice its restart
MAX_INNER_RESIDUAL = 0.9  # of the linear solver: above, its step is no direction in which the residual falls
MAX_HALVINGS = 8  # trials of a step, each 0.4 times as long
SUFFICIENT_DECREASE = 1e-2  # of the residual, of what a full step promises (Armijo)
MIN_PROGRESS, MAX_WEAK_STEPS = 0.98, 8  # residual kept by a step that hardly helps; how many in turn end it
MAX_GROWTH, MAX_RIDGE_STEPS = 10.0, 4  # of the residual in a step, and how many in turn without a lower one
FORCING_FIRST, FORCING_LEAST, FORCING_MOST, FORCING_LINEAR = 0.02, 1e-3, 0.05, 1e-7  # of GMRES, relative
MIN_FORCING = 1e-5  # below which GMRES is not driven for the sake of the kinetics
LIQUID_BEFORE_COAT = 4.0  # of the preconditioner, over what a panel's own density does in liquid all round
MIN_COAT_SHARE = 0.02  # of the volts on coat, kinetics and liquid, that a coat takes at least to be preconditioned
MAX_CONDUCTANCE_CHANGE = 0.1  # of the sum over the panels, by which a kept elimination of the coat may be off
INNER_RESIDUAL_E_FOLDS = 0.1  # of GMRES, over the kinetics' e-fold: more puts quiet panels off by as many of them
MAX_DENSITY_STEP = 30.0  # change of a density in one step, over the largest of the state and the mean
_TINY = 1e-300
MAX_OVERPOTENTIAL_STEP_V = 4.0  # what a panel's overpotential may change in one step, as the tangent has it


def solve(cell: Cell, drive: Drive, start: State | None = None, *, tolerance: float = TOLERANCE) -> Progress[State]:
    """Newton's method on the kinetics, GMRES inside; operators are only applied, never rebuilt.

    The residual may grow in a step, for where a coat loses volts the way down leads over a ridge. After
    MAX_RIDGE_STEPS without a lower one the best state is taken up again: where a coat is, once with steps that follow
    each panel by itself; and then every step lowers the residual or is shortened until it does (the watchdog technique;
    R. M. Chamberlain et al., Math. Programming Study 16 (1982) 1; from memory).
    So it ends from any start: converged, or with the best state that was met and the reason in `State.ending`.
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
        found, trials = yield from _line_search(system, iterate, step.x, high, MAX_GROWTH if patient else 1.0)
        products += trials
        if found is None and not patient:
            ending = Ending.STAGNATED
            break
        if found is not None:
            steps += 1
            forcing = _forcing(iterate.size, step.residual, found.size)
            weak = weak + 1 if not patient and found.size > MIN_PROGRESS * iterate.size else 0
            iterate = found
        best, ridge = (iterate, 0) if iterate.size < best.size else (best, ridge + 1)
        if patient and (found is None or ridge > MAX_RIDGE_STEPS):
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
    return float(np.clip(0.5 * curvature * min(after / before, 1.0), FORCING_LEAST, FORCING_MOST))


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
    """The longest of some lengths of a step at which the residual falls, or grows no more than so many times; and how
    many were tried.

    Where it falls by next to nothing at each, the best of them; a trial that is not finite is as good as none.
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


class _Limit(NamedTuple):
    """One thing that the supply limits: weights @ j + share x voltage <= most, in V. weights : (n,) ohm m2"""

    control: Control
    weights: Array
    share: float
    most: float


class System:
    """The equations of a cell under a drive, in the unknowns (j or phi of each panel, c, U)."""

    def __init__(self, cell: Cell, drive: Drive) -> None:
        self.cell, self.drive = cell, drive
        area = cell.influence.area
        self.electrode = cell.electrode
        self.anode = cell.rows(Role.ANODE).astype(float)
        self.all_area = np.where(self.electrode, area, 0.0) / area[self.electrode].sum()
        parts = cell.rows(Role.PART)
        self.part_area = np.where(parts, area, 0.0) / area[parts].sum()
        self.mean = None if drive.current is None else drive.current / area[parts].sum()
        self.schwarz = cell.schwarz or SchwarzPreconditioner(cell.influence)
        if (cell.influence.double & (self.anode > 0.0)).any():
            self.lifted = self._green(np.zeros(len(area)), self.anode, precise=True)  # what one volt on the anodes does
        else:
            self.lifted = cell.influence.share * self.anode
        probe = np.abs(cell.drops(np.full(len(area), self.mean or 100.0))[1])
        self.ohm = float((cell.influence.diagonal / cell.conductivity + probe)[self.electrode].mean())
        self.is_nonlinear = cell.cathode.is_nonlinear or cell.anode.is_nonlinear
        self.limits = self._limits()
        self._kept_coat: tuple[Array, Callable[[Array], Array]] | None = None
        self.behind_coat = self.is_nonlinear and cell.shunt is not None  # whether steps heed the whole coat

    def _limits(self) -> list[_Limit]:
        cell, drive, found = self.cell, self.drive, []
        weights = self.ohm * self.part_area
        if self.mean is not None:
            found.append(_Limit(Control.CURRENT, weights, 0.0, self.ohm * self.mean))
        if drive.draw is not None:
            area = np.where(cell.rows(Role.PART, Role.THIEF), cell.influence.area, 0.0)
            share = self.ohm / float(area[cell.rows(Role.PART)].sum())
            found.append(_Limit(Control.DRAW, share * area, 0.0, share * drive.draw))
        if drive.voltage is not None:
            found.append(_Limit(Control.VOLTAGE, np.zeros(len(weights)), 1.0, drive.voltage))
        return found

    def _binding(self, state: State) -> tuple[_Limit, float]:
        """Of the limits the one that is exceeded most, or missed by least; and by how much, V.

        That none is exceeded and one is met is max(limits) = 0, which Newton's method solves as it stands (L. Qi and
        J. Sun, Math. Programming 58 (1993) 353; from memory).
        """
        excess = [float(limit.weights @ state.j) + limit.share * state.voltage - limit.most for limit in self.limits]
        worst = int(np.argmax(excess))
        return self.limits[worst], excess[worst]

    def control(self, state: State) -> Control:
        """What sets the current in this state: the wish, or a limit of the supply."""
        return self._binding(state)[0].control

    def _green(self, j: Array, phi: Array, *, precise: bool = False) -> Array:
        cell = self.cell
        return cell.influence.share * phi + cell.influence.apply(j / cell.conductivity, phi, precise=precise)

    def residual(self, state: State) -> tuple[Array, float]:
        """(n + 2,) V: Green's identity, current balance, drive; and the norm to measure it by."""
        green = np.where(self.cell.active, self._green(state.j, state.phi, precise=True) - state.constant, 0.0)
        balance = self.ohm * float(self.all_area @ state.j)
        _, held = self._binding(state)
        spread = max(abs(state.voltage), self.ohm * abs(self.mean or 0.0))
        return np.concatenate([green, [balance, held]]), spread * float(np.sqrt(len(green)))

    def jacobian_vector_product(self, state: State) -> Callable[[Array], Array]:
        """What a change of the unknowns (n + 2,) does to the residual, to first order."""
        _, slope = self.cell.drops(state.j)
        limit, _ = self._binding(state)

        def times(x: Array) -> Array:
            panel, constant, voltage = x[:-2], x[-2], x[-1]
            j = np.where(self.electrode, panel, 0.0)
            lift = 0.0 if self.cell.lift is None else self.cell.lift(j)
            phi = np.where(self.electrode, slope * panel + lift, panel)
            green = np.where(self.cell.active, self._green(j, phi) + self.lifted * voltage - constant, panel)
            held = float(limit.weights @ j) + limit.share * voltage
            return np.concatenate([green, [self.ohm * float(self.all_area @ j), held]])

        return times

    def direction(self, state: State, values: Array, aim: float) -> Progress[Solution]:
        """Newton's step from a state with the residual `values`, itself exact to the share `aim` of that."""
        return gmres(
            self.jacobian_vector_product(state),
            -values,
            precondition=self.preconditioner(state),
            tolerance=aim,
            max_products=MAX_PRODUCTS_PER_STEP,
            sentence=PROGRESS_TEXT,
        )

    def preconditioner(self, state: State) -> Callable[[Array], Array]:
        """The panels' Schwarz preconditioner, bordered: the last two rows and columns by their Schur complement."""
        cell = self.cell
        _, slope = cell.drops(state.j)
        local = self._along_coat(slope)
        ends = [np.where(cell.active, -1.0, 0.0), np.where(cell.active, self.lifted, 0.0)]
        columns = np.stack([local(end) for end in ends], axis=1)
        limit, _ = self._binding(state)
        rows = np.stack([self.ohm * self.all_area, limit.weights])
        corner = np.array([[0.0, 0.0], [0.0, limit.share]])
        schur = np.linalg.inv(corner - rows @ columns)

        def solve(x: Array) -> Array:
            panel = local(x[:-2])
            last = schur @ (x[-2:] - rows @ panel)
            return np.concatenate([panel - columns @ last, last])

        return solve

    def _along_coat(self, slope: Array) -> Callable[[Array], Array]:
        """The panels' Schwarz preconditioner and then the coat's, whose network the liquid shunts: there each panel
        takes its current behind its kinetics and the liquid right before it.

        slope : (n,) ohm m2 of the kinetics. With G the conductance behind these two and L the coat's loss, Green's
        identity is (P slope + S / kappa)(1 + G L) wherever its first factor is near P / G.
        """
        cell = self.cell
        local = self.schwarz.inverse(slope, self.electrode, cell.active, cell.conductivity)
        if cell.shunt is None or cell.lift is None:
            return local
        behind = slope + LIQUID_BEFORE_COAT * cell.influence.diagonal / cell.conductivity
        collected = np.where(cell.rows(Role.PART), 1.0 / behind, 0.0)
        if float(np.abs(cell.lift(collected)).max()) <= MIN_COAT_SHARE:
            return local
        conductance, lost = self._shunted(cell.shunt, collected)
        resistance = np.divide(1.0, conductance, out=np.zeros(len(behind)), where=conductance > 0.0)

        def solve(x: Array) -> Array:
            panel = local(x)
            return panel - conductance * lost(resistance * panel)

        return solve

    def _shunted(self, shunt: Shunt, conductance: Array) -> tuple[Array, Callable[[Array], Array]]:
        """The coat with panels that collect these conductances, (n,) S/m2, or those of an earlier step, if near."""
        kept = self._kept_coat
        if kept is None or np.abs(conductance - kept[0]).sum() > MAX_CONDUCTANCE_CHANGE * kept[0].sum():
            kept = self._kept_coat = conductance, shunt.shunted(conductance)
        return kept

    def forcing(self, wanted: float, size: float) -> float:
        """The relative tolerance of GMRES at a residual of this norm; wanted : as the fall of the residual has it.

        Relative to a residual of many volts, a hundredth is several e-folds of the kinetics: where little current
        flows the step would be noise, and Newton's method stall.
        """
        if not self.is_nonlinear:
            return FORCING_LINEAR
        e_fold = min(self.cell.cathode.e_fold, self.cell.anode.e_fold) * np.sqrt(len(self.electrode))
        return max(min(wanted, INNER_RESIDUAL_E_FOLDS * e_fold / size), MIN_FORCING)

    def longest(self, state: State, step: Array) -> float:
        """The share of a step that changes no density and no overpotential beyond what the tangent can know."""
        dj = np.abs(step[:-2][self.electrode])
        if not self.is_nonlinear or not dj.size:
            return 1.0
        _, slope = self.cell.drops(state.j)
        large = max(float(np.abs(state.j[self.electrode]).max()), abs(self.mean or 0.0))
        by_density = MAX_DENSITY_STEP * large / max(float(dj.max()), _TINY)
        by_overpotential = MAX_OVERPOTENTIAL_STEP_V / max(float((dj * slope[self.electrode]).max()), _TINY)
        return min(1.0, by_density, by_overpotential)

    def newton_update(self, state: State, step: Array) -> State:
        """The state after a step of the unknowns."""
        panel = step[:-2]
        j = np.where(self.electrode, followed(self.cell, state.j, panel, behind_coat=self.behind_coat), 0.0)
        voltage = state.voltage + float(step[-1])
        eta, _ = self.cell.drops(j)
        phi = np.where(self.electrode, self.cell.metal(j, voltage) + eta, state.phi + panel)
        return State(j, phi, voltage, state.constant + float(step[-2]))
