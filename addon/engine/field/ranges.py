"""The uncertainty of a current distribution: the same tank solved again with uncertain inputs varied.

The conductivity of a bath that was not measured is uncertain by a fifth, and the slope of its kinetics spreads from a
transfer coefficient of 0.35 to one of 0.7 about 0.5 (both from memory, see data/baths.toml). Both ends of both are
solved on the operators that the field kept, at a preview's resolution, and the field's own figures move as these do.
Monotone in either, they are extreme in a corner. The discretization error is added. Levelers, which even a deposit
out, and stirring, which moves the limiting density, are not in the model.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ..chemistry import kinetics
from ..filled import filled
from ..mesh.surface import Surface
from ..progress import Progress, Step, subrange
from ..settings import conductivity
from ..settings.job import Job
from ..units import A_PER_DM2, CM2, HOUR, UM
from .answer import unjudged
from .coupling import coupled, raised
from .level import Level
from .newton import solve
from .problem import Cell, Drive, State, resumed
from .result import Field, Spread
from .solved import Solved

CONDUCTIVITY_ERROR = 0.2  # relative, of a table's value; of a measured one twice its own uncertainty, at least
MIN_MEASURED_ERROR = 0.05
TRANSFER_FACTORS = (0.7, 1.4)  # of the transfer coefficient: 0.35 and 0.7 about 0.5
DENSITY_ERROR_FACTOR = 2.0  # times the density's stated error, which is a mean: at an edge the error is larger
TOLERANCE = 1e-4  # of the equations, over the spread of potential: on a cup ranges then agree to 3e-3
MAX_TURN = 2.0  # times, and one over it, that a density of a first guess may differ by from that of the middle
LEFT_OUT = ("levelers", "stirring")

Figures = Mapping[str, float]
Span = tuple[float, float]


@dataclass(frozen=True)
class Ranges:
    """spans : key of the report -> (low, high) in the key's unit; conductivity : S/m, transfer : the ends that were
    tried, None where nothing was or the law has none; left_out : sources of error that the ranges do not include."""

    spans: Mapping[str, Span] = field(default_factory=dict)
    conductivity: Span | None = None
    transfer: Span | None = None
    left_out: tuple[str, ...] = LEFT_OUT

    def get(self, key: str) -> Span | None:
        """The range of a figure of the report; None where there is none."""
        return self.spans.get(key)

    def relative(self, spread: Spread) -> Span:
        """How far a local thickness may be off, times it: as that of the thin end is low, and of the thick end high."""
        low, high = self.get("field.thickness_um.p5"), self.get("field.thickness_um.p95")
        return (
            1.0 if low is None or not spread.p5 > 0 else low[0] * UM / spread.p5,
            1.0 if high is None or not spread.p95 > 0 else high[1] * UM / spread.p95,
        )


def run(surface: Surface, job: Job, field: Field | None) -> Progress[Ranges]:
    """The ranges of a field's figures; empty where there is no field, or where it kept no level to solve on.

    Cost: five solutions at a preview's resolution, on existing operators, every other one from an extrapolated first
    guess.
    """
    if field is None or field.level is None:
        return Ranges()
    level = field.level
    error = _conductivity_error(job)
    drive = Drive(current=field.current) if job.supply.hold is None else Drive(voltage=job.supply.hold)
    central, middle = yield from subrange(0.0, 0.2, _solved(surface, job, level, level.cell, drive, level.state))
    spans = {key: [value, value] for key, value in figures(field).items()}
    start, corners = middle, _corners(error)
    for k, (conducts, transfer) in enumerate(corners):
        yield Step(0.2 + 0.2 * k, filled("Trying another bath: {number} of {count}", number=k + 1, count=len(corners)))
        cell = replace(
            level.cell,
            conductivity=level.cell.conductivity * conducts,
            cathode=kinetics.scaled(level.cell.cathode, transfer),
        )
        other, state = yield from subrange(
            0.2 + 0.2 * k, 0.4 + 0.2 * k, _solved(surface, job, level, cell, drive, start)
        )
        start = _opposite(middle, state) if k % 2 == 0 else middle
        _widen(spans, field, central, other)
    _blur(spans, field)
    value, law = level.cell.conductivity, job.bath.kinetics
    tried = law.kind in ("tafel", "butler-volmer")
    return Ranges(
        {key: (low, high) for key, (low, high) in spans.items()},
        (value * (1.0 - error), value * (1.0 + error)),
        (law.transfer * TRANSFER_FACTORS[0], law.transfer * TRANSFER_FACTORS[1]) if tried else None,
    )


def figures(field: Field) -> dict[str, float]:
    """The field's figures by their keys in the report, in the units of these; what is not finite is left out."""
    values = {
        "field.cell_voltage_V": field.voltage,
        "field.ohmic_V": field.ohmic,
        "field.polarisation_V": field.polarization,
        "field.cell_resistance_ohm": field.resistance,
        "field.time_thinnest_h": field.time_thinnest / HOUR,
        "field.dull_area_cm2": (field.dull_area + field.bare_area) / CM2,  # the report counts bare area as dull too
        "field.bare_area_cm2": field.bare_area / CM2,
        "field.burnt_area_cm2": field.burnt_area / CM2,
        **_spread("field.density_A_dm2", field.density_spread, A_PER_DM2),
        **_spread("field.thickness_um", field.thickness_spread, UM),
    }
    return {key: value for key, value in values.items() if math.isfinite(value)}


