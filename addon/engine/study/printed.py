"""Analyses of the helpers that are printed for the tank: rack, anode holders, shields, thief."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..coat import study as coat
from ..coat.spread import Losses
from ..errors import InputError
from ..field.rack import Grid
from ..field.result import Field
from ..helpers import anode_holder, placement, rack, rods, shade, shield, thief, trial
from ..helpers.apart import Bar, Standing
from ..helpers.printed import USUAL_WIRE, Printed, check_plastic
from ..helpers.rods import OnRods, Rods
from ..helpers.trial import Solid
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, subrange
from ..settings.job import Job
from ..settings.tank import Anode, Rack
from ..tank.anodes import plates, thief_area
from ..tank.arrange import Arrangement, arrange
from ..tank.body import Body, Pose
from .kinds import BY_OPTION
from .stands import bars, helper_bodies, job_of
from .study import LEFT_OUT, Study

Array = NDArray[np.float64]


def check(job: Job, helper: str) -> None:
    """Check, before anything is computed, that a helper can be made. Raises InputError where it cannot."""
    check_plastic(job, helper)
    if not BY_OPTION[helper].on_part and not job.tank.assumed:
        placement.rim(job, None, helper)
    if helper == "rack" and job.rack.suggest < 2:
        rack.positions(job, None)


def settled(job: Job, asked: Collection[str]) -> Job:
    """The job, with the hanger's rod laid on the two rods where another helper that is asked for needs these."""
    if "hanger" not in asked or not any(BY_OPTION[option].on_rods for option in asked if option in BY_OPTION):
        return job
    return replace(job, hanger=replace(job.hanger, on_rods=True))


@dataclass(frozen=True, eq=False)
class _Stand:
    """Inputs of helpers in the tank: job, bodies, height of the rim, and walls of a tank from a mesh."""

    job: Job
    own: Arrangement
    rim: float
    walls: Body | None

    @classmethod
    def of(cls, study: Study, helper: str, hung: Rack | None = None) -> _Stand:
        job = job_of(study) if hung is None else replace(study.in_tank, rack=hung)
        model = study.bodies.get(job.tank.file) if job.tank.shape == "mesh" else None
        rim = placement.rim(job, None if model is None else float(model.points[:, 2].max()), helper)
        own = arrange(study.surface, job, study.bodies)
        placement.check_room(study.surface, job, own, helper)
        walls = next((body for body in own.bodies if body.wall), None) if model is not None else None
        return cls(job, own, rim, walls)

    def anodes(self, study: Study) -> Sequence[Anode]:
        """The anodes of the job, or the two assumed plates."""
        if self.job.anodes is not None:
            return self.job.anodes
        assert self.own.inside is not None
        return plates(study.surface, self.own.poses, self.job, self.own.inside, thief_area(self.own.bodies))

    def rods(self, study: Study, wires: Array | None = None) -> Rods:
        """The rods across the tank, off wires, and off holders of anodes where there is room."""
        strips = anode_holder.strips(self.anodes(study))
        grid = Grid.of(study.surface, self.job, study.bodies)
        return rods.of(self.job, self.own, grid, self.rim, wires, strips)

    def site(self, study: Study, tracer: Tracer) -> trial.Site:
        """Where shields and thief are to stand, clear of the helpers that were made before."""
        tank = trial.Tank(study.surface, self.job, study.bodies)
        held = self.rods(study, self.hung(study))
        others = [
            *helper_bodies(study, self.own),
            *(Standing(bar.name, bar.corners) for bar in _hangers(study, self.own)),
        ]
        return trial.Site(tank, tracer, self.own, held, wires(study), tuple(others))

    def hung(self, study: Study) -> Array:
        """(k, 3) tank, where wires hold the copies."""
        hanging = study.results.hanging
        points = wires(study) if hanging is None else rack.anchors(study.surface, hanging, wires(study))
        return np.concatenate([pose.of(points) for pose in self.own.poses])


def _hangers(study: Study, own: Arrangement) -> list[Bar]:
    """The rods of the hangers."""
    return [bar for bar in bars(study, own) if bar.bears == "hanger"]


def wires(study: Study) -> Array:
    """(k, 3) m, where wires touch the part."""
    return study.contact_places[:, :3]


