"""How to hang the part: what it weighs, how it turns on its wire, and ranked ways up with their reasons."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step, subrange
from ..settings.job import Hang, Tank
from ..trapping.relief import relief_of
from ..units import GRAM, ML, MM
from . import search
from .balance import Balance, Load, balance, ballast, settled_up, sinking
from .mass import Body, weigh
from .rank import Pair, Ranking, Suggestion, filled
from .score import worth

FLOATS = "The print floats"  # how the warning begins that a plan puts in its own words
MIN_BOX_SIDE_OVER_LONGEST = 0.01
OFF = 1.0 * MM  # a wire further than this from the surface does not touch it


@dataclass(frozen=True, eq=False)
class Hanging:
    """How the part hangs.

    body : what it weighs, None where the mesh is open; start, end : net load before and after plating
    deposit : kg; ballast : kg of copper that sinks it at the start
    settles_up : (3,) the way up that it turns to on the first contact, None where it floats or is unknown
    sinks : kg of deposit from which a floating part sinks; 0 where it sinks anyway, None where unknown
    sinks_thickness : m, mean thickness of that deposit
    full : net load at the start with the gas that `settles_up` traps; swing : radians that this turns the part
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
    sinks: float | None = None
    sinks_thickness: float | None = None
    full: Balance | None = None
    swing: float | None = None


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
    wires: int = 0,
    weights: Hang | None = None,
    metal_density: float = 8960.0,
    anodes: ArrayLike = (),
    density: NDArray[np.float64] | None = None,
) -> Progress[Hanging]:
    """Weigh the part, let it settle, and rank the ways up.

    contacts : (k, 3) meters, where a wire may go, the likeliest first; the first `wires` of them are the job's own
    deposit : kg in the end; metal_density : kg/m3, of the deposit
    weights : what holds the part, and how much each cost counts against the others
    anodes : (n, 2) level directions from the part to the anodes, in tank axes
    density : (m,) A/m2, the current distribution if there is one: what is thin anyway counts more where it is spoilt
    """
    weights = weights or Hang()
    warnings: list[str] = []
    yield Step(0.0, "weighing the print")
    body: Body | None = None
    start = end = full = settles = swing = sinks = thickness = part = None
    try:
        body = weigh(
            surface,
            tracer,
            walls=walls,
            infill=infill,
            plastic_density=plastic_density,
            coat_thickness=coat_thickness,
            coat_density=coat_density,
        )
    except InputError as fault:
        warnings.append(str(fault))
    points, said = _touching(surface, tracer, np.asarray(contacts, dtype=float).reshape(-1, 3), wires)
    warnings += said
    added = 0.0
    if body is not None:
        part = Load(body.mass, body.centre, body.displaced, body.buoyancy)
        start = balance([part], bath_density)
        end = balance([part, _metal(surface, deposit, metal_density)], bath_density)
        added, sinks = ballast(start.net, bath_density), sinking(start.net, bath_density, metal_density)
        thickness = sinks / metal_density / max(float(surface.plated_area.sum()), 1e-300)
        warnings += _floating(body, start, end, added, thickness)
        warnings += _inside(body, bath_density, infill, walls)
        if len(points):
            up = settled_up(points[0], start)
            if np.isfinite(up).all():
                settles = up
                full, swing = filled(surface, part, bath_density, up, points[0])
                warnings += _lifted(full, swing)
    displaced = body.displaced if body is not None else _box(surface)
    tried = yield from subrange(
        0.1,
        0.9,
        search.search(
            surface,
            relief_of(surface),
            directions=directions,
            displaced=displaced,
            weights=weights,
            counts=worth(surface, density, weights.visible, weights.thin),
        ),
    )
    yield Step(0.9, "ranking the ways up")
    ranking = Ranking(
        surface,
        tracer,
        tried,
        displaced=displaced,
        weights=weights,
        tank=tank,
        contacts=points,
        load=part,
        bath_density=bath_density,
        anodes=np.asarray(anodes, dtype=float).reshape(-1, 2),
        density=density,
    )
    suggestions = ranking.suggestions()
    yield Step(0.95, "looking for two ways up in turn")
    return Hanging(
        body,
        start,
        end,
        deposit,
        added,
        settles,
        suggestions,
        ranking.pair(),
        tuple(warnings),
        sinks,
        thickness,
        full,
        swing,
    )


