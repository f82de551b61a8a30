"""The studies of this session: which objects each is about, and whether it still answers for them.

Nothing of bpy is kept: objects are known by their session ids, and a study is plain arrays. Handlers only
mark; panels read. All is forgotten when another file is loaded.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..engine import study as studies
from ..engine.errors import Fault
from ..engine.job import Job
from ..engine.study import Study
from . import settings, versions
from .capture import Capture, metres_per_unit, of_objects

QUICK_PANELS = 2000
MOST = 8  # parts whose studies are kept; the oldest goes first

Shape = tuple[tuple[Any, ...], ...]


@dataclass(eq=False)
class Kept:
    """One part's study, the capture that it is about, and what may be used again."""

    capture: Capture
    study: Study
    shape: Shape
    results: dict[str, Any] = field(default_factory=dict)  # engine key -> result
    moved: bool = False  # an object has another shape now, or is gone
    _settings: dict[str, Any] = field(default_factory=dict)  # the settings that `_stale` holds for
    _stale: frozenset[str] = frozenset()
    _fault: str = ""
    _quick: bool = False

    def stale(self, scene: bpy.types.Scene) -> frozenset[str]:
        """The analyses that no longer answer for the objects and the settings as they are."""
        if self.moved:
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
        table = settings.table(scene)
        if table == self._settings:
            return
        self._settings, self._stale = table, frozenset(self.study.results)
        self._fault, self._quick = "", False
        try:
            job = settings.job_of(scene)
        except Fault as fault:
            self._fault = str(fault)
            return
        stale, part = frozenset(studies.stale(self.study, self.study.part, job)), self.study.part
        self._quick = "field" in stale and "field" not in studies.stale(self.study, part, quick(job))
        self._stale = stale - {"field"} if self._quick else stale


def quick(job: Job) -> Job:
    """The job with few panels, for a first look at the current distribution."""
    return replace(job, effort=replace(job.effort, panels=min(job.effort.panels, QUICK_PANELS)))


_kept: dict[tuple[int, ...], Kept] = {}


