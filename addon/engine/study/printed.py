"""The analyses of what is printed to stand in the tank: rack, anode holders, shields, thief."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..coat import study as coat
from ..coat.spread import Losses
from ..errors import InputError
from ..field.rack import Grid
from ..field.result import Field
from ..helpers import anode_holder, apart, hanger, rack, rods, shade, shield, thief, trial
from ..helpers.printed import USUAL_WIRE, Printed, check_plastic
from ..helpers.rods import Rods
from ..helpers.trial import Solid
from ..mesh.tracer import Tracer
from ..progress import Progress, subrange
from ..settings.job import Job
from ..settings.tank import Rack
from ..tank.anodes import plates, thief_area
from ..tank.arrange import Arrangement, arrange
from ..tank.body import Body, Pose
from .results import Results
from .study import LEFT_OUT, Study

Array = NDArray[np.float64]
CHECKED = ("hanger", "plugs", "rack", "anode-holder", "shield", "thief")  # what a job is asked for before it is run


def check(job: Job, what: str) -> None:
    """Whether a helper can be made at all, before anything is computed. Raises InputError where it cannot."""
    check_plastic(job, what)
    if what != "plugs" and not job.tank.assumed:
        hanger.rim(job, None, what)
    if what == "rack" and job.rack.suggest < 2:
        rack.positions(job, None)


def printed_in(results: Results) -> dict[str, Printed]:
    """What stands in the tank, by the name that it is asked for by."""
    found = {
        "rack": results.rack_holder,
        "anode-holder": results.anode_holder,
        "shield": results.shield,
        "thief": results.thief,
    }
    return {name: helper.made for name, helper in found.items() if helper is not None}


def check_apart(study: Study) -> None:
    """Whether all that was made for this tank stays apart. Raises InputError, one line that names two that do not."""
    results, things = study.results, []
    for name, helper in printed_in(results).items():
        things.append(apart.Standing(name, helper.points[helper.triangles]))
    if results.thief is not None:
        points, triangles = results.thief.solid
        things.append(apart.Standing("thief", points[triangles]))
    if results.hanger is None and results.rack is None:
        apart.check(things, study.job.hanger.clearance)
        return
    copies = _copies(study) if results.rack is not None and results.rack_holder is not None else None
    job = study.in_tank if copies is None else replace(study.in_tank, rack=copies)
    poses = arrange(study.surface, job, study.bodies).poses
    if (held := results.hanger) is not None:
        things += [apart.Standing("hanger", pose.of(held.points)[held.triangles]) for pose in poses]
    apart.check(things, study.job.hanger.clearance)
    if copies is not None:  # the others were made for the job's own places
        own = [thing for thing in things if thing.name not in ("rack", "hanger")]
        parts = [apart.Standing("rack", pose.of(study.surface.points)[study.surface.triangles]) for pose in poses]
        apart.check([*own, *parts], study.job.hanger.clearance)


SHADES = {  # of what was made, and the analysis that solves the field with it
    "hanger": "hanger_shade",
    "rack_holder": "rack_shade",
    "anode_holder": "anode_holder_shade",
    "shield": "shield_shade",
    "thief": "thief_shade",
    "plugs": "plugged",
}


@dataclass(frozen=True, eq=False)
class _Stand:
    """What stands in the tank: the job there, its bodies, the height of the rim, the walls of a tank from a mesh."""

    job: Job
    own: Arrangement
    rim: float
    walls: Body | None

    @classmethod
    def of(cls, study: Study, what: str, copies: Rack | None = None) -> _Stand:
        job = study.in_tank if copies is None else replace(study.in_tank, rack=copies)
        model = study.bodies.get(job.tank.file) if job.tank.shape == "mesh" else None
        rim = hanger.rim(job, None if model is None else float(model.points[:, 2].max()), what)
        own = arrange(study.surface, job, study.bodies)
        walls = next((body for body in own.bodies if body.wall), None) if model is not None else None
        return cls(job, own, rim, walls)

    def rods(self, study: Study, wires: Array | None = None) -> Rods:
        return rods.of(self.job, self.own, Grid.of(study.surface, self.job, study.bodies), self.rim, wires)


def wires(study: Study) -> Array:
    """(k, 3) m, where wires touch the part."""
    return study.contact_places[:, :3]


def rack_made(study: Study, tracer: Tracer) -> Progress[rack.RackMade]:
    """The printed rack for the copies in the tank. Raises InputError where the bath softens it or it cannot be made."""
    hanging, found, coated = study.results.hanging, study.results.rack, study.results.coat
    check_plastic(study.job, "rack")
    copies = _copies(study) if found is not None else rack.positions(study.job, None)
    if hanging is None:
        raise InputError(study.reasons["hanging"])
    stand = _Stand.of(study, "rack", copies)
    points = rack.anchors(study.surface, hanging, wires(study))
    at = np.concatenate([pose.of(points) for pose in stand.own.poses])
    diameter = coated.wire.diameter if coated else USUAL_WIRE
    held = stand.rods(study, at)
    found_rack = rack.run(study.surface, tracer, stand.job, stand.own.poses, hanging, held, (points, diameter))
    return replace(found_rack, made=(yield from _dried(study, found_rack.made, stand.own.poses[-1])))


def _copies(study: Study) -> Rack | None:
    """The computed spacing as a rack of the job; None where none was computed."""
    found = study.results.rack
    if found is None:
        return None
    places = found.chosen.positions
    return Rack(positions=tuple(map(tuple, places.tolist())), turns=(study.job.place.turn,) * len(places))


def anode_holder_made(study: Study, tracer: Tracer) -> Progress[anode_holder.AnodeHolders]:
    """The printed holders of the anode plates. Raises InputError where the bath softens them or they cannot be made."""
    check_plastic(study.job, "anode-holder")
    stand = _Stand.of(study, "anode-holder")
    assert stand.own.inside is not None
    anodes = stand.job.anodes
    if anodes is None:
        anodes = plates(study.surface, stand.own.poses, stand.job, stand.own.inside, thief_area(stand.own.bodies))
    vessel = stand.rim, stand.own.inside, stand.walls
    found = anode_holder.run(tracer, stand.job, stand.own.poses, anodes, vessel, wires(study))
    return replace(found, made=(yield from _dried(study, found.made)))


def shield_made(study: Study, tracer: Tracer) -> Progress[shield.ShieldMade]:
    """The printed shields, tried in the field. Raises InputError where the bath softens them or they cannot be made."""
    check_plastic(study.job, "shield")
    stand = _Stand.of(study, "shield")
    tank = trial.Tank(study.surface, stand.job, study.bodies)
    run = shield.run(tank, tracer, stand.own, stand.rods(study), wires(study))
    found = yield from subrange(0.0, 0.95, run)
    return replace(found, made=(yield from subrange(0.95, 1.0, _dried(study, found.made))))


def thief_made(study: Study, tracer: Tracer) -> Progress[thief.ThiefMade]:
    """The former of the thief's wire, tried in the field. Raises InputError where the bath softens it or it fails."""
    check_plastic(study.job, "thief")
    stand = _Stand.of(study, "thief")
    tank = trial.Tank(study.surface, stand.job, study.bodies)
    run = thief.run(tank, tracer, stand.own, stand.rods(study), wires(study))
    found = yield from subrange(0.0, 0.95, run)
    return replace(found, made=(yield from subrange(0.95, 1.0, _dried(study, found.made))))


