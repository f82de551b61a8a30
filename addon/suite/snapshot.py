"""A part as it was at one moment: which objects it is, what they were like and where they stood."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import bpy
import numpy as np
from numpy.typing import NDArray

from ..engine.errors import InputError
from ..engine.reporting.filled import filled
from ..engine.study import Cache, Study
from . import versions
from .scene import shape
from .scene.capture import Capture, of_objects

FLAT_CONDITION = 1e6  # of the matrix of an object that is scaled to nothing, and so no part of the part


@dataclass(frozen=True, eq=False)
class Snapshot:
    """A part as it was at one moment: what a study is computed from, and what its objects are compared with later.

    identity : session ids of the objects; form : what they were like; stood : (k, 4, 4) where, scene units
    meters : what one unit of the scene meant; seen : which objects were not hidden
    instances : whether some of it stands in other objects' data
    cache : what may be used again
    """

    identity: tuple[int, ...]
    capture: Capture
    form: shape.Shape
    stood: NDArray[np.float64]
    meters: float
    seen: tuple[bool, ...]
    instances: bool
    cache: Cache


def still_there(context: bpy.types.Context, snapshot: Snapshot) -> list[bpy.types.Object]:
    """The objects that the part was taken from. Raises InputError where one of them is gone."""
    present = shape.by_id(context.view_layer)
    if not present.keys() >= set(snapshot.identity):
        raise InputError(
            filled(
                "{name}: one of its objects was removed during the calculation; set the part again",
                name=snapshot.capture.part.name,
            )
        )
    return [present[identity] for identity in snapshot.identity]


def differs(context: bpy.types.Context, objects: list[bpy.types.Object], snapshot: Snapshot, study: Study) -> bool:
    """Whether what the objects are instances of is another now."""
    try:
        now = of_objects(objects, context, snapshot.meters, study.job.part.mask, study.job.part.show)
    except InputError:
        return True
    return now.part.fingerprint != study.part.fingerprint


def is_whole(placement: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(...,) whether a placement (..., 4, 4) is not scaled to nothing."""
    return np.linalg.cond(placement[..., :3, :3]) < FLAT_CONDITION


def identity_of(objects: Iterable[bpy.types.Object]) -> tuple[int, ...]:
    """The session ids of these objects, in order: which part they are."""
    return tuple(sorted(versions.session_id(o) for o in objects))


def objects_of(scene: bpy.types.Scene, identity: tuple[int, ...]) -> list[bpy.types.Object]:
    """The objects of a part that are in a scene still."""
    return [o for o in scene.objects if versions.session_id(o) in identity]