def _box(surface: Surface) -> float:
    """m3 of the box round the part, for want of its volume; a flat sheet counts as if it were a little thick."""
    sides = np.ptp(surface.bounds, axis=0)
    return float(np.maximum(sides, MIN_BOX_SIDE_OVER_LONGEST * sides.max()).prod())


def _metal(surface: Surface, deposit: float, density: float) -> Load:
    """An even deposit."""
    area = surface.plated_area
    skin = area @ surface.centroid / max(area.sum(), 1e-300)
    return Load(deposit, skin, deposit / density, skin)


def _touching(
    surface: Surface, tracer: Tracer, contacts: NDArray[np.float64], wires: int
) -> tuple[NDArray[np.float64], list[str]]:
    """The contacts without those wires of the job that touch nothing, and a sentence on each of these."""
    own = contacts[:wires]
    if not len(own):
        return contacts, []
    off = tracer.nearest(own)
    face, _ = tracer.first_hit(own, np.broadcast_to([0.0, 0.0, 1.0], own.shape))
    inside = (face >= 0) & (surface.normal[face, 2] > 0)
    keep = np.ones(len(contacts), dtype=bool)
    keep[:wires] = off <= OFF
    said = []
    for k in np.flatnonzero(~keep):
        at = ", ".join(f"{value / MM:.4g}" for value in own[k])
        side = "inside the part" if inside[k] else "off the part"
        said.append(
            f"wire.point_mm: [{at}] lies {off[k] / MM:.1f} mm {side}, where no wire touches it; give a point on its"
            " surface, or leave it out and take a suggestion"
        )
    return contacts[keep], said


def _floating(body: Body, start: Balance, end: Balance, added: float, thickness: float) -> list[str]:
    """What a person must know about weight before the part goes in."""
    if not start.floats:
        return []
    sinks = f"it sinks once {thickness / 1e-6:.0f} um are on it, "
    sinks += "before the end" if not end.floats else "more than is wanted, so it floats to the end"
    return [
        f"{FLOATS}: {-start.net / GRAM:.1f} g too light; {sinks}. Hang {added / GRAM:.0f} g of copper"
        " on it, print it with more infill or thicker walls, or let its hollow flood through a vent and a drain."
    ]


def _inside(body: Body, bath_density: float, infill: float, walls: float) -> list[str]:
    """What the part's inside may do."""
    found = []
    creeping = body.air - body.void
    if infill < 1 and creeping > 0.05 * body.displaced:
        found.append(
            f"The infill holds {creeping / ML:.1f} mL of air. Where wall or coat leak, bath creeps in, up to"
            f" {creeping * bath_density / GRAM:.0f} g: seal the print, weigh it before and after."
        )
    if body.void > 1e-3 * body.displaced:
        found.append(
            f"Sealed voids in the model hold {body.void / ML:.1f} mL of air; flooded through a vent and a drain they"
            f" would pull {body.void * bath_density / GRAM:.1f} g more, and want rinsing out."
        )
    if infill < 1 and body.wall >= body.solid * (1 - 1e-9):
        found.append(
            f"part.walls_mm: walls of {walls / MM:g} mm meet everywhere inside, so the print counts as solid;"
            " check the value if it is not meant to be"
        )
    return found


def _lifted(full: Balance, swing: float | None) -> list[str]:
    if full.floats:
        return [f"With its gas pockets full the part floats up, {-full.net / GRAM:.1f} g too light: vent it first."]
    if swing is not None and swing > np.radians(5):
        return [
            f"Gas in its pockets swings the part by {np.degrees(swing):.0f} degrees on its wire until it is vented."
        ]
    return []
