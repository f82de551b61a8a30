"""The effect of printed masks in the bath: the part with its masks as one body, for gas and for the field.

A mask touches the part, so it is not a separate body: no bath flows between the two, and panels a fraction of a
millimeter apart would create currents that do not exist. The covered faces are left out, and the mask's skin is
joined to the border around them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..field import solve as field_room
from ..field.coupling import Coat
from ..field.result import Field
from ..geometry.frames import basis
from ..mesh import inspection
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..settings.job import Job
from ..settings.tank import Rack
from ..tank.anodes import plates, thief_area
from ..tank.arrange import arrange
from ..trapping import gas
from .lattice import Array
from .mask import Mask, Masks
from .shade import MIN_FALL, Shade
from .turned import SIDES, turned

Triangles = NDArray[np.int32]


def with_masks(surface: Surface, masks: Masks) -> Progress[Surface]:
    """The part with its masks on. Its triangles are those of the part, row for row, the covered ones of no area, and
    then those of the masks' skins, which are masked."""
    triangles = surface.triangles.copy()
    covered = np.logical_or.reduce([mask.faces for mask in masks.masks])
    triangles[covered] = triangles[covered][:, :1]
    points, skins = [surface.points], [triangles]
    count = len(surface.points)
    for mask in masks.masks:
        more, skin = _skin(surface, mask, count)
        points.append(more)
        skins.append(skin)
        count += len(more)
    all_triangles = np.concatenate(skins)
    masked, show = np.ones(len(all_triangles), dtype=bool), np.zeros(len(all_triangles), dtype=bool)
    masked[: len(triangles)], show[: len(triangles)] = ~surface.plated, surface.show
    whole = Part.of(surface.name, np.concatenate(points), all_triangles, masked=masked, show=show)
    return (yield from inspection.inspect(whole))


def _skin(surface: Surface, mask: Mask, first: int) -> tuple[Array, Triangles]:
    """Points (k, 3) of a mask's skin, and its triangles from the line around what it covers to its end.

    first : number of the first of the points
    """
    points, triangles = turned(mask.place, mask.axis, mask.rings)
    closing = triangles[SIDES:]  # without the disk that closes its first ring
    loop = mask.border.loop
    u, v = basis(mask.axis)
    away = surface.points[loop] - mask.place
    angle = np.unwrap(np.arctan2(away @ v, away @ u))
    if angle[-1] < angle[0]:
        loop, angle = loop[::-1], angle[::-1]
    turn = np.round(angle[0] / (2 * np.pi / SIDES))
    ring = first + (np.arange(SIDES) + int(turn)) % SIDES
    return points, np.concatenate([closing + np.int32(first), _strip(loop, angle, ring, turn)]).astype(np.int32)


def _strip(loop: NDArray[np.intp], angle: Array, ring: NDArray[np.intp], turn: float) -> NDArray[np.intp]:
    """(k, 3) triangles between a line (n,) at rising angles and the points (SIDES,) of the ring that comes next."""
    ahead = np.append(angle[1:], angle[0] + 2 * np.pi)
    corner = (turn + 1 + np.arange(SIDES)) * (2 * np.pi / SIDES)
    steps = np.concatenate([ahead, corner])
    of_ring = np.repeat([False, True], [len(loop), SIDES])[np.argsort(steps, kind="stable")]
    i = np.concatenate([[0], np.cumsum(~of_ring)])[:-1]
    j = np.concatenate([[0], np.cumsum(of_ring)])[:-1]
    first, second = loop[i % len(loop)], ring[j % SIDES]
    third = np.where(of_ring, ring[(j + 1) % SIDES], loop[(i + 1) % len(loop)])
    return np.stack([first, third, second], axis=1)


def dried(surface: Surface, job: Job, masks: Masks, bare: gas.Gas | None) -> Progress[Masks]:
    """The masks with the gas that they and the part keep beyond the part alone. bare : of the part alone, as it
    hangs"""
    if bare is None:
        return masks
    both = yield from subrange(0.0, 0.4, with_masks(surface, masks))
    masked_gas = yield from subrange(0.4, 1.0, gas.trapped(both, bare.up, capillary_length=job.bath.capillary_length))
    return replace(masks, gas=max(masked_gas.trapped_volume - bare.trapped_volume, 0.0))


def placed(surface: Surface, both: Surface, job: Job, bodies: Mapping[str, Part]) -> Job:
    """The job in which the part with its masks on hangs where it hangs without them, between the same anodes."""
    own, other = arrange(surface, job, bodies), arrange(both, job, bodies)
    places = [
        pose.middle + pose.shift - other_pose.shift for pose, other_pose in zip(own.poses, other.poses, strict=True)
    ]
    turns = job.rack.turns or (job.place.turn,) * len(places)
    rack = Rack(positions=tuple(map(tuple, np.array(places).tolist())), turns=turns)
    if job.anodes is not None or own.inside is None:
        return replace(job, rack=rack)
    return replace(job, rack=rack, anodes=plates(surface, own.poses, job, own.inside, thief_area(own.bodies)))


def run(
    surface: Surface, both: Surface, job: Job, alone: Field, bodies: Mapping[str, Part], wire_drop: Coat | None
) -> Progress[Shade]:
    """Solve again with the masks on each copy, and compare. alone : masked faces as they are, the same settings

    both : of `with_masks`; wire_drop : of its faces
    """
    held = placed(surface, both, job, bodies)
    covered = yield from field_room.run(both, held, meshes=bodies, wire_drop=wire_drop)
    fallen = covered.thickness[: len(alone.thickness)] < (1.0 - MIN_FALL) * alone.thickness
    area = float(surface.plated_area @ fallen.astype(float))
    return Shade(alone.thickness_spread.min, covered.thickness_spread.min, area)
