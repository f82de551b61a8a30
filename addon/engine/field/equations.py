"""The equations of a cell under a drive: residual, Jacobian, preconditioner, and how long a step may be.

Alternatives that were tried, with counts, are in docs/theory-field.md.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from ..linalg.krylov import Solution, gmres
from ..progress import Progress
from ..tank.body import Role
from .bem.precondition import SchwarzPreconditioner
from .follow import followed
from .problem import Array, Cell, Control, Drive, Shunt, State

MAX_PRODUCTS_PER_STEP = 120  # of GMRES: twice its restart
PROGRESS_TEXT = "Calculating the current"

LINEAR_FORCING = 1e-7  # of GMRES, relative, where the kinetics are linear
MIN_FORCING = 1e-5  # tolerance below which GMRES is not driven by the kinetics
LIQUID_BEFORE_COAT = 4.0  # of the preconditioner, over what a panel's own density does in liquid all round
MIN_COAT_SHARE = 0.02  # of the volts on coat, kinetics and liquid, that a coat takes at least to be preconditioned
# Change of conductance, relative to its sum, at which a cached elimination of the coat is renewed
MAX_CONDUCTANCE_CHANGE = 0.02
# Residual of GMRES over the kinetics' e-fold: a larger one shifts panels of low density by many e-folds
INNER_RESIDUAL_E_FOLDS = 0.1
MAX_DENSITY_STEP = 30.0  # change of a density in one step, over the largest of the state and the mean
_TINY = 1e-300
MAX_OVERPOTENTIAL_STEP_V = 4.0  # V, largest change of a panel's overpotential in one step, by the tangent


class _Limit(NamedTuple):
    """One limit of the supply: weights @ j + share x voltage <= most, in V. weights : (n,) ohm m2"""

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
            self.lifted = self._green(np.zeros(len(area)), self.anode, precise=True)  # effect of one volt on the anodes
        else:
            self.lifted = cell.influence.share * self.anode
        probe = np.abs(cell.drops(np.full(len(area), self.mean or 100.0))[1])
        self.ohm = float((cell.influence.diagonal / cell.conductivity + probe)[self.electrode].mean())
        self.is_nonlinear = cell.cathode.is_nonlinear or cell.anode.is_nonlinear
        self.limits = self._limits()
        self._kept_coat: tuple[Array, Callable[[Array], Array]] | None = None
        self.behind_coat = (
            self.is_nonlinear and cell.shunt is not None
        )  # whether steps take the whole coat into account

    def _limits(self) -> list[_Limit]:
        cell, drive, limits = self.cell, self.drive, []
        weights = self.ohm * self.part_area
        if self.mean is not None:
            limits.append(_Limit(Control.CURRENT, weights, 0.0, self.ohm * self.mean))
        if drive.draw is not None:
            area = np.where(cell.rows(Role.PART, Role.THIEF), cell.influence.area, 0.0)
            share = self.ohm / float(area[cell.rows(Role.PART)].sum())
            limits.append(_Limit(Control.DRAW, share * area, 0.0, share * drive.draw))
        if drive.voltage is not None:
            limits.append(_Limit(Control.VOLTAGE, np.zeros(len(weights)), 1.0, drive.voltage))
        return limits

    def _binding(self, state: State) -> tuple[_Limit, float]:
        """The limit that is exceeded most, or missed by the least, and by how much, V.

        "None exceeded, one met" is max(limits) = 0, which Newton's method solves directly (L. Qi and J. Sun, Math.
        Programming 58 (1993) 353; from memory).
        """
        excess = [float(limit.weights @ state.j) + limit.share * state.voltage - limit.most for limit in self.limits]
        worst = int(np.argmax(excess))
        return self.limits[worst], excess[worst]

    def control(self, state: State) -> Control:
        """What sets the current in this state: the setting, or a limit of the supply."""
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
        """The Jacobian of the residual times a change of the unknowns (n + 2,)."""
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
        coat = self._kept_coat
        if coat is None or np.abs(conductance - coat[0]).sum() > MAX_CONDUCTANCE_CHANGE * coat[0].sum():
            coat = self._kept_coat = conductance, shunt.shunted(conductance)
        return coat

    def forcing(self, wanted: float, size: float) -> float:
        """The relative tolerance of GMRES at a residual of this norm; wanted : as the fall of the residual has it.

        Relative to a residual of many volts, a hundredth is several e-folds of the kinetics: where little current
        flows the step would be noise, and Newton's method stall.
        """
        if not self.is_nonlinear:
            return LINEAR_FORCING
        e_fold = min(self.cell.cathode.e_fold, self.cell.anode.e_fold) * np.sqrt(len(self.electrode))
        return max(min(wanted, INNER_RESIDUAL_E_FOLDS * e_fold / size), MIN_FORCING)

    def longest(self, state: State, step: Array) -> float:
        """The largest share of a step that keeps densities and overpotentials where the tangent is valid."""
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
