"""Joule heating: of the coat where the current enters, against the plastic's softening; and of the wire.

Next to a round pad of radius r the current I flows through the sheet with I / (2 pi r) a meter, which warms each square
meter by Rs times the square of that. Liquid carries the heat away; air carries away thirty times less.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..chemistry.cautions import SOFTENING_MARGIN_K
from ..copper_wire import DIAMETERS_MM, gauge
from ..linalg.sparse import Index, Vector
from ..units import MM
from . import refine
from .drop import WiredSheet
from .film import RESISTIVITY_OHM_M
from .sheet import Pad, Sheet

# W/(m2 K), from memory: natural convection in water 200 to 1000, in air on thin wires 15 to 30
LIQUID_TRANSFER_W_M2K, AIR_TRANSFER_W_M2K = 500.0, 15.0
RING_RADIUS_RATIO = 1.5  # outer beside inner radius of the ring over which the warmth at a pad is taken
MAX_WIRE_RISE_K = 10.0  # K that a wire may be warmer than the air
LEAD_LENGTH_M = 0.5  # m of wire between the supply and the part


@dataclass(frozen=True)
class Heating:
    """How warm the coat gets at the wire.

    current : A for which it is told; power : W in the whole coat; flux : W/m2 at the hottest place, and where, at (3,)
    rise : K there above the bath; temperature, softens : K
    limit : A at which SOFTENING_MARGIN_K is used up, inf without warmth
    """

    current: float
    power: float
    flux: float
    at: tuple[float, float, float]
    rise: float
    temperature: float
    softens: float
    limit: float


@dataclass(frozen=True)
class WireAdvice:
    """A copper wire for a current.

    current : A; diameter : m; gauge : American wire gauge, nearest whole number; rise : K in air
    lost : V along the lead; wetted : m of it under the liquid
    takes : A that this length takes at the part's density, unless it is insulated
    """

    current: float
    diameter: float
    gauge: int
    rise: float
    lost: float
    wetted: float
    takes: float


def coat_heating(
    fed: WiredSheet,
    pads: Sequence[Pad],
    drop: Vector,
    sheet_resistance: float,
    current: float,
    *,
    bath: float,
    softens: float,
) -> Heating:
    """Warmth of the bare coat from the drop (v,) in V that goes with a current in A; bath, softens : K.

    Round each pad the power is taken over a ring from its radius r to RING_RADIUS_RATIO r, and scaled to its inner edge
    as a flux that falls with the square of the distance.
    """
    sheet = fed.sheet
    u = np.nan_to_num(drop)
    step = u[sheet.graph.low] - u[sheet.graph.high]
    lost = sheet.graph.weight * step * step / sheet_resistance
    power = 0.5 * sheet.graph.sums(lost)
    inner = (RING_RADIUS_RATIO**2 - 1) / (2 * math.log(RING_RADIUS_RATIO))  # flux at r beside its mean over the ring
    fluxes = []
    for pad, covered in zip(pads, fed.pads, strict=True):
        ring = refine.points_in_ball(
            sheet.mesh, np.array(pad.centre), RING_RADIUS_RATIO * pad.diameter / 2, int(_triangle_at(sheet, covered))
        )
        under = np.zeros(len(ring), dtype=bool)
        under[covered] = True
        disc = sheet.share[under[sheet.mesh.triangles].all(axis=1)].sum()
        area = float(sheet.area[ring].sum() - disc)
        fluxes.append(inner * float(power[ring].sum()) / area if area > 0 else 0.0)
    hottest = int(np.argmax(fluxes))
    rise = fluxes[hottest] / LIQUID_TRANSFER_W_M2K
    spare = softens - SOFTENING_MARGIN_K - bath
    limit = math.inf if rise <= 0 else current * math.sqrt(max(spare, 0.0) / rise)
    at = pads[hottest].centre
    return Heating(current, float(lost.sum()), fluxes[hottest], at, rise, bath + rise, softens, limit)


def at_current(heating: Heating, current: float) -> Heating:
    """The same at another current: warmth goes with its square."""
    ratio = (current / heating.current) ** 2
    bath = heating.temperature - heating.rise
    return replace(
        heating,
        current=current,
        power=heating.power * ratio,
        flux=heating.flux * ratio,
        rise=heating.rise * ratio,
        temperature=bath + heating.rise * ratio,
    )


def wire_advice(current: float, *, wetted: float, density: float) -> WireAdvice:
    """The thinnest wire that stays cool enough in air. wetted : m under the liquid; density : A/m2 on the part."""
    diameter = next(
        (d * MM for d in DIAMETERS_MM if _wire_rise(current, d * MM) <= MAX_WIRE_RISE_K),
        DIAMETERS_MM[-1] * MM,
    )
    resistance = RESISTIVITY_OHM_M["copper"] * LEAD_LENGTH_M / (math.pi * diameter**2 / 4)
    stolen_current = math.pi * diameter * wetted * density
    return WireAdvice(
        current, diameter, gauge(diameter), _wire_rise(current, diameter), current * resistance, wetted, stolen_current
    )


def _wire_rise(current: float, diameter: float) -> float:
    """K above the air: I^2 rho / (pi d^2 / 4) W/m, lost through the surface pi d."""
    return 4 * current**2 * RESISTIVITY_OHM_M["copper"] / (math.pi**2 * diameter**3 * AIR_TRANSFER_W_M2K)


def _triangle_at(sheet: Sheet, covered: Index) -> int:
    """A triangle at the first of the covered points."""
    return int((sheet.mesh.triangles == covered[0]).any(axis=1).argmax())
