"""The bare coat before any metal has grown: voltage drop and current distribution."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..field.level import Level
from ..linalg.sparse import Graph, Vector
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from . import wired
from .bathside import Bath, LocalBath
from .contact import Contacts
from .drop import Loss, WiredSheet, share_current
from .sheet import Pad
from .spread import Losses, Spread
from .wired import Wired

MAX_GUESS_DROP_V = 20.0  # V; a current with a larger drop is no useful first guess


@dataclass(frozen=True, eq=False)
class BareCoat:
    """The bare coat at the full current.

    drop : (v,) V lost for the density of the field, or the even one
    coupled : (v,) V, and density : (v,) A/m2, as coat and bath together share the current; currents : A of each wire
    spread : the coarse copy, fitted to that; None on metal
    borne : A, the full current or as much as the coat may lose a bound for
    """

    fed: WiredSheet
    drop: Vector
    coupled: Vector
    density: Vector
    currents: Vector
    spread: Spread | None
    borne: float


def wired_coat(surface: Surface, contacts: Contacts, pads: tuple[Pad, ...], level: Level | None) -> Progress[Wired]:
    """The coat with its wires, as the field had it where its wires are these."""
    if level is not None and isinstance(level.coat, Losses):
        spread = level.coat.spread
        if spread.pads == pads and spread.sheet.faces == len(surface.triangles):
            return Wired(pads, spread.fed, spread.patches)
    return (yield from wired.build(surface, contacts, pads))


def bare_coat(
    surface: Surface, contacts: Contacts, wired_sheet: Wired, ohms: float, bath: Bath, local: LocalBath, target: float
) -> Progress[BareCoat]:
    """The coat at the full current, without metal on it.

    ohms : per square in the bath; target : A of one part in the end
    """
    fed, sheet = wired_sheet.fed, wired_sheet.fed.sheet
    if contacts.checked is not None and contacts.checked.fed is fed:
        loss = replace(contacts.checked, sheet_resistance=ohms)
    else:
        loss = yield from subrange(0.0, 0.4, Loss.build(fed, ohms))
    area = float(surface.plated_area.sum())
    shape = np.where(fed.floating, 0.0, 1.0 if local.shape is None else local.shape)
    current = sheet.collected(sheet.spread(shape))
    current *= target / float(current.sum())  # coat without a wire takes no current
    drop = yield from subrange(0.4, 0.5, loss.at_points(current))
    if ohms == 0:
        even = np.divide(current, sheet.area, out=np.zeros_like(current), where=sheet.area > 0)
        return BareCoat(fed, drop, drop, even, fed.into_wires(drop, ohms, current), None, target)
    spread = Spread.of(fed, wired_sheet.patches, wired_sheet.pads, resolution=bath.resolution)
    conductance = np.full(len(spread.own), 1.0 / ohms)
    borne = target * min(1.0, MAX_GUESS_DROP_V / max(float(np.nanmax(drop)), 1e-300))
    resistance = yield from subrange(0.6, 0.8, bath.patch_resistance(spread, conductance, borne))
    scaled = Graph(fed.graph.count, fed.graph.low, fed.graph.high, fed.graph.weight / ohms)
    at_points = spread.at_points(resistance, local.resistance(target / area))
    shared = yield from subrange(0.8, 1.0, share_current(fed, scaled, fed.ground / ohms, at_points, target))
    collected = np.where(np.isnan(shared.drop), 0.0, sheet.area * shared.density)
    currents = fed.into_wires(shared.drop, ohms, collected)
    spread = spread.fitted(conductance, resistance, shared.voltage / target)
    return BareCoat(fed, drop, shared.drop, shared.density, currents, spread, borne)
