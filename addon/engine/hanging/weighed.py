"""The part's weight in the bath: whether it sinks or floats, the wire that it needs, and how it settles on the
first."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..findings import Code, Finding, Quantity, Severity
from ..geometry.triangles import measure
from ..mesh.surface import Surface
from ..mesh.topology import Topology
from ..mesh.tracer import Tracer
from ..trapping.relief import relief_of
from . import cautions
from .balance import MIN_BALLAST_KG, MIN_PULL_SHARE, Load, balance, ballast, rigid_wire, settled_up, sinking_deposit
from .lift import balance_with_gas, gas_load
from .mass import Body, Printed, weigh
from .result import Hanging

MIN_BOX_SIDE_OVER_LONGEST = 0.01


@dataclass(frozen=True, eq=False)
class Immersion:
    """The deposit and the bath that the part hangs in.

    deposit : kg in the end; metal_density, bath_density : kg/m3
    """

    deposit: float
    bath_density: float
    metal_density: float = 8960.0


@dataclass(frozen=True, eq=False)
class Weighed:
    """hanging : without ways up; load : the part at the start; unknown : a finding where it cannot be weighed"""

    hanging: Hanging
    load: Load | None = None
    unknown: tuple[Finding, ...] = ()

    @property
    def body(self) -> Body | None:
        """What it weighs; None where the mesh is open."""
        return self.hanging.body


def weighed(
    surface: Surface,
    tracer: Tracer,
    printed: Printed,
    immersion: Immersion,
    hook: str,
    contacts: NDArray[np.float64],
) -> Weighed:
    """Weigh the part; find whether it sinks, and how it settles on its first contact.

    hook : what holds it, as of `hold.find`; contacts : (k, 3) meters, where wires may touch it, the likeliest first
    """
    bare = Hanging(None, None, None, immersion.deposit, 0.0, None, (), None, ())
    try:
        body = weigh(surface, tracer, **vars(printed))
    except InputError as fault:
        return _unweighed(surface, printed, immersion.bath_density, bare, str(fault))
    bath, metal = immersion.bath_density, immersion.metal_density
    load = Load(body.mass, body.centre, body.displaced, body.buoyancy)
    start = balance([load], bath)
    end = balance([load, _deposit_load(surface, immersion.deposit, metal)], bath)
    added = ballast(start.net, bath, MIN_PULL_SHARE * body.mass) if hook != "rigid" else 0.0
    added = added if start.floats or added >= MIN_BALLAST_KG else 0.0
    sinks = sinking_deposit(start.net, bath, metal)
    thickness = sinks / metal / max(float(surface.plated_area.sum()), 1e-300)
    rigid = rigid_wire(-start.net, surface.size / 2) if start.floats else None
    findings = cautions.floating(start, end, added, thickness, rigid) + cautions.interior(
        body, bath, printed.infill, printed.walls
    )
    settles = full = swing = None
    if len(contacts):
        up = settled_up(contacts[0], start)
        if np.isfinite(up).all():
            settles = up
            full, swing = balance_with_gas(load, gas_load(relief_of(surface), up), bath, contacts[0])
            findings += cautions.gas_lift(full, swing)
    hanging = replace(
        bare,
        body=body,
        start=start,
        end=end,
        ballast=added,
        lifted=body.mass + immersion.deposit + added,
        settles_up=settles,
        findings=tuple(findings),
        sinks=sinks,
        sinks_thickness=thickness,
        full=full,
        swing=swing,
        rigid_wire=rigid,
    )
    return Weighed(hanging, load)


def _unweighed(surface: Surface, printed: Printed, bath_density: float, bare: Hanging, reason: str) -> Weighed:
    """A part of unknown weight is held as if it had its largest possible lift: the most that it displaces, with holes
    closed by flat patches, less its least weight, that of its walls alone.
    """
    triangles = surface.triangles[surface.wetted]
    topology = Topology.of(triangles, len(surface.points))
    rim = surface.points[topology.edges[topology.open].ravel()] if len(topology.open) else surface.points
    inside = float(measure(surface.points, triangles, rim.mean(axis=0)).volume.sum())
    if not 0.0 < inside < box_volume(surface):
        inside = box_volume(surface)
    walls = min(printed.walls * float(surface.wet_area.sum()), inside)
    lift = max(0.0, bath_density * inside - printed.plastic_density * walls)
    rigid = rigid_wire(lift, surface.size / 2) if lift > 0 else None
    quantities = {Quantity.MASS: lift} | ({} if rigid is None else {Quantity.DIAMETER: rigid})
    unknown = Finding(Code.WEIGHT_UNKNOWN, Severity.COSTS, quantities, {"reason": reason})
    return Weighed(replace(bare, rigid_wire=rigid, unknown_lift=lift), None, (unknown,))


def box_volume(surface: Surface) -> float:
    """m3 of the box round the part, for want of its volume; a flat sheet counts as if it were a little thick."""
    sides = np.ptp(surface.bounds, axis=0)
    return float(np.maximum(sides, MIN_BOX_SIDE_OVER_LONGEST * sides.max()).prod())


def _deposit_load(surface: Surface, deposit: float, density: float) -> Load:
    """The load of an even deposit: kg of it, with a density in kg/m3."""
    area = surface.plated_area
    skin = area @ surface.centroid / max(area.sum(), 1e-300)
    return Load(deposit, skin, deposit / density, skin)
