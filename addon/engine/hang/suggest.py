"""How to hang the part: what it weighs, how it turns on its wire, and ranked ways up with their reasons."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import Fault
from ..job import Hang, Tank
from ..relief import Relief
from ..steps import Step, Steps, between
from ..surface import Surface
from ..tracer import Tracer
from ..units import CM2, GRAM, ML
from . import attitude, search
from .balance import Balance, Load, balance, ballast, settled_up
from .fit import fit, support
from .mass import Body, weigh
from .score import Scores

COUNT = 6  # ways up that are offered
HOLDS = np.radians(8)  # a wire that lets the part hang this near to a way up holds it there


@dataclass(frozen=True, eq=False)
class Suggestion:
    """A way up with what it costs. Points in metres, in the part's axes.

    up : (3,) unit; euler : (3,) XYZ Euler angles, radians, that bring it upright and turn it in the tank
    trapped : m3 of gas; dry : m2 it keeps dry; underside : m2 that keeps bubbles; held : m3 carried out
    fits : whether the tank takes it; slack : m to spare
    contact : (3,) where one flexible wire would hold it so, or None: it needs a rigid hook
    best : on the front, that is, no other way up beats it in every respect
    """

    up: NDArray[np.float64]
    euler: NDArray[np.float64]
    trapped: float
    dry: float
    underside: float
    held: float
    fits: bool
    slack: float
    contact: NDArray[np.float64] | None
    best: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Pair:
    """Two ways up to swap at half time; missed : m2 that both leave spoilt."""

    first: Suggestion
    second: Suggestion
    missed: float


@dataclass(frozen=True, eq=False)
class Hanging:
    """How the part hangs.

    body : what it weighs, None where the mesh is open; start, end : net load before and after plating
    deposit : kg; ballast : kg of copper that sinks it at the start
    settles_up : (3,) the way up that it turns to on the first contact, None where it floats or is unknown
    """

    body: Body | None
    start: Balance | None
    end: Balance | None
    deposit: float
    ballast: float
    settles_up: NDArray[np.float64] | None
    suggestions: tuple[Suggestion, ...]
    pair: Pair | None
    warnings: tuple[str, ...]


def run(
    surface: Surface,
    tracer: Tracer,
    *,
    walls: float,
    infill: float,
    plastic_density: float,
    coat_thickness: float,
    coat_density: float,
    deposit: float,
    bath_density: float,
    tank: Tank,
    contacts: ArrayLike,
    directions: int,
    weights: Hang | None = None,
) -> Steps[Hanging]:
    """Weigh the part, let it settle, and rank the ways up.

    contacts : (k, 3) metres, where a wire may go, the likeliest first; deposit : kg in the end
    weights : how much each cost counts against the others
    """
    weights = weights or Hang()
    warnings: list[str] = []
    yield Step(0.0, "weighing the print")
    body: Body | None = None
    start = end = None
    try:
        body = weigh(
            surface, tracer, walls=walls, infill=infill, plastic_density=plastic_density,
            coat_thickness=coat_thickness, coat_density=coat_density,
        )  # fmt: skip
    except Fault as fault:
        warnings.append(str(fault))
    contacts = np.asarray(contacts, dtype=float).reshape(-1, 3)
    settles = None
    added = 0.0
    if body is not None:
        start, end = _loads(surface, body, deposit, bath_density)
        added = ballast(start.net, bath_density)
        warnings += _floating(body, start, end, added, bath_density, infill)
        if len(contacts):
            up = settled_up(contacts[0], start)
            settles = up if np.isfinite(up).all() else None
    relief = surface.relief
    displaced = body.displaced if body is not None else float(np.prod(np.ptp(surface.bounds, axis=0)))
    tried = yield from between(
        0.1, 0.95,
        search.search(surface, relief, directions=directions, displaced=displaced, weights=weights),
    )  # fmt: skip
    yield Step(0.95, "ranking the ways up")
    ranking = _Ranking(surface, relief, tried, displaced, weights, tank, contacts, start)
    return Hanging(
        body, start, end, deposit, added, settles, ranking.suggestions(), ranking.pair(), tuple(warnings)
    )


def _loads(surface: Surface, body: Body, deposit: float, bath_density: float) -> tuple[Balance, Balance]:
    """Net load before plating, and with an even deposit."""
    part = Load(body.mass, body.centre, body.displaced, body.buoyancy)
    area = surface.plated_area
    skin = area @ surface.centroid / max(area.sum(), 1e-300)
    metal = Load(deposit, skin, 0.0, skin)  # the metal's own volume is a ten-thousandth of the part's
    return balance([part], bath_density), balance([part, metal], bath_density)


def _floating(
    body: Body, start: Balance, end: Balance, added: float, bath_density: float, infill: float
) -> list[str]:
    """What a person must know about weight before the part goes in."""
    found = []
    if start.floats:
        sinks = "and sinks once plated" if not end.floats else "and still floats when plated"
        found.append(
            f"The print floats: {-start.net / GRAM:.1f} g too light, {sinks}. Hang {added / GRAM:.0f} g of copper"
            " on it, print it with more infill or thicker walls, or let its hollow flood through a vent and a drain."
        )
    if infill < 1 and body.air > 0.05 * body.displaced:
        found.append(
            f"The infill holds {body.air / ML:.1f} mL of air. If the wall or the coat leaks, as much of the bath"
            f" creeps in (up to {body.air * bath_density / GRAM:.0f} g): seal the print, and weigh it before and after."
        )
    return found


class _Ranking:
    """Ways up that were tried, in the words of the bench."""

    def __init__(
        self,
        surface: Surface,
        relief: Relief,
        tried: Scores,
        displaced: float,
        weights: Hang,
        tank: Tank,
        contacts: NDArray[np.float64],
        start: Balance | None,
    ) -> None:
        self.surface, self.relief, self.tried, self.tank = surface, relief, tried, tank
        self.hull = support(surface.points[np.unique(surface.triangles)])
        self.plated = max(float(surface.plated_area.sum()), 1e-300)
        self.cost = search.costs(tried, self.plated, displaced)
        self.total = search.total(self.cost, weights)
        self.front = search.front(self.cost)
        self.contacts = contacts
        held = [settled_up(point, start) for point in contacts] if start is not None else []
        self.settled = np.array(held).reshape(-1, 3)

    def suggestions(self) -> tuple[Suggestion, ...]:
        few = [self._suggestion(k) for k in search.apart(self.tried, self.total, COUNT)]
        return tuple(sorted(few, key=lambda one: not one.fits))

    def pair(self) -> Pair | None:
        """Only where no single way up frees every face."""
        best = int(np.argmin(self.total))
        if self.tried.dry[best] + self.tried.underside[best] < 1e-3 * self.plated:
            return None
        i, j, missed = search.pair(self.surface, self.relief, self.tried, self.total)
        return Pair(self._suggestion(i), self._suggestion(j), missed)

    def _suggestion(self, k: int) -> Suggestion:
        up = self.tried.up[k]
        room = fit(self.hull, up, self.tank)
        cos, sin = np.cos(room.yaw), np.sin(room.yaw)
        turn = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]]) @ attitude.turn_up(up)
        contact = self._contact(up)
        return Suggestion(
            up=up,
            euler=attitude.euler(turn),
            trapped=float(self.tried.trapped[k]),
            dry=float(self.tried.dry[k]),
            underside=float(self.tried.underside[k]),
            held=float(self.tried.held[k]),
            fits=room.fits,
            slack=room.slack,
            contact=contact,
            best=bool(self.front[k]),
            reasons=self._reasons(k, room.fits, room.slack, contact is not None),
        )

    def _contact(self, up: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """The contact on which the part hangs this way by itself."""
        if not len(self.settled):
            return None
        near = self.settled @ up
        near = np.where(np.isfinite(near), near, -1.0)
        best = int(np.argmax(near))
        return self.contacts[best] if near[best] > np.cos(HOLDS) else None

    def _reasons(self, k: int, fits: bool, slack: float, held: bool) -> tuple[str, ...]:
        tried = self.tried
        found = []
        if tried.dry[k] > 1e-3 * self.plated:
            found.append(f"traps {tried.trapped[k] / ML:.2f} mL of gas over {tried.dry[k] / CM2:.1f} cm2")
        else:
            found.append("traps no gas")
        if tried.underside[k] > 1e-3 * self.plated:
            found.append(f"bubbles cling to {tried.underside[k] / CM2:.1f} cm2 of undersides: move it now and then")
        else:
            found.append("no level undersides")
        if tried.held[k] > 0.05 * ML:
            found.append(f"carries {tried.held[k] / ML:.1f} mL of bath out when lifted")
        else:
            found.append("drains by itself")
        if not fits:
            found.append(f"too large for the tank by {-slack * 1e3:.0f} mm this way")
        found.append("hangs so on one wire by itself" if held else "needs a rigid hook or a second wire to stay so")
        return tuple(found)
