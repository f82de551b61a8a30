"""The studies of this session: which objects each is about, and whether it still answers for them.

Nothing of bpy is kept: objects are known by their session ids, and a study is plain arrays. Handlers only
mark; panels read. All is forgotten when another file is loaded.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..engine import study as studies
from ..engine.analyses import Study
from ..engine.errors import InputError
from ..engine.settings.job import Job
from . import handlers, settings, versions
from .scene import roles, shape, stage
from .scene.capture import Capture, meters_per_unit, of_objects

QUICK_PANELS = 2000
FLAT = 1e6  # condition of the matrix of an object that is scaled to nothing, and so no part of the part
MOST = 8  # parts whose studies are kept; the oldest goes first


@dataclass(frozen=True, eq=False)
class Taken:
    """A part as it was at one moment: what a study is computed from, and what its objects are compared with later.

    identity : session ids of the objects; form : what they were like; stood : (k, 4, 4) where, scene units
    meters : what one unit of the scene meant; seen : which objects were not hidden
    instances : whether some of it stands in other objects' data
    results : engine key -> result, what may be used again
    """

    identity: tuple[int, ...]
    capture: Capture
    form: shape.Shape
    stood: NDArray[np.float64]
    meters: float
    seen: tuple[bool, ...]
    instances: bool
    results: dict[str, Any]


@dataclass(eq=False)
class Kept:
    """One part's study, what it was taken from, and what may be used again."""

    taken: Taken
    study: Study
    results: dict[str, Any] = field(default_factory=dict)  # engine key -> result
    moved: bool = False  # an object has another shape now, or is gone
    reshaped: bool = False  # ... by more than being moved, turned or scaled
    _state: tuple[Any, ...] = ()  # the settings and the things in the tank that `_stale` holds for
    _stale: frozenset[str] = frozenset()
    _fault: str = ""
    _quick: bool = False

    @property
    def capture(self) -> Capture:
        return self.taken.capture

    @property
    def meters(self) -> float:
        """What one unit of the scene meant."""
        return self.taken.meters

    def stale(self, scene: bpy.types.Scene) -> frozenset[str]:
        """The analyses that no longer answer for the objects and the settings as they are."""
        hidden = self.taken.seen != shape.visible(
            objects(bpy.context), bpy.context.view_layer
        )  # the eye sends no update of its own
        if self.moved or hidden or self.meters != meters_per_unit(scene):
            return frozenset(self.study.results)
        self._look(scene)
        return self._stale

    def fault(self, scene: bpy.types.Scene) -> str:
        """What is wrong with the settings, or nothing."""
        self._look(scene)
        return self._fault

    def quick(self, scene: bpy.types.Scene) -> bool:
        """Whether the current distribution is the quick look, else as the settings ask."""
        self._look(scene)
        return self._quick

    def _look(self, scene: bpy.types.Scene) -> None:
        found, part = objects(bpy.context), self.study.part
        carried = _carried(self, found) * self.meters
        state = settings.table(scene), roles.signature(scene), *(carried.tolist() if roles.every(scene) else ())
        if state == self._state:
            return
        self._state, self._stale = state, frozenset(self.study.results)
        self._fault, self._quick = "", False
        try:
            job, bodies = stage.staged(bpy.context, settings.job_of(scene), part, carried)
        except InputError as fault:
            self._fault = str(fault)
            return
        stale = frozenset(studies.stale(self.study, part, job, bodies))
        self._quick = "field" in stale and "field" not in studies.stale(self.study, part, quick(job), bodies)
        self._stale = stale - {"field"} if self._quick else stale


def quick(job: Job) -> Job:
    """The job with few panels, for a first look at the current distribution."""
    return replace(job, effort=replace(job.effort, panels=min(job.effort.panels, QUICK_PANELS)))


_kept: dict[tuple[int, ...], Kept] = {}