def _spread(key: str, spread: Spread, unit: float) -> dict[str, float]:
    return {f"{key}.{name}": value / unit for name, value in vars(spread).items()}


def _conductivity_error(job: Job) -> float:
    """Relative."""
    if job.bath.measured is None:
        return CONDUCTIVITY_ERROR
    read = conductivity.of(job.bath.measured)
    return float(np.clip(2 * read.uncertainty / read.value, MIN_MEASURED_ERROR, CONDUCTIVITY_ERROR))


def _corners(error: float) -> list[tuple[float, float]]:
    """Factors of conductivity and transfer coefficient, opposite ones in a row. error : relative, of conductivity"""
    (low, high), (flat, steep) = (1.0 - error, 1.0 + error), TRANSFER_FACTORS
    return [(low, flat), (high, steep), (low, steep), (high, flat)]


def _opposite(middle: State, state: State) -> State:
    """A first guess for the opposite corner, mirrored about the middle: linear in the logarithm of densities, and in
    potentials."""
    same_sign = (middle.j * state.j) > 0.0
    ratio = np.divide(middle.j, state.j, out=np.ones(len(middle.j)), where=same_sign)
    j = middle.j * np.clip(ratio, 1.0 / MAX_TURN, MAX_TURN)
    return State(
        j,
        2.0 * middle.phi - state.phi,
        2.0 * middle.voltage - state.voltage,
        2.0 * middle.constant - state.constant,
    )


def _solved(
    surface: Surface, job: Job, level: Level, cell: Cell, drive: Drive, begin: State | None
) -> Progress[tuple[Figures, State]]:
    """The figures of a bath on that level, with the coat that the field had, and the state. begin : a first guess"""
    if level.coat is None or isinstance(level.coat, np.ndarray):
        cell = cell if level.coat is None else raised(cell, level.panels, level.coat)
        start = None if begin is None else resumed(cell, begin)
        state = yield from solve(cell, drive, start, tolerance=TOLERANCE)
    else:
        steps = coupled(surface, cell, level.panels, drive, level.coat, begin, tolerance=TOLERANCE)
        cell, state = yield from steps
    solved = Solved(level.panels, cell, state, error=0.0, findings=[])
    return figures(unjudged(surface, job, solved, with_coat=level.coat is not None)), state


def _widen(spans: dict[str, list[float]], field: Field, central: Figures, other: Figures) -> None:
    """Extend the ranges by the field's own figures changed as the level's are: by the same ratio, areas by the same
    difference."""
    for key, value in figures(field).items():
        if key not in central or key not in other:
            continue
        if "area" in key or central[key] <= 0 or value <= 0:
            moved = max(value + other[key] - central[key], 0.0)
        else:
            moved = value * other[key] / central[key]
        spans[key] = [min(spans[key][0], moved), max(spans[key][1], moved)]


def _blur(spans: dict[str, list[float]], field: Field) -> None:
    """Add the discretization error, relative to the value, to densities, thicknesses and voltages: deep in a hollow
    the density decays exponentially, and so does its error."""
    error = 1.0 if field.error is None else DENSITY_ERROR_FACTOR * field.error
    for key, (low, high) in spans.items():
        if "thickness" in key or "density" in key or key.endswith("_V"):
            spans[key] = [max(low * (1.0 - error), 0.0), high * (1.0 + error)]
