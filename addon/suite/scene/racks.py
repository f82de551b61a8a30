"""Copies of the part on one rack: objects of its mesh that say so, each where and how it hangs in the tank."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.reporting.filled import filled
from ...engine.settings.tank import Place, Rack
from . import roles, settings
from .capture import meters_per_unit
from .roles import Inside

UPRIGHT = float(np.cos(np.radians(0.5)))  # smaller tilts count as upright
DIGITS = 7  # m, precision of positions in single precision


def rack(
    scene: bpy.types.Scene,
    asked: Rack,
    place: Place,
    middle: NDArray[np.float64],
    held: NDArray[np.float64],
    frame: Inside,
) -> Rack:
    """The rack that is asked for, with the part and its copies in their places; without places where there are none.

    place : of the part; middle : (3,) meters, the part's in the scene; held : (3, 3) the turn to its way up
    Raises InputError naming the object that is no copy, or is tilted or scaled against the part.
    """
    positions, turns = [place.centre], [place.turn]
    for o in roles.every(scene, roles.RACKED):
        matrix = _moved(o, original(o, scene))
        turn = matrix[:3, :3]
        about = held @ turn @ held.T
        if not np.allclose(turn @ turn.T, np.eye(3), atol=1e-4) or np.linalg.det(turn) < 0:
            raise InputError(
                filled(
                    "{name}: it has another scale than the part; a copy on the rack may only be moved and rotated",
                    name=o.name,
                )
            )
        if about[2, 2] < UPRIGHT:
            raise InputError(
                filled(
                    "{name}: it is tilted against the part; a copy on the rack may only be turned about its way up",
                    name=o.name,
                )
            )
        stands = turn @ middle + matrix[:3, 3] * meters_per_unit(scene)
        positions.append(tuple(np.round(frame.of(stands), DIGITS).tolist()))
        turns.append(float(np.round(place.turn + np.arctan2(about[1, 0], about[0, 0]), DIGITS)))
    several = len(positions) > 1
    return replace(asked, positions=tuple(positions) if several else (), turns=tuple(turns) if several else ())


def original(copy: bpy.types.Object, scene: bpy.types.Scene) -> bpy.types.Object:
    """The object of the part that a copy is of. Raises InputError where the part is not one object of the same mesh."""
    part = [item.object for item in settings.of(scene).objects if item.object] or [
        o for o in scene.objects if o.data == copy.data and not roles.of(o)
    ]
    if len(part) != 1:
        raise InputError(
            filled(
                "{name}: only a part of one object can have copies; join the part, or set its Role in Tank to None",
                name=copy.name,
            )
        )
    if part[0].data != copy.data or part[0].data is None:
        raise InputError(
            filled(
                "{name}: it is no copy of {name_2}: they must share one mesh; press Add Rack, or Alt D on the part",
                name=copy.name,
                name_2=part[0].name,
            )
        )
    return part[0]


def _moved(copy: Any, part: Any) -> NDArray[np.float64]:
    """(4, 4) scene units, what brings the part to its copy."""
    return np.array(copy.matrix_world, dtype=np.float64) @ np.linalg.inv(np.array(part.matrix_world, dtype=np.float64))
