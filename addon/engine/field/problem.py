"""The mixed problem: potentials and current densities that agree with Laplace's equation and with the
kinetics.

With j the current density from the liquid into a panel, n the normal into the liquid and kappa the
conductivity, kappa d phi / dn = j, and Green's identity at the centroid of panel i reads

    share_i phi_i - (D phi)_i + (S j)_i / kappa = c.

The constant c is the potential far away (liquid without end), or the mean that the images of a box leave
open; in a liquid closed by panels it only takes up their discretization error. It goes with the condition
that no current is lost, sum(area j) = 0. The unknown of a panel is j on an electrode, where phi = phi(metal)
+ eta(j), and phi on an insulator, where j = 0. A sheet has liquid on both sides: its j is the sum of both,
half of which counts for eta.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..chemistry.kinetics import Law
from ..errors import InputError
from ..findings import Finding
from ..linalg.krylov import gmres
from ..progress import Progress, Step, subrange
from ..tank.body import Role
from .bem.influence import Influence
from .bem.precondition import LeafBlocks

Array = NDArray[np.float64]

SENTENCE = "Calculating the current"

TOLERANCE = 1e-7  # residual over the spread of potential: densities then agree to 1e-6 of the mean on all processors
MAX_NEWTON_STEPS, MAX_LINEAR_STEPS = 30, 4
MAX_PRODUCTS_PER_STEP = 120  # of GMRES: twice its restart
MAX_INNER_RESIDUAL = 0.9  # of the linear solver: above, its step is no direction in which the residual falls
MAX_HALVINGS = 8  # trials of a step, each 0.4 times as long
SUFFICIENT_DECREASE = 1e-2  # of the residual, of what a full step promises (Armijo)
MIN_PROGRESS, MAX_WEAK_STEPS = (
    0.98,
    8,
)  # residual kept by a step that hardly helps, and how many of those in turn end it
FORCING_FIRST, FORCING_LEAST, FORCING_MOST, FORCING_LINEAR = 0.02, 0.01, 0.05, 1e-7  # of GMRES, relative
MIN_FORCING = 1e-5  # below which GMRES is not driven for the sake of the kinetics
INNER_RESIDUAL_E_FOLDS = 0.1  # of GMRES, over the kinetics' e-fold: more puts quiet panels off by as many of them
MIN_KEPT_SHARE = 0.1  # of a density, that a plain step may leave of it
MAX_DENSITY_STEP = 30.0  # change of a density in one step, over the largest of the state and the mean
_TINY = 1e-300
MAX_OVERPOTENTIAL_STEP_V = 2.0  # what a panel's overpotential may change in one step, as the tangent has it


class NotSolvedError(InputError):
    """The equations have no solution that can be believed: what went wrong, in one line, and the remedy.

    findings : the same as data, where it is one of these
    """

    def __init__(self, sentence: str, findings: tuple[Finding, ...] = ()) -> None:
        super().__init__(sentence)
        self.findings = findings


class Ending(Enum):
    """Why Newton's method ended."""

    CONVERGED = "converged"
    STAGNATED = "stagnated"  # no step lowers the residual any more
    LINEAR_SOLVER = "linear-solver"  # no step was found: the linear solver got nowhere
    STEP_LIMIT = "step-limit"


