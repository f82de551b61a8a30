"""Trials of bodies that may even the deposit out, at a preview's resolution and without the coat's losses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..field import solve as field_room
from ..field.result import Field
from ..filled import filled
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress
from ..settings.job import Job
from ..settings.tank import Body
from ..tank.arrange import Arrangement
from . import apart
from .apart import Standing
from .lattice import Array
from .rods import BESIDE_WALL, Rods

PANELS = 3000
ALIKE = 0.05  # of the evenness: a smaller gain is not significant at this resolution

Solid = tuple[Array, NDArray[np.int32]]  # points in tank coordinates, triangles


@dataclass(frozen=True)
class Evenness:
    """thin : what all but the thinnest 5 % of the area have, over what all but the thickest 5 % stay below

    thief_share : of the current, that the thief takes
    """

    thin: float
    thief_share: float = 0.0

    def times(self, before: Evenness) -> float:
        """The factor of the supply's current at which the parts get as much as before."""
        return (1.0 - before.thief_share) / (1.0 - self.thief_share)

    @classmethod
    def of(cls, field: Field) -> Evenness:
        """Of a field: its thin over its thick end, and the share of the current that thieves take."""
        spread = field.thickness_spread
        whole = field.thief_current + sum(field.part_currents)
        return cls(max(spread.p5, 0.0) / spread.p95, field.thief_current / whole)


@dataclass(frozen=True, eq=False)
class Tank:
    """The tank in which bodies are tried."""

    surface: Surface
    job: Job
    bodies: Mapping[str, Part]

    def solved(self, shields: Sequence[Solid] = (), thieves: Sequence[Solid] = ()) -> Progress[Evenness]:
        """The field with these bodies added to the tank. Raises InputError where they cannot stand there."""
        few = replace(self.job.effort, panels=min(PANELS, self.job.effort.panels))
        job, meshes = beside(replace(self.job, effort=few), self.bodies, shields, thieves)
        field = yield from field_room.run(self.surface, job, meshes=meshes)
        return Evenness.of(field)


@dataclass(frozen=True, eq=False)
class Site:
    """Where a helper on two rods is to stand. own : what the tank holds; wires : (k, 3) where wires touch the part, in
    its axes; others : what is printed for the same tank, of which it keeps clear"""

    tank: Tank
    tracer: Tracer
    own: Arrangement
    rods: Rods
    wires: Array
    others: tuple[Standing, ...] = ()

    @cached_property
    def outline(self) -> tuple[Array, Array]:
        """(3,) lowest and highest corner of all copies, in the axes of the rods."""
        used = self.tank.surface.points[np.unique(self.tank.surface.triangles)]
        points = np.concatenate([self.rods.own(pose.of(used)) for pose in self.own.poses])
        return points.min(axis=0), points.max(axis=0)

    def check_inside(self, name: str, points: Array) -> None:
        """Raises InputError where points (k, 3) of the tank come too near to the walls that bear the rods."""
        low, high = (end + sign * self.tank.job.hanger.rim for end, sign in zip(self.rods.ends, (1, -1), strict=True))
        u = self.rods.own(points)[:, 0]
        if u.min() < low + BESIDE_WALL or u.max() > high - BESIDE_WALL:
            raise InputError(filled("{name}: beside what else is printed there is no room in the tank", name=name))

    def check_free(self, name: str, solids: Sequence[Solid]) -> None:
        """Raises InputError where these come nearer to another helper than the clearance."""
        for points, triangles in solids:
            for other in self.others:
                apart.check([Standing(name, points[triangles]), other], self.tank.job.hanger.clearance)


def beside(
    job: Job, bodies: Mapping[str, Part], shields: Sequence[Solid] = (), thieves: Sequence[Solid] = ()
) -> tuple[Job, dict[str, Part]]:
    """The job and its models with further shields and thieves; what is wholly above the bath is left out."""
    named: list[list[Body]] = []
    parts = dict(bodies)
    for label, solids in (("printed shield", shields), ("printed thief", thieves)):
        named.append([])
        for points, triangles in solids:
            if points[:, 2].min() >= job.tank.level:
                continue
            name = f"{label} {len(named[-1]) + 1}"
            parts[name] = Part.of(name, points, triangles)
            named[-1].append(Body(file=name, name=name))
    return replace(job, shields=(*job.shields, *named[0]), thieves=(*job.thieves, *named[1])), parts


def none(helper: str, why: str) -> InputError:
    """The error to raise where no trial can stand in the tank. why : the last one cannot"""
    return InputError(filled("{what}: none that was tried will do: {why}", what=helper, why=why))


def better(now: float, best: float, helper: str) -> None:
    """Raises InputError where the best trial evens the deposit out by less than is significant."""
    if best < (1.0 + ALIKE) * now:
        raise InputError(
            filled(
                "{what}: none that was tried evens the deposit out by {least} % or more: the thin "
                "end has {now} % of the thick end without it, and {found} % with the best",
                what=helper,
                least=f"{100 * ALIKE:.0f}",
                now=f"{100 * now:.0f}",
                found=f"{100 * best:.0f}",
            )
        )
