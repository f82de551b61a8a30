"""The cost of a helper: gas that it traps together with the part, and deposit that it shades as an insulator."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..coat.spread import Losses
from ..field import solve as field_room
from ..field.result import Field
from ..linalg.labels import connected
from ..mesh import inspection
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..settings.job import Job
from ..settings.tank import Body
from ..tank.arrange import arrange
from ..tank.body import Pose
from ..trapping import gas
from . import trial
from .hanger import Hanger
from .printed import Printed
from .trial import Solid

BODY = "printed hanger"  # the file under which the solver finds it
MIN_FALL = 0.1  # of a face's deposit: a face that loses more counts as shaded


@dataclass(frozen=True)
class Shade:
    """The current distribution with the hanger in place. thinnest_before, thinnest : m of deposit

    area : m2 that lose more than `MIN_FALL` of their deposit
    thief_current : A that a thief takes
    """

    thinnest_before: float
    thinnest: float
    area: float
    thief_current: float = 0.0


@dataclass(frozen=True)
class Together:
    """The current distribution with all helpers in place at once. thinnest_before, thinnest : m of deposit

    names : what was in place; area : m2 that lose more than `MIN_FALL` of their deposit
    current_before, current : A of all cathodes; thief_current : A of those that thieves take
    even_before, even : thin end over thick end (`trial.Evenness`)
    """

    names: tuple[str, ...]
    thinnest_before: float
    thinnest: float
    area: float
    current_before: float
    current: float
    thief_current: float
    even_before: float
    even: float


def with_gas(surface: Surface, hanger: Hanger, bare_gas: gas.Gas, capillary_length: float) -> Progress[Hanger]:
    """The hanger with the gas that it and the part keep beyond that of the part alone, by the same rules.

    bare_gas : the gas of the part alone, the way it hangs
    """
    more = yield from gas_beyond(surface, (hanger.points, hanger.triangles), bare_gas, capillary_length)
    return replace(hanger, gas=more)


def dried(
    surface: Surface, job: Job, helper: Printed, bare_gas: gas.Gas | None, pose: Pose | None = None
) -> Progress[Printed]:
    """A helper in the tank with the gas that it and the part keep together.

    bare_gas : of the part alone, the way it hangs

    pose : of the copy that it is beside, the first one's where it is left out
    """
    if bare_gas is None or helper.points[:, 2].min() >= job.tank.level:
        return helper
    place = helper.pose if pose is None else pose
    own = ((helper.points - place.shift) @ place.turn, helper.triangles)
    more = yield from gas_beyond(surface, own, bare_gas, job.bath.capillary_length)
    return replace(helper, gas=more)


def gas_beyond(surface: Surface, solid: Solid, bare_gas: gas.Gas, capillary_length: float) -> Progress[float]:
    """m3 of gas that a body and the part keep together beyond that of the part alone, both in the part's axes."""
    points = np.concatenate([surface.points, solid[0]])
    triangles = np.concatenate([surface.triangles[surface.area > 0], solid[1] + np.int32(len(surface.points))])
    both = yield from subrange(
        0.0, 0.4, inspection.inspect(Part.of(f"{surface.name} and what is printed", points, triangles))
    )
    total_gas = yield from subrange(0.4, 1.0, gas.trapped(both, bare_gas.up, capillary_length=capillary_length))
    return max(total_gas.trapped_volume - bare_gas.trapped_volume, 0.0)


def of_printed(
    surface: Surface,
    job: Job,
    helper: Printed,
    bodies: Mapping[str, Part],
    wire_drop: Losses | None,
    alone: Field | None,
    thief: Sequence[Solid] = (),
) -> Progress[Shade]:
    """The cost of a helper in the tank, each of its bodies an insulator; none where it is wholly above the bath.

    alone : the field of the same job without it, None to be solved
    thief : bodies on the part's side of the supply that come with it
    """
    solids = bodies_of((helper.points, helper.triangles))
    if alone is None:
        alone = yield from subrange(0.0, 0.5, field_room.run(surface, job, meshes=bodies, wire_drop=wire_drop))
    thinnest = alone.thickness_spread.min
    if helper.points[:, 2].min() >= job.tank.level and not thief:
        return Shade(thinnest, thinnest, 0.0)
    held, meshes = trial.beside(job, bodies, solids, thief)
    field = yield from subrange(0.5, 1.0, field_room.run(surface, held, meshes=meshes, wire_drop=wire_drop))
    fallen = field.thickness < (1.0 - MIN_FALL) * alone.thickness
    area = float(surface.plated_area @ fallen.astype(float))
    return Shade(thinnest, field.thickness_spread.min, area, field.thief_current)


def bodies_of(solid: Solid) -> list[Solid]:
    """The separate bodies of a mesh; bodies share no points."""
    points, triangles = solid
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]]])
    label, count = connected(len(points), *edges.T)
    bodies = []
    for k in range(count):
        used, place = np.unique(triangles[label[triangles[:, 0]] == k], return_inverse=True)
        bodies.append((points[used], place.reshape(-1, 3).astype(np.int32)))
    return bodies


def together(
    surface: Surface,
    job: Job,
    stands: tuple[Sequence[Solid], Sequence[Solid]],
    bodies: Mapping[str, Part],
    wire_drop: Losses | None,
    alone: Field,
) -> Progress[Together]:
    """Solve with everything in place at once, and compare. stands : insulators, and bodies on the part's side, tank

    surface : of the part, what plugs shut off masked; with masks on, their triangles follow those of the part
    alone : the field of the same job without any helper or plug
    """
    held, meshes = trial.beside(job, bodies, [body for solid in stands[0] for body in bodies_of(solid)], stands[1])
    field = yield from field_room.run(surface, held, meshes=meshes, wire_drop=wire_drop)
    count = len(alone.thickness)
    fallen = field.thickness[:count] < (1.0 - MIN_FALL) * alone.thickness
    return Together(
        (),
        alone.thickness_spread.min,
        field.thickness_spread.min,
        float(surface.plated_area[:count] @ fallen.astype(float)),
        alone.current,
        field.current,
        field.thief_current,
        trial.Evenness.of(alone).thin,
        trial.Evenness.of(field).thin,
    )


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
    field = yield from field_room.run(surface, held, meshes={**bodies, **parts}, wire_drop=wire_drop)
    fallen = field.thickness < (1.0 - MIN_FALL) * alone.thickness
    return Shade(
        alone.thickness_spread.min, field.thickness_spread.min, float(surface.plated_area @ fallen.astype(float))
    )