@dataclass(frozen=True, eq=False)
class Cell:
    """Panels with their roles in a liquid.

    role : (n,) Role; sides : (n,) how many sides of an electrode panel the liquid wets, 1 or 2
    active : (n,) bool; the others lie out of the liquid and carry nothing
    cathode, anode : kinetics; conductivity : S/m
    raised : (n,) V, how far a cathode panel's metal lies above the wire
    lift : j (n,) -> (n,) V that it lies higher still for the current that flows, linear in j; None: no more
    dry : (n,) why a panel is not active, `dry.Dry`; None: not asked
    """

    influence: Influence
    role: NDArray[np.int8]
    sides: NDArray[np.int8]
    active: NDArray[np.bool_]
    cathode: Law
    anode: Law
    conductivity: float
    raised: Array
    lift: Callable[[Array], Array] | None = None
    dry: NDArray[np.int8] | None = None

    def metal(self, j: Array, voltage: float) -> Array:
        """(n,) V of the metal of each panel against the wire, with the supply's voltage on the anodes."""
        level = self.raised + np.where(self.rows(Role.ANODE), voltage, 0.0)
        return level if self.lift is None else level + self.lift(j)

    @property
    def electrode(self) -> NDArray[np.bool_]:
        return self.active & (self.role != Role.INSULATOR)

    def rows(self, *roles: Role) -> NDArray[np.bool_]:
        """(n,) the active panels with one of these roles."""
        return self.active & np.isin(self.role, roles)

    def drops(self, j: Array) -> tuple[Array, Array]:
        """Overpotential eta and its slope d eta / dj for the whole current density of each panel, (n,)
        each.
        """
        eta, slope = np.zeros(len(j)), np.zeros(len(j))
        for law, rows in ((self.cathode, self.role <= Role.THIEF), (self.anode, self.role == Role.ANODE)):
            a_side = j[rows] / self.sides[rows]
            eta[rows] = law.overpotential(a_side)
            slope[rows] = law.resistance(a_side) / self.sides[rows]
        return eta, slope

    def newton_update(self, j: Array, step: Array) -> Array:
        """Current densities after a step of Newton's, (n,).

        A density of a nonlinear law that would fall below MIN_KEPT_SHARE of itself, or past zero, takes the step in
        eta instead, the same to first order, but keeps at most that share: what falls steeply in a hollow does not
        shoot past zero. All others take the plain step, which keeps the sums of the currents.
        """
        out = j + step
        for law, rows in ((self.cathode, self.role <= Role.THIEF), (self.anode, self.role == Role.ANODE)):
            if law.is_nonlinear:
                some = np.flatnonzero(rows & (out * np.sign(j) < MIN_KEPT_SHARE * np.abs(j)))
                before, plain, sides = j[some], out[some], self.sides[some]
                eta = law.overpotential(before / sides) + law.resistance(before / sides) * step[some] / sides
                # beyond rest the law curves the other way: whichever of the two falls less
                fallen = np.maximum(law.density(eta) * sides * np.sign(before), plain * np.sign(before))
                out[some] = np.sign(before) * np.minimum(fallen, MIN_KEPT_SHARE * np.abs(before))
        return out


class Control(Enum):
    """What the supply holds, of all that it limits."""

    CURRENT = "current"  # of the parts, as it was set
    DRAW = "draw"  # of all cathodes: the most that it gives
    VOLTAGE = "voltage"


@dataclass(frozen=True)
class Drive:
    """What the supply is set to: the current of the parts (A), or its voltage (V).

    With both it is a supply with two knobs: the current flows unless it takes more than the voltage, which is then
    held (galvanostatic, or potentiostatic control). draw : A that parts and thieves together may take, another limit
    """

    current: float | None = None
    voltage: float | None = None
    draw: float | None = None


@dataclass(frozen=True, eq=False)
class State:
    """A solution, or a first guess of one.

    j : (n,) A/m2 into each panel, of both sides of a sheet; phi : (n,) V in the liquid beside it, the wire at zero
    voltage : V of the supply; constant : V, c; residual : of the equations, over the spread of potential
    products : with the operators; newton_steps : taken; iterations : of GMRES, in all of these
    ending : why there were no more; control : what the supply holds in it
    """

    j: Array
    phi: Array
    voltage: float
    constant: float
    residual: float = np.inf
    products: int = 0
    newton_steps: int = 0
    iterations: int = 0
    ending: Ending = Ending.STEP_LIMIT
    control: Control = Control.CURRENT


