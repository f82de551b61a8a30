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

import numpy as np
from numpy.typing import NDArray

from ..chemistry.kinetics import Law
from ..linalg.krylov import gmres
from ..progress import Progress, Step, subrange
from ..tank.body import Role
from .bem.influence import Influence
from .bem.precondition import LeafBlocks

Array = NDArray[np.float64]

SENTENCE = "Solving for the current distribution"


@dataclass(frozen=True, eq=False)
class Cell:
    """Panels with their roles in a liquid.

    role : (n,) Role; sides : (n,) how many sides of an electrode panel the liquid wets, 1 or 2
    active : (n,) bool; the others lie out of the liquid and carry nothing
    cathode, anode : kinetics; conductivity : S/m
    raised : (n,) V, how far a cathode panel's metal lies above the wire
    lift : j (n,) -> (n,) V that it lies higher still for the current that flows, linear in j; None: no more
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

    def stepped(self, j: Array, step: Array) -> Array:
        """Current densities after a step of Newton's, (n,).

        Where a bent law's density falls, the step is taken in eta instead: the same to first order, but what
        falls steeply in a hollow then does not shoot past zero.
        """
        out = j + step
        for law, rows in ((self.cathode, self.role <= Role.THIEF), (self.anode, self.role == Role.ANODE)):
            if law.bent:
                some = np.flatnonzero(rows & (j * step < 0))
                a_side = j[some] / self.sides[some]
                eta = law.overpotential(a_side) + law.resistance(a_side) * step[some] / self.sides[some]
                bent = law.density(eta) * self.sides[some]
                # beyond rest the law bends the other way: whichever of the two falls less
                out[some] = np.where(step[some] < 0, np.maximum(bent, out[some]), np.minimum(bent, out[some]))
        return out


@dataclass(frozen=True)
class Drive:
    """What the supply holds: the current of the parts (A), or its voltage (V)."""

    current: float | None = None
    voltage: float | None = None


@dataclass(frozen=True, eq=False)
class State:
    """A solution, or a first guess of one.

    j : (n,) A/m2 into each panel, of both sides of a sheet; phi : (n,) V in the liquid beside it, the wire at
    zero voltage : V of the supply; constant : V, c residual : of the equations, over the spread of potential;
    products : products with the operators
    """

    j: Array
    phi: Array
    voltage: float
    constant: float
    residual: float = np.inf
    products: int = 0


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


def solve(
    cell: Cell, drive: Drive, start: State | None = None, *, tolerance: float = 1e-5, rounds: int = 30
) -> Progress[State]:
    """Newton's method on the kinetics, GMRES inside; operators are only applied, never rebuilt.

    tolerance : residual of the equations, over the spread of potential between the electrodes
    """
    yield Step(0.0, SENTENCE)
    system = _System(cell, drive)
    state = start or guess(cell, drive)
    yield Step(0.0, SENTENCE)
    values, scale = system.residual(state)
    size, products = float(np.linalg.norm(values)), 1
    forcing = 0.02
    for turn in range(rounds):
        if size <= tolerance * scale:
            break
        # as exact as the bend of the kinetics deserves (S. C. Eisenstat and H. F. Walker, SIAM J. Sci.
        # Comput. 17 (1996) 16)
        aim = max(0.3 * tolerance * scale / size, forcing if system.bent else 1e-7)
        step = yield from subrange(
            1.0 - 0.7**turn,
            1.0 - 0.7 ** (turn + 1),
            gmres(system.product(state), -values, precondition=system.inverse(state), tolerance=aim, sentence=SENTENCE),
        )
        products += step.iterations
        length = 1.0
        while True:
            yield Step(1.0 - 0.7 ** (turn + 1), SENTENCE)
            trial = system.moved(state, length * step.x)
            values, scale = system.residual(trial)
            products += 1
            new = float(np.linalg.norm(values))
            if new < 2.0 * size or length < 0.05 or not system.bent:  # to overdo it a little pays later
                break
            length *= 0.4
        forcing = float(np.clip(0.9 * (new / size) ** 2, 0.01, 0.05))
        state, size = trial, new
    return replace(state, residual=size / scale, products=products)


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
            self.lifted = self._green(np.zeros(len(area)), self.anode)  # what one volt on the anodes does
        else:
            self.lifted = cell.influence.share * self.anode
        probe = np.abs(cell.drops(np.full(len(area), self.mean or 100.0))[1])
        self.ohm = float((cell.influence.diagonal / cell.conductivity + probe)[self.electrode].mean())
        self.bent = cell.cathode.bent or cell.anode.bent

    def _green(self, j: Array, phi: Array) -> Array:
        cell = self.cell
        return cell.influence.share * phi + cell.influence.apply(j / cell.conductivity, phi)

    def residual(self, state: State) -> tuple[Array, float]:
        """(n + 2,) V: Green's identity, current balance, drive; and the norm to measure it by."""
        green = np.where(self.cell.active, self._green(state.j, state.phi) - state.constant, 0.0)
        balance = self.ohm * float(self.all_area @ state.j)
        if self.mean is None:
            held = state.voltage - float(self.drive.voltage or 0.0)
        else:
            held = self.ohm * (float(self.part_area @ state.j) - self.mean)
        spread = max(abs(state.voltage), self.ohm * abs(self.mean or 0.0))
        return np.concatenate([green, [balance, held]]), spread * float(np.sqrt(len(green)))

    def product(self, state: State):  # type: ignore[no-untyped-def]
        _, slope = self.cell.drops(state.j)

        def times(x: Array) -> Array:
            panel, constant, voltage = x[:-2], x[-2], x[-1]
            j = np.where(self.electrode, panel, 0.0)
            lift = 0.0 if self.cell.lift is None else self.cell.lift(j)
            phi = np.where(self.electrode, slope * panel + lift, panel)
            green = np.where(self.cell.active, self._green(j, phi) + self.lifted * voltage - constant, panel)
            held = voltage if self.mean is None else self.ohm * float(self.part_area @ j)
            return np.concatenate([green, [self.ohm * float(self.all_area @ j), held]])

        return times

    def inverse(self, state: State):  # type: ignore[no-untyped-def]
        """The leaves' inverse with the last two rows and columns kept whole."""
        cell = self.cell
        _, slope = cell.drops(state.j)
        leaves = self.blocks.inverse(slope, self.electrode, cell.active)
        ends = [np.where(cell.active, -1.0, 0.0), np.where(cell.active, self.lifted, 0.0)]
        columns = np.stack([leaves(end) for end in ends], axis=1)
        rows = np.stack(
            [self.ohm * self.all_area, np.zeros(len(slope)) if self.mean is None else self.ohm * self.part_area]
        )
        corner = np.array([[0.0, 0.0], [0.0, 1.0 if self.mean is None else 0.0]])
        schur = np.linalg.inv(corner - rows @ columns)

        def solve(x: Array) -> Array:
            panel = leaves(x[:-2])
            last = schur @ (x[-2:] - rows @ panel)
            return np.concatenate([panel - columns @ last, last])

        return solve

    def moved(self, state: State, step: Array) -> State:
        """The state after a step of the unknowns."""
        panel = step[:-2]
        j = np.where(self.electrode, self.cell.stepped(state.j, panel), 0.0)
        voltage = state.voltage + float(step[-1])
        eta, _ = self.cell.drops(j)
        phi = np.where(self.electrode, self.cell.metal(j, voltage) + eta, state.phi + panel)
        return State(j, phi, voltage, state.constant + float(step[-2]))
