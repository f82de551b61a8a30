"""The session of an open file: the studies, the objects of each, and whether each is up to date.

`session` is its only instance. It holds no references to bpy: objects are identified by session ids, and a study is
plain arrays. Handlers only mark; panels read. Everything is dropped when another file is loaded.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar, cast

import bpy
import numpy as np
from numpy.typing import NDArray

from ..engine import study as studies
from ..engine.errors import InputError
from ..engine.settings.job import Job
from ..engine.study import Cache, Study
from . import versions
from .scene import roles, settings, shape, stage, viewing
from .scene.capture import Capture, meters_per_unit, of_objects
from .snapshot import Snapshot, differs, identity_of, is_whole, objects_of, still_there

DRAFT_PANELS = 2000
QUICK = frozenset({"field", "field_at_target"})  # results of a first estimate with few panels
MAX_STUDIES = 8  # one a part; the oldest goes first


@dataclass(eq=False)
class StudyRecord:
    """The record of a part: its study, the snapshot behind it, and its cache."""

    snapshot: Snapshot
    study: Study
    cache: Cache = field(default_factory=Cache)
    moved: bool = False  # an object has another shape now, or is gone
    reshaped: bool = False  # ... by more than being moved, turned or scaled
    _state: tuple[Any, ...] = ()  # the settings and the things in the tank that `_stale` holds for
    _stale: frozenset[str] = frozenset()
    _fault: str = ""
    _quick: bool = False

    @property
    def capture(self) -> Capture:
        """The part's objects as they were taken."""
        return self.snapshot.capture

    @property
    def meters(self) -> float:
        """What one unit of the scene meant."""
        return self.snapshot.meters

    def stale(self, scene: bpy.types.Scene) -> frozenset[str]:
        """The analyses that are out of date for the present objects and settings."""
        hidden = self.snapshot.seen != shape.visible(
            session.objects(bpy.context), bpy.context.view_layer
        )  # hiding an object sends no update
        if self.moved or hidden or self.meters != meters_per_unit(scene):
            return frozenset(self.study.results.names)
        self._look(scene)
        return self._stale

    def carried(self, objects: list[bpy.types.Object]) -> NDArray[np.float64]:
        """(3,) scene units by which the part has been carried away from where it was taken. objects : its own"""
        return shape.placements(objects)[0, :3, 3] - self.snapshot.stood[0, :3, 3] if objects else np.zeros(3)

    def mark(self, objects: list[bpy.types.Object], depsgraph: bpy.types.Depsgraph) -> None:
        """Note whether the objects are still what they were taken as."""
        gone, form = len(objects) < len(self.snapshot.identity), self.snapshot.form
        now = () if gone else shape.of(objects, depsgraph)
        self.moved, self.reshaped = now != form, shape.content(now) != shape.content(form)

    def fault(self, scene: bpy.types.Scene) -> str:
        """The fault in the settings, or ""."""
        self._look(scene)
        return self._fault

    def quick(self, scene: bpy.types.Scene) -> bool:
        """Whether the current distribution is only the quick estimate."""
        self._look(scene)
        return self._quick

    def _look(self, scene: bpy.types.Scene) -> None:
        objects, part = session.objects(bpy.context), self.study.part
        carried = self.carried(objects) * self.meters
        furniture = roles.signature(scene)
        state = settings.table(scene), session.shape_changes, furniture, *(carried.tolist() if furniture else ())
        if state == self._state:
            return
        self._state, self._stale = state, frozenset(self.study.results.names)
        self._fault, self._quick = "", False
        try:
            job, bodies = stage.staged(bpy.context, settings.job_of(scene), part, carried)
        except InputError as fault:
            self._fault = str(fault)
            return
        stale = frozenset(studies.stale(self.study, part, job, bodies))
        rough = stale & QUICK
        self._quick = "field" in rough and not rough & frozenset(studies.stale(self.study, part, quick(job), bodies))
        self._stale = stale - rough if self._quick else stale


def quick(job: Job) -> Job:
    """The job with few panels, for a first estimate of the current distribution."""
    return replace(job, effort=replace(job.effort, panels=min(job.effort.panels, DRAFT_PANELS)))


class State:
    """A module's state while a file is open; created by `Session.state` without arguments."""

    def close(self) -> None:
        """Release handlers and timers."""


S = TypeVar("S", bound=State)