def rack_made(study: Study, tracer: Tracer) -> Progress[rack.RackMade]:
    """The printed rack for the copies in the tank. Raises InputError where the bath softens it or it cannot be made."""
    hanging, coated = study.results.hanging, study.results.coat
    check_plastic(study.job, "rack")
    hung = rack.positions(study.job, study.spaced)
    if hanging is None:
        raise InputError(study.reasons["hanging"])
    stand = _Stand.of(study, "rack", hung)
    points = rack.anchors(study.surface, hanging, wires(study))
    diameter = coated.wire.diameter if coated else USUAL_WIRE
    held = stand.rods(study, stand.hung(study))
    holder = rack.run(study.surface, tracer, stand.job, stand.own.poses, hanging, held, (points, diameter))
    return replace(holder, printed=(yield from _dried(study, holder.printed, stand.own.poses[-1])))


def anode_holder_made(study: Study, tracer: Tracer) -> Progress[anode_holder.AnodeHolders]:
    """The printed holders of the anode plates. Raises InputError where the bath softens them or they cannot be made."""
    check_plastic(study.job, "anode-holder")
    stand = _Stand.of(study, "anode-holder")
    assert stand.own.inside is not None
    vessel = stand.rim, stand.own.inside, stand.walls
    holders = anode_holder.run(tracer, stand.job, stand.own.poses, stand.anodes(study), vessel, wires(study))
    return replace(holders, printed=(yield from _dried(study, holders.printed)))


def shield_made(study: Study, tracer: Tracer) -> Progress[shield.ShieldMade]:
    """The printed shields, tried in the field. Raises InputError where the bath softens them or they cannot be made."""
    check_plastic(study.job, "shield")
    site = _Stand.of(study, "shield").site(study, tracer)
    hung_shield = yield from subrange(0.0, 0.95, shield.run(site))
    return replace(hung_shield, printed=(yield from subrange(0.95, 1.0, _dried(study, hung_shield.printed))))


def thief_made(study: Study, tracer: Tracer) -> Progress[thief.ThiefMade]:
    """The former of the thief's wire, tried in the field. Raises InputError where the bath softens it or it fails."""
    check_plastic(study.job, "thief")
    site = _Stand.of(study, "thief").site(study, tracer)
    hung_thief = yield from subrange(0.0, 0.95, thief.run(site))
    return replace(hung_thief, printed=(yield from subrange(0.95, 1.0, _dried(study, hung_thief.printed))))


def _dried(study: Study, helper: Printed, pose: Pose | None = None) -> Progress[Printed]:
    return shade.dried(study.surface, study.in_tank, helper, study.gas_as_hung, pose)


def rack_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the rack shades. Raises InputError where it was not made."""
    return _shade(study, "rack_holder", study.results.rack_holder)


def anode_holder_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the anode holders shade. Raises InputError where they were not made."""
    return _shade(study, "anode_holder", study.results.anode_holder)


def shield_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the shield shades. Raises InputError where it was not made."""
    return _shade(study, "shield", study.results.shield)


def thief_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the thief's former shades. Raises InputError where it was not made."""
    thief = study.results.thief
    return _shade(study, "thief", thief, () if thief is None else (thief.solid,))


def _shade(
    study: Study, name: str, helper: OnRods | anode_holder.AnodeHolders | None, thief: Sequence[Solid] = ()
) -> Progress[shade.Shade]:
    """The same current with the helper in the tank."""
    alone: Field | None = study.results.field_at_target
    if helper is None or alone is None:
        raise InputError(study.reasons.get(name) or study.reasons.get("field_at_target") or LEFT_OUT)
    job = job_of(study)
    lost = yield from subrange(0.0, 0.05, losses(study))
    known = alone if job.rack == study.in_tank.rack else None
    run = shade.of_printed(study.surface, job, helper.printed, study.bodies, lost, known, thief)
    return (yield from subrange(0.05, 1.0, run))


def losses(study: Study, surface: Surface | None = None) -> Progress[Losses | None]:
    """Voltage lost along the coat; None while the places of the wires are not known.

    surface : the part with masks on, whose first triangles are those of the part; None: the part alone
    """
    contacts = study.results.contacts
    if contacts is None:
        return None
    if surface is None:
        return (yield from coat.half_grown(study.surface, study.in_tank, contacts))
    return (yield from coat.half_grown(surface, study.in_tank, replace(contacts, checked=None)))
