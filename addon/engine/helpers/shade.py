"""What a hanger costs the part: the gas that both keep together, and the deposit that it keeps off as an insulator."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..coat.spread import Losses
from ..field import solve as field_room
from ..field.result import Field
from ..mesh import inspection
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..settings.job import Job
from ..settings.tank import Body
from ..tank.arrange import arrange
from ..trapping import gas
from .hanger import Hanger

BODY = "printed hanger"  # the file under which the solver finds it
MIN_FALL = 0.1  # of a face's deposit: what loses more is called shaded


@dataclass(frozen=True)
class Shade:
    """The current distribution with the hanger in place. thinnest_before, thinnest : m of deposit

    area : m2 that lose more than `MIN_FALL` of their deposit
    """

    thinnest_before: float
    thinnest: float
    area: float


def with_gas(surface: Surface, hanger: Hanger, found: gas.Gas, capillary_length: float) -> Progress[Hanger]:
    """The hanger with the gas that it and the part keep beyond that of the part alone, by the same rules.

    found : the gas of the part alone, the way it hangs
    """
    points = np.concatenate([surface.points, hanger.points])
    triangles = np.concatenate([surface.triangles[surface.area > 0], hanger.triangles + np.int32(len(surface.points))])
    both = yield from subrange(
        0.0, 0.4, inspection.inspect(Part.of(f"{surface.name} on its hanger", points, triangles))
    )
    kept = yield from subrange(0.4, 1.0, gas.trapped(both, found.up, capillary_length=capillary_length))
    return replace(hanger, gas=max(kept.trapped_volume - found.trapped_volume, 0.0))


def run(
    surface: Surface, job: Job, hanger: Hanger, alone: Field, bodies: Mapping[str, Part], wire_drop: Losses | None
) -> Progress[Shade]:
    """Solve again with the hanger as a shield beside each copy, and compare. alone : without it, the same settings"""
    poses = arrange(surface, job, bodies).poses
    names = [f"{BODY} {i + 1}" for i in range(len(poses))]
    parts = {
        name: Part.of(name, pose.of(hanger.points), hanger.triangles) for name, pose in zip(names, poses, strict=True)
    }
    held = replace(job, shields=(*job.shields, *(Body(file=name, name=name) for name in names)))
    found = yield from field_room.run(surface, held, meshes={**bodies, **parts}, wire_drop=wire_drop)
    fallen = found.thickness < (1.0 - MIN_FALL) * alone.thickness
    return Shade(
        alone.thickness_spread.min, found.thickness_spread.min, float(surface.plated_area @ fallen.astype(float))
    )