class Session:
    """The studies of the parts of one file, and what the other modules keep about them.

    shape_changes : counts the changes of shape of objects with a role
    """

    def __init__(self) -> None:
        self._records: dict[tuple[int, ...], StudyRecord] = {}
        self._states: dict[type[State], State] = {}
        self.shape_changes = 0

    def state(self, kind: type[S]) -> S:
        """The session's only state of a kind."""
        if kind not in self._states:
            self._states[kind] = kind()
        return cast(S, self._states[kind])

    def forget(self) -> None:
        """Drop everything, as for another file."""
        for state in self._states.values():
            state.close()
        self._states.clear()
        self._records.clear()

    def objects(self, context: bpy.types.Context) -> list[bpy.types.Object]:
        """The objects that make up the part: those that were chosen for it, or else the selected ones."""
        chosen = [item.object for item in settings.of(context.scene).objects if item.object]
        chosen = [o for o in chosen if o.name in context.view_layer.objects and not roles.of(o)]
        if chosen:
            return chosen
        picked = [o for o in context.selected_objects if not roles.of(o)]
        active = context.active_object if not roles.of(context.active_object) else None
        return picked or ([active] if active and active.mode != "OBJECT" else [])

    def find(self, context: bpy.types.Context) -> StudyRecord | None:
        """The record of the part."""
        return self._records.get(identity_of(self.objects(context)))

    def choose(self, context: bpy.types.Context, objects: Iterable[bpy.types.Object]) -> None:
        """Make these objects the part."""
        items, objects = settings.of(context.scene).objects, list(objects)
        if {item.object for item in items} != set(objects):
            items.clear()
            for o in objects:
                items.add().object = o

    def captured(self, context: bpy.types.Context, objects: list[bpy.types.Object], job: Job) -> Snapshot:
        """A snapshot of these objects as a part; the stored capture if it is still valid."""
        identity, meters = identity_of(objects), meters_per_unit(context.scene)
        record = self._records.get(identity)
        context.view_layer.update()
        form = shape.of(objects, context.evaluated_depsgraph_get())
        if (
            record is not None
            and record.meters == meters
            and not record.snapshot.instances
            and form == record.snapshot.form
        ):
            return replace(record.snapshot, seen=shape.visible(objects, context.view_layer), cache=record.cache)
        caught = of_objects(objects, context, meters, job.part.mask, job.part.show)
        return Snapshot(
            identity,
            caught,
            shape.of(objects, context.evaluated_depsgraph_get()),  # Edit mode has written its mesh meanwhile
            shape.placements(objects),
            meters,
            shape.visible(objects, context.view_layer),
            any(o.is_instancer for o in objects),
            record.cache if record is not None else Cache(),
        )

    def keep(self, context: bpy.types.Context, snapshot: Snapshot, study: Study) -> StudyRecord:
        """Store a study; results of the same part that it lacks are carried over, stale or not.

        Changes of the objects since the snapshot count as later changes. Raises InputError, and keeps
        nothing, where one of them is gone.
        """
        objects = still_there(context, snapshot)
        before = self._records.pop(snapshot.identity, None)
        if before is not None and before.study.part.fingerprint == study.part.fingerprint:
            study = study.completed_by(before.study)
        record = StudyRecord(snapshot, study, snapshot.cache.only(set(study.keys.values())))
        record.mark(objects, context.evaluated_depsgraph_get())
        if snapshot.instances and not record.moved:
            record.moved = record.reshaped = differs(context, objects, snapshot, study)
        self._records[snapshot.identity] = record
        while len(self._records) > MAX_STUDIES:
            del self._records[next(iter(self._records))]
        return record

    def shift(self, context: bpy.types.Context) -> NDArray[np.float64]:
        """(3,) scene units by which the part has been carried away from where it was captured."""
        record = self.find(context)
        return np.zeros(3) if record is None else record.carried(self.objects(context))

    def moves(self, context: bpy.types.Context) -> NDArray[np.float64]:
        """(k, 4, 4) what has moved each object of the part since it was captured, scene units."""
        record = self.find(context)
        if record is None:
            return np.eye(4)[None]
        stood = record.snapshot.stood
        whole = is_whole(stood)
        return shape.placements(self.objects(context))[whole] @ np.linalg.inv(stood[whole])

    @staticmethod
    def moved(o: bpy.types.Object, stood: NDArray[np.float64]) -> NDArray[np.float64]:
        """(4, 4) what has moved an object since it stood so (4, 4), scene units; nothing where it was flat."""
        now = np.array(o.matrix_world, dtype=np.float64)
        return now @ np.linalg.inv(stood) if is_whole(stood) else np.eye(4)

    def carried(self, context: bpy.types.Context, capture: Capture) -> NDArray[np.float64]:
        """(3,) meters by which the part has been carried away from where this capture found it."""
        record = self.find(context)
        return self.shift(context) * record.meters if record is not None and record.capture is capture else np.zeros(3)

    def scene_changed(self, scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
        """Mark records whose objects were updated."""
        updates = [update for update in depsgraph.updates if isinstance(update.id, bpy.types.Object)]
        touched = {versions.session_id(update.id.original) for update in updates}
        self._count_shapes(update.id.original for update in updates if update.is_updated_geometry)
        other = any(update.is_updated_geometry or update.is_updated_transform for update in updates)
        for identity, record in self._records.items():
            if record.snapshot.instances and other:
                record.moved = record.reshaped = True
            elif touched.intersection(identity):
                record.mark(objects_of(scene, identity), depsgraph)

    def scene_undone(self, scene: bpy.types.Scene) -> None:
        """Check all records: undo does not tell what it changes."""
        depsgraph = bpy.context.evaluated_depsgraph_get()
        self._count_shapes(scene.objects)
        for identity, record in self._records.items():
            record.mark(objects_of(scene, identity), depsgraph)
            if record.snapshot.instances:
                record.moved = record.reshaped = True

    def _count_shapes(self, objects: Iterable[Any]) -> None:
        self.shape_changes += any(roles.of(o) in roles.KINDS for o in objects)


session = Session()


@bpy.app.handlers.persistent
def changed(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """After every change of the scene."""
    session.scene_changed(scene, depsgraph)


@bpy.app.handlers.persistent
def undone(scene: bpy.types.Scene, *_args: object) -> None:
    """After undo and redo."""
    session.scene_undone(scene)


@bpy.app.handlers.persistent
def loading(*_args: object) -> None:
    """Before another file is loaded."""
    session.forget()
    viewing.clear(bpy.context)