def guess(cell: Cell, drive: Drive) -> State:
    """An even current density, and the potentials that go with it roughly."""
    area = cell.influence.area
    parts, cathodes, anodes = cell.rows(Role.PART), cell.rows(Role.PART, Role.THIEF), cell.rows(Role.ANODE)
    if drive.current is not None:
        mean = drive.current / area[parts].sum()
    else:
        size = np.sqrt(area[cathodes].sum())
        mean = 0.5 * float(drive.voltage or 0.0) * cell.conductivity / size
    j = np.where(cathodes, mean, 0.0)
    j[anodes] = -mean * area[cathodes].sum() / area[anodes].sum()
    eta, _ = cell.drops(j)
    level = float(eta[cathodes].mean())
    voltage = level if drive.voltage is None else drive.voltage
    if drive.current is not None:
        voltage = min(voltage, level)
    phi = np.where(cell.electrode, cell.metal(j, voltage) + eta, level)
    return State(j, phi, voltage, level)


def resumed(cell: Cell, state: State) -> State:
    """A state of a similar cell made to agree with the metal and the kinetics of this one: a first guess."""
    j = np.where(cell.electrode, state.j, 0.0)
    eta, _ = cell.drops(j)
    metal = cell.metal(j, state.voltage)
    return State(j, np.where(cell.electrode, metal + eta, state.phi), state.voltage, state.constant)


def scaled(state: State, factor: float) -> State:
    """A state with so many times the current, its potentials as of linear kinetics: a first guess, for `resumed`."""
    phi = state.constant + factor * (state.phi - state.constant)
    return State(factor * state.j, phi, state.voltage, state.constant)


def solve(cell: Cell, drive: Drive, start: State | None = None, *, tolerance: float = TOLERANCE) -> Progress[State]:
    """Newton's method on the kinetics, GMRES inside; operators are only applied, never rebuilt.

    Every step lowers the residual, or is halved until it does; a step that the linear solver did not find is tried as
    far as it lowers the residual, and refused otherwise. So it ends from any start: converged, or with the best state
    that was met and the reason in `State.ending`.
    tolerance : residual of the equations, over the spread of potential between the electrodes
    """
    yield Step(0.0, SENTENCE)
    system = _System(cell, drive)
    state = start or guess(cell, drive)
    values, scale = system.residual(state)
    size, products, steps, iterations = float(np.linalg.norm(values)), 1, 0, 0
    forcing, ending, weak = FORCING_FIRST, Ending.STEP_LIMIT, 0
    for turn in range(MAX_NEWTON_STEPS if system.is_nonlinear else MAX_LINEAR_STEPS):
        if size <= tolerance * scale:
            ending = Ending.CONVERGED
            break
        low, high = 1.0 - 0.7**turn, 1.0 - 0.7 ** (turn + 1)
        # as exact as the curvature of the kinetics deserves (S. C. Eisenstat and H. F. Walker, SIAM J. Sci. Comput. 17
        # (1996) 16)
        aim = max(0.3 * tolerance * scale / size, system.forcing(forcing, size))
        step = yield from subrange(
            low,
            high,
            gmres(
                system.jacobian_vector_product(state),
                -values,
                precondition=system.preconditioner(state),
                tolerance=aim,
                limit=MAX_PRODUCTS_PER_STEP,
                sentence=SENTENCE,
            ),
        )
        products += step.iterations
        iterations += step.iterations
        if not step.converged and step.residual > MAX_INNER_RESIDUAL:
            ending = Ending.LINEAR_SOLVER
            break
        found = yield from _line_search(system, state, step.x, size, high)
        products += found.products
        if found.state is None:
            ending = Ending.STAGNATED
            break
        steps += 1
        weak = weak + 1 if found.size > MIN_PROGRESS * size else 0
        forcing = float(np.clip(0.9 * (found.size / size) ** 2, FORCING_LEAST, FORCING_MOST))
        state, values, size, scale = found.state, found.values, found.size, found.scale
        if weak >= MAX_WEAK_STEPS:
            ending = Ending.STAGNATED
            break
    if size <= tolerance * scale:
        ending = Ending.CONVERGED
    control = system.control(state)
    return replace(
        state,
        residual=size / scale,
        products=products,
        newton_steps=steps,
        iterations=iterations,
        ending=ending,
        control=control,
    )


