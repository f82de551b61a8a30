"""The mixed problem: potentials and current densities that satisfy Laplace's equation and the kinetics.

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
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ..chemistry.kinetics import Law
from ..errors import InputError
from ..findings import Finding
from ..tank.body import Role
from .bem.influence import Influence
from .bem.precondition import SchwarzPreconditioner

Array = NDArray[np.float64]


class NotSolvedError(InputError):
    """The equations have no plausible solution: what went wrong, in one line, and the remedy.

    findings : the same as data, where there is a code for it
    """

    def __init__(self, sentence: str, findings: tuple[Finding, ...] = ()) -> None:
        super().__init__(sentence)
        self.findings = findings


class Ending(Enum):
    """Why Newton's method ended."""

    CONVERGED = "converged"
    STAGNATED = "stagnated"  # no step lowers the residual any more
    LINEAR_SOLVER = "linear-solver"  # no step was found: the linear solver failed
    STEP_LIMIT = "step-limit"


class Shunt(Protocol):
    """The network of a coat that the liquid shunts: V lost on the panels, (n,), where each collects
    conductance x (volts - lost) A/m2; conductance : (n,) S/m2; volts : (n,) V.
    """

    def shunted(self, conductance: Array) -> Callable[[Array], Array]:
        """For any volts (n,)."""
        ...


@dataclass(frozen=True, eq=False)
class Cell:
    """Panels with their roles in a liquid.

    role : (n,) Role; sides : (n,) how many sides of an electrode panel the liquid wets, 1 or 2
    active : (n,) bool; the others lie out of the liquid and carry nothing
    cathode, anode : kinetics; conductivity : S/m
    raised : (n,) V, how far a cathode panel's metal lies above the wire
    lift : j (n,) -> (n,) V that it lies higher still for the current that flows, linear in j; None: no more
    shunt : the network behind that, where it is known
    dry : (n,) why a panel is not active, `dry.Dry`; None: not asked
    schwarz : the preconditioner that all solutions on these panels share; None: each makes its own
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
    shunt: Shunt | None = None
    dry: NDArray[np.int8] | None = None
    schwarz: SchwarzPreconditioner | None = None

    def metal(self, j: Array, voltage: float) -> Array:
        """(n,) V of the metal of each panel against the wire, with the supply's voltage on the anodes."""
        level = self.raised + np.where(self.rows(Role.ANODE), voltage, 0.0)
        return level if self.lift is None else level + self.lift(j)

    @property
    def electrode(self) -> NDArray[np.bool_]:
        """(n,) the active panels that current flows through."""
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


class Control(Enum):
    """What the supply controls or what limits it."""

    CURRENT = "current"  # the current of the parts, as set
    DRAW = "draw"  # the largest current of the supply, for all cathodes
    VOLTAGE = "voltage"
    COAT = "coat"  # the current that the coat bears: set by hand, not limited by the supply


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
    """A state with its current scaled, its potentials as for linear kinetics: a first guess, for `resumed`."""
    phi = state.constant + factor * (state.phi - state.constant)
    return State(factor * state.j, phi, state.voltage, state.constant)