def objects(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The objects that make up the part: those that were chosen for it, or else the selected ones."""
    chosen = [item.object for item in settings.of(context.scene).objects if item.object]
    chosen = [o for o in chosen if o.name in context.view_layer.objects]
    if chosen:
        return chosen
    picked = list(context.selected_objects)
    active = context.active_object
    return picked or ([active] if active and active.mode != "OBJECT" else [])


def find(context: bpy.types.Context) -> Kept | None:
    """What is kept about the part."""
    return _kept.get(_identity(objects(context)))


def choose(context: bpy.types.Context, found: Iterable[bpy.types.Object]) -> None:
    """Make these objects the part."""
    items, found = settings.of(context.scene).objects, list(found)
    if [item.object for item in items] != found:
        items.clear()
        for o in found:
            items.add().object = o


def captured(context: bpy.types.Context, found: list[bpy.types.Object], job: Job) -> tuple[Capture, dict[str, Any]]:
    """These objects as a part, and the results that are kept about them; the capture at hand if it still holds."""
    kept = _kept.get(_identity(found))
    if kept is None:
        results: dict[str, Any] = {}
    elif shape_of(found, context.evaluated_depsgraph_get()) == kept.shape:
        return kept.capture, kept.results
    else:
        results = kept.results
    metres = metres_per_unit(context.scene)
    return of_objects(found, context, metres, job.part.mask, job.part.show), results


def keep(context: bpy.types.Context, capture: Capture, study: Study, results: dict[str, Any]) -> Kept:
    """Keep a study; results of the same part that it does not have yet are carried over, stale or not."""
    found = objects(context)
    identity = _identity(found)
    before = _kept.pop(identity, None)
    if before is not None and before.study.part.fingerprint == study.part.fingerprint:
        study = _joined(before.study, study)
    used = set(study.keys.values())
    kept = Kept(capture, study, shape_of(found, context.evaluated_depsgraph_get()),
                {key: result for key, result in results.items() if key in used})  # fmt: skip
    _kept[identity] = kept
    while len(_kept) > MOST:
        del _kept[next(iter(_kept))]
    return kept


def forget() -> None:
    _kept.clear()


def _identity(found: Iterable[bpy.types.Object]) -> tuple[int, ...]:
    return tuple(sorted(versions.session_id(o) for o in found))


def _joined(old: Study, new: Study) -> Study:
    """The new study with the old one's results where it has none of its own, each under its own key."""
    extra = [name for name in old.results if name not in new.results]
    join = {name: {**{key: getattr(old, name)[key] for key in extra if key in getattr(old, name)}}
            for name in ("results", "timings", "keys")}  # fmt: skip
    return replace(
        new,
        results=MappingProxyType({**new.results, **join["results"]}),
        timings=MappingProxyType({**new.timings, **join["timings"]}),
        keys=MappingProxyType({**new.keys, **join["keys"]}),
        reasons=MappingProxyType({name: why for name, why in new.reasons.items() if name not in extra}),
    )


def shape_of(found: Iterable[bpy.types.Object], depsgraph: bpy.types.Depsgraph) -> Shape:
    """What a result depends on, cheap enough for a handler: points, faces, marks, turn and scale.

    Where the objects stand counts only as their distances from the first, so that carrying the part about
    leaves its results as they are.
    """
    found = sorted(found, key=versions.session_id)
    if not found:
        return ()
    first = np.array(found[0].matrix_world)[:3, 3]
    part = settings.of(depsgraph.scene).part
    marks = (part.mask, part.show)
    return tuple((versions.session_id(o), *_shape(o.evaluated_get(depsgraph), first, marks)) for o in found)


def _shape(evaluated: bpy.types.Object, first: NDArray[np.float64], marks: Iterable[str]) -> tuple[Any, ...]:
    matrix = np.array(evaluated.matrix_world)
    matrix[:3, 3] -= first
    place = tuple(np.round(matrix[:3].ravel(), 6).tolist())
    mesh = evaluated.data
    if not isinstance(mesh, bpy.types.Mesh):
        return place
    return (*place, len(mesh.vertices), len(mesh.polygons), *(_sum(mesh, name) for name in (
        "position", ".corner_vert", *marks)))  # fmt: skip


_READ = {  # what foreach_get wants to know of a type of attribute
    "FLOAT_VECTOR": ("vector", np.float32, 3),
    "INT": ("value", np.int32, 1),
    "BOOLEAN": ("value", np.bool_, 1),
}


def _sum(mesh: bpy.types.Mesh, name: str) -> int:
    """A checksum of one attribute; zero where there is none."""
    attribute: Any = mesh.attributes.get(name)
    if attribute is None or attribute.data_type not in _READ:
        return 0
    key, kind, size = _READ[attribute.data_type]
    values = np.empty(len(attribute.data) * size, dtype=kind)
    attribute.data.foreach_get(key, values)
    return zlib.crc32(values.data)


@bpy.app.handlers.persistent
def _changed(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    touched = {versions.session_id(update.id.original) for update in depsgraph.updates
               if isinstance(update.id, bpy.types.Object)}  # fmt: skip
    for identity, kept in _kept.items():
        if touched.intersection(identity):
            _mark(kept, identity, scene, depsgraph)


def _mark(kept: Kept, identity: tuple[int, ...], scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    found = [o for o in scene.objects if versions.session_id(o) in identity]
    kept.moved = len(found) < len(identity) or shape_of(found, depsgraph) != kept.shape


@bpy.app.handlers.persistent
def _undone(scene: bpy.types.Scene, *_rest: object) -> None:
    depsgraph = bpy.context.evaluated_depsgraph_get()
    for identity, kept in _kept.items():
        _mark(kept, identity, scene, depsgraph)


@bpy.app.handlers.persistent
def _loaded(*_rest: object) -> None:
    forget()


def _handlers() -> Iterable[tuple[list[Any], Any]]:
    app = bpy.app.handlers
    return ((app.depsgraph_update_post, _changed), (app.undo_post, _undone), (app.redo_post, _undone),
            (app.load_pre, _loaded))  # fmt: skip


def register() -> None:
    for listeners, handler in _handlers():
        listeners.append(handler)


def unregister() -> None:
    for listeners, handler in _handlers():
        listeners.remove(handler)
    forget()