def objects(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The objects that make up the part: those that were chosen for it, or else the selected ones."""
    chosen = [item.object for item in settings.of(context.scene).objects if item.object]
    chosen = [o for o in chosen if o.name in context.view_layer.objects and not roles.of(o)]
    if chosen:
        return chosen
    picked = [o for o in context.selected_objects if not roles.of(o)]
    active = context.active_object if not roles.of(context.active_object) else None
    return picked or ([active] if active and active.mode != "OBJECT" else [])


def find(context: bpy.types.Context) -> Kept | None:
    """What is kept about the part."""
    return _kept.get(_identity(objects(context)))


def choose(context: bpy.types.Context, found: Iterable[bpy.types.Object]) -> None:
    """Make these objects the part."""
    items, found = settings.of(context.scene).objects, list(found)
    if {item.object for item in items} != set(found):
        items.clear()
        for o in found:
            items.add().object = o


def captured(context: bpy.types.Context, found: list[bpy.types.Object], job: Job) -> Taken:
    """These objects as a part, as they are at this moment; the capture at hand if it still holds."""
    identity, meters = _identity(found), meters_per_unit(context.scene)
    kept = _kept.get(identity)
    context.view_layer.update()
    form = shape.of(found, context.evaluated_depsgraph_get())
    if kept is not None and kept.meters == meters and not kept.taken.instances and form == kept.taken.form:
        return replace(kept.taken, seen=shape.visible(found, context.view_layer), results=kept.results)
    caught = of_objects(found, context, meters, job.part.mask, job.part.show)
    return Taken(
        identity,
        caught,
        shape.of(found, context.evaluated_depsgraph_get()),  # Edit mode has written its mesh meanwhile
        shape.stands(found),
        meters,
        shape.visible(found, context.view_layer),
        any(o.is_instancer for o in found),
        kept.results if kept is not None else {},
    )


def still_there(context: bpy.types.Context, taken: Taken) -> list[bpy.types.Object]:
    """The objects that the part was taken from. Raises InputError where one of them is gone."""
    there = shape.by_id(context.view_layer)
    if not there.keys() >= set(taken.identity):
        raise InputError(
            f"{taken.capture.part.name}: one of its objects was removed while it was computed; choose the part again"
        )
    return [there[one] for one in taken.identity]


def keep(context: bpy.types.Context, taken: Taken, study: Study) -> Kept:
    """Keep a study; results of the same part that it does not have yet are carried over, stale or not.

    What was done to the objects since they were taken counts as done afterwards. Raises InputError, and keeps nothing,
    where one of them is gone.
    """
    found = still_there(context, taken)
    before = _kept.pop(taken.identity, None)
    if before is not None and before.study.part.fingerprint == study.part.fingerprint:
        study = _joined(before.study, study)
    used = set(study.keys.values())
    kept = Kept(taken, study, {key: result for key, result in taken.results.items() if key in used})
    _mark(kept, found, context.evaluated_depsgraph_get())
    if taken.instances and not kept.moved:
        kept.moved = kept.reshaped = _differs(context, found, taken, study)
    _kept[taken.identity] = kept
    while len(_kept) > MOST:
        del _kept[next(iter(_kept))]
    return kept


def _differs(context: bpy.types.Context, found: list[bpy.types.Object], taken: Taken, study: Study) -> bool:
    """Whether what the objects are instances of is another now."""
    try:
        now = of_objects(found, context, taken.meters, study.job.part.mask, study.job.part.show)
    except InputError:
        return True
    return now.part.fingerprint != study.part.fingerprint


def forget() -> None:
    _kept.clear()


def _identity(found: Iterable[bpy.types.Object]) -> tuple[int, ...]:
    return tuple(sorted(versions.session_id(o) for o in found))


def _joined(old: Study, new: Study) -> Study:
    """The new study with the old one's results where it has none of its own, each under its own key."""
    extra = [name for name in old.results if name not in new.results]

    def joined(name: str) -> Mapping[str, Any]:
        before = getattr(old, name)
        return MappingProxyType({**getattr(new, name), **{key: before[key] for key in extra if key in before}})

    return replace(
        new,
        results=joined("results"),
        timings=joined("timings"),
        keys=joined("keys"),
        reasons=MappingProxyType({name: why for name, why in new.reasons.items() if name not in extra}),
    )


def shift(context: bpy.types.Context) -> NDArray[np.float64]:
    """(3,) scene units by which the part has been carried away from where it was captured."""
    kept = find(context)
    return np.zeros(3) if kept is None else _carried(kept, objects(context))


def _carried(kept: Kept, found: list[bpy.types.Object]) -> NDArray[np.float64]:
    return shape.stands(found)[0, :3, 3] - kept.taken.stood[0, :3, 3] if found else np.zeros(3)


def moves(context: bpy.types.Context) -> NDArray[np.float64]:
    """(k, 4, 4) what has moved each object of the part since it was captured, scene units; of a part that is kept."""
    kept = find(context)
    if kept is None:
        return np.eye(4)[None]
    whole = np.linalg.cond(kept.taken.stood[:, :3, :3]) < FLAT
    return shape.stands(objects(context))[whole] @ np.linalg.inv(kept.taken.stood[whole])


def carried(context: bpy.types.Context, capture: Capture) -> NDArray[np.float64]:
    """(3,) meters by which the part has been carried away from where this capture found it."""
    kept = find(context)
    return shift(context) * kept.meters if kept is not None and kept.capture is capture else np.zeros(3)


@bpy.app.handlers.persistent
def _changed(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    updates = [update for update in depsgraph.updates if isinstance(update.id, bpy.types.Object)]
    touched = {versions.session_id(update.id.original) for update in updates}
    roles.reshaped(update.id.original for update in updates if update.is_updated_geometry)
    other = any(update.is_updated_geometry or update.is_updated_transform for update in updates)
    for identity, kept in _kept.items():
        if kept.taken.instances and other:
            kept.moved = kept.reshaped = True
        elif touched.intersection(identity):
            _mark(kept, _of(scene, identity), depsgraph)


def _of(scene: bpy.types.Scene, identity: tuple[int, ...]) -> list[bpy.types.Object]:
    return [o for o in scene.objects if versions.session_id(o) in identity]


def _mark(kept: Kept, found: list[bpy.types.Object], depsgraph: bpy.types.Depsgraph) -> None:
    """Note whether the objects are still what they were taken as."""
    gone, form = len(found) < len(kept.taken.identity), kept.taken.form
    now = () if gone else shape.of(found, depsgraph)
    kept.moved, kept.reshaped = now != form, shape.content(now) != shape.content(form)


@bpy.app.handlers.persistent
def _undone(scene: bpy.types.Scene, *_rest: object) -> None:
    depsgraph = bpy.context.evaluated_depsgraph_get()
    roles.reshaped(scene.objects)
    for identity, kept in _kept.items():
        _mark(kept, _of(scene, identity), depsgraph)
        if kept.taken.instances:
            kept.moved = kept.reshaped = True


@bpy.app.handlers.persistent
def _loaded(*_rest: object) -> None:
    forget()


def _handlers() -> Iterable[tuple[list[Any], Any]]:
    app = bpy.app.handlers
    return (
        (app.depsgraph_update_post, _changed),
        (app.undo_post, _undone),
        (app.redo_post, _undone),
        (app.load_pre, _loaded),
    )


def register() -> None:
    handlers.listen(_handlers())


def unregister() -> None:
    handlers.leave(_handlers())
    forget()