def _dried(study: Study, made: Printed, pose: Pose | None = None) -> Progress[Printed]:
    return shade.dried(study.surface, study.in_tank, made, study.gas_as_hung, pose)


def rack_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the rack shades. Raises InputError where it was not made."""
    made, copies = study.results.rack_holder, _copies(study)
    return _shade(study, "rack_holder", None if made is None else made.made, copies)


def anode_holder_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the anode holders shade. Raises InputError where they were not made."""
    made = study.results.anode_holder
    return _shade(study, "anode_holder", None if made is None else made.made)


def shield_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the shield shades. Raises InputError where it was not made."""
    made = study.results.shield
    return _shade(study, "shield", None if made is None else made.made)


def thief_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the thief's former shades. Raises InputError where it was not made."""
    made = study.results.thief
    return _shade(study, "thief", None if made is None else made.made, None, () if made is None else (made.solid,))


def _shade(
    study: Study, name: str, made: Printed | None, copies: Rack | None = None, with_thief: Sequence[Solid] = ()
) -> Progress[shade.Shade]:
    """The same current with the helper in the tank. copies : where they hang, where that is not as the job says"""
    alone: Field | None = study.results.field_at_target
    if made is None or alone is None:
        raise InputError(study.reasons.get(name) or study.reasons.get("field_at_target") or LEFT_OUT)
    job = study.in_tank if copies is None else replace(study.in_tank, rack=copies)
    lost = yield from subrange(0.0, 0.05, losses(study))
    known = alone if copies is None else None
    run = shade.of_printed(study.surface, job, made, study.bodies, lost, known, with_thief)
    return (yield from subrange(0.05, 1.0, run))


def losses(study: Study) -> Progress[Losses | None]:
    """What the current loses along the coat; None while nobody knows where the wires are."""
    contacts = study.results.contacts
    if contacts is None:
        return None
    return (yield from coat.half_grown(study.surface, study.in_tank, contacts))