class _Searched(NamedTuple):
    """What a line search found: the state, its residual, or None where no length lowers it."""

    state: State | None
    values: Array
    size: float
    scale: float
    products: int


def _line_search(system: _System, state: State, step: Array, size: float, fraction: float) -> Progress[_Searched]:
    """The longest of some lengths of a step at which the residual falls.

    Where it falls by next to nothing at each, the best of them; a trial that is not finite is as good as none.
    """
    length = system.longest(state, step)
    best = _Searched(None, step, size, 1.0, 0)
    for count in range(1, MAX_HALVINGS + 1):
        yield Step(fraction, SENTENCE)
        trial = system.newton_update(state, length * step)
        if np.isfinite(trial.j).all() and np.isfinite(trial.phi).all() and np.isfinite(trial.voltage):
            values, scale = system.residual(trial)
            new = float(np.linalg.norm(values))
            if new < best.size:
                best = _Searched(trial, values, new, scale, count)
            if new <= (1.0 - SUFFICIENT_DECREASE * length) * size:
                break
            if best.state is not None and new > best.size:
                break
        if not system.is_nonlinear:
            break
        length *= 0.4
    return best._replace(products=count)


class _Limit(NamedTuple):
    """One thing that the supply limits: weights @ j + share x voltage <= most, in V. weights : (n,) ohm m2"""

    control: Control
    weights: Array
    share: float
    most: float


class _System:
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
        self.blocks = LeafBlocks(cell.influence, cell.conductivity)
        if (cell.influence.double & (self.anode > 0.0)).any():
            self.lifted = self._green(np.zeros(len(area)), self.anode, precise=True)  # what one volt on the anodes does
        else:
            self.lifted = cell.influence.share * self.anode
        probe = np.abs(cell.drops(np.full(len(area), self.mean or 100.0))[1])
        self.ohm = float((cell.influence.diagonal / cell.conductivity + probe)[self.electrode].mean())
        self.is_nonlinear = cell.cathode.is_nonlinear or cell.anode.is_nonlinear
        self.limits = self._limits()

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
        off = [float(one.weights @ state.j) + one.share * state.voltage - one.most for one in self.limits]
        worst = int(np.argmax(off))
        return self.limits[worst], off[worst]

    def control(self, state: State) -> Control:
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

    def jacobian_vector_product(self, state: State):  # type: ignore[no-untyped-def]
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

    def preconditioner(self, state: State):  # type: ignore[no-untyped-def]
        """The leaves' inverse with the last two rows and columns kept whole."""
        cell = self.cell
        _, slope = cell.drops(state.j)
        leaves = self.blocks.inverse(slope, self.electrode, cell.active)
        ends = [np.where(cell.active, -1.0, 0.0), np.where(cell.active, self.lifted, 0.0)]
        columns = np.stack([leaves(end) for end in ends], axis=1)
        limit, _ = self._binding(state)
        rows = np.stack([self.ohm * self.all_area, limit.weights])
        corner = np.array([[0.0, 0.0], [0.0, limit.share]])
        schur = np.linalg.inv(corner - rows @ columns)

        def solve(x: Array) -> Array:
            panel = leaves(x[:-2])
            last = schur @ (x[-2:] - rows @ panel)
            return np.concatenate([panel - columns @ last, last])

        return solve

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
        j = np.where(self.electrode, self.cell.newton_update(state.j, panel), 0.0)
        voltage = state.voltage + float(step[-1])
        eta, _ = self.cell.drops(j)
        phi = np.where(self.electrode, self.cell.metal(j, voltage) + eta, state.phi + panel)
        return State(j, phi, voltage, state.constant + float(step[-2]))
