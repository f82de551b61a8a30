"""Printed helpers that stand in one tank: the job with its copies, each helper, and the rods that carry them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..helpers.apart import Bar, Standing
from ..helpers.hanger import Hanger
from ..helpers.lattice import Array
from ..helpers.printed import Printed
from ..helpers.trial import Solid
from ..settings.job import Job
from ..tank.arrange import Arrangement, arrange
from ..tank.body import Pose
from .kinds import KINDS, made
from .results import Results
from .study import Study

STANDING = {kind.option for kind in KINDS if not kind.on_part} - {"hanger"}  # made in the tank's axes
MIN_LEVEL = 1e-6  # component of a rod's direction along x or y, from which it crosses the sides there


def job_of(study: Study) -> Job:
    """The job in its tank, with the copies that the printed rack is made for where there is one."""
    hung = None if study.results.rack_holder is None else study.spaced
    return study.in_tank if hung is None else replace(study.in_tank, rack=hung)


def arranged(study: Study) -> Arrangement:
    """The arrangement without printed helpers."""
    return arrange(study.surface, job_of(study), study.bodies)


def printed_in(results: Results) -> dict[str, Printed]:
    """The helpers that stand in the tank, by option name."""
    return {kind.option: getattr(results, kind.analysis).printed for kind in made(results) if kind.option in STANDING}


def solids(study: Study, own: Arrangement) -> Iterator[tuple[str, Solid]]:
    """Every printed helper in the tank but plugs and masks, by name; hangers one for each copy."""
    for name, helper in printed_in(study.results).items():
        yield name, (helper.points, helper.triangles)
    if (held := study.results.hanger) is not None:
        for pose in own.poses:
            yield "hanger", (pose.of(held.points), held.triangles)


def helper_bodies(study: Study, own: Arrangement) -> list[Standing]:
    """The same including masks and the thief's wire, for clearances."""
    standing = [Standing(name, points[triangles]) for name, (points, triangles) in solids(study, own)]
    if (masks := study.results.masks) is not None:
        standing += [Standing("masks", pose.of(masks.corners)) for pose in own.poses]
    if study.results.thief is not None:
        points, triangles = study.results.thief.solid
        standing.append(Standing("thief", points[triangles]))
    return standing


def bars(study: Study, own: Arrangement) -> list[Bar]:
    """The rods that carry the helpers."""
    results = study.results
    holders = {"rack": results.rack_holder, "shield": results.shield, "thief": results.thief}
    bars = [
        Bar(name, start, end, holder.on.rod)
        for name, holder in holders.items()
        if holder is not None
        for start, end in holder.on.lines()
    ]
    if results.hanger is not None and own.inside is not None:
        bars += [_hanger_bar(results.hanger, pose, own.inside, study.job.hanger.rim) for pose in own.poses]
    return bars


def _hanger_bar(hanger: Hanger, pose: Pose, inside: Array, rim: float) -> Bar:
    """The hanger's rod, from one side of the tank over the other."""
    at, way = pose.of(hanger.rod_at), pose.turn @ hanger.flat
    level = np.abs(way[:2]) > MIN_LEVEL
    sides = np.sort((inside[:, :2][:, level] - at[:2][level]) / way[:2][level], axis=0)
    low, high = float(sides[0].max()), float(sides[1].min())
    return Bar("hanger", at + (low - rim) * way, at + (high + rim) * way, hanger.rod)
