"""Operators for the viewport: show a map, hide it, go to a pocket or a fault of the mesh."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.reporting import finding_text
from ...engine.reporting.filled import filled
from ...engine.study import Results
from ...engine.study import findings as study_findings
from .. import language
from ..draw import maps, paint, place_words
from ..language import localized
from ..preview import views
from ..scene import capture, viewing
from ..session import StudyRecord, session
from .measure import in_object_mode, ready


def measured(operator: type[bpy.types.Operator], context: bpy.types.Context, *, any_mode: bool = False) -> bool:
    """Whether there is a study to show, in Object Mode unless any will do; the disabled button says why not."""
    if not ready(operator, context):
        return False
    if session.find(context) is None:
        operator.poll_message_set(localized("Check the part first"))
        return False
    return any_mode or in_object_mode(operator, context)


def has_result(operator: type[bpy.types.Operator], context: bpy.types.Context, name: str, otherwise: str) -> bool:
    """Whether the part's study has a result; if not, the disabled button says `otherwise`."""
    if getattr(record_of(context).study.results, name) is not None:
        return True
    operator.poll_message_set(otherwise)
    return False


def as_measured(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether there is a study of the part as it still is; the disabled button says why not."""
    if not measured(operator, context):
        return False
    if record_of(context).moved:
        operator.poll_message_set(localized("The part has changed: press Check Again first"))
        return False
    return True


def record_of(context: bpy.types.Context) -> StudyRecord:
    """The record of the part; `measured` has ensured that there is one."""
    record = session.find(context)
    assert record is not None
    return record


class PLATEWRIGHT_OT_show(bpy.types.Operator):
    """Color the part by this result"""

    bl_idname = "platewright.show"
    bl_label = "Show on Part"
    bl_options = {"REGISTER"}  # looking changes nothing, so there is nothing to undo

    map_name: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Result",
        description="What colors the part",
        items=[(m.name, m.title, m.doc) for m in maps.MAPS.values()],
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: Any) -> str:
        return localized(filled("{what}. The materials stay as they are", what=maps.MAPS[properties.map_name].doc))

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record, map_ = record_of(context), maps.MAPS[self.map_name]
        if map_.analysis not in record.study.results.names:
            self.report(
                {"ERROR"},
                localized(filled("{title}: not calculated yet; press its button, or Check Part", title=map_.title)),
            )
            return {"CANCELLED"}
        if record.reshaped:
            self.report(
                {"ERROR"},
                localized(
                    filled(
                        "{name}: it has changed since it was checked; press Check Again", name=record.study.part.name
                    )
                ),
            )
            return {"CANCELLED"}
        views.show(context, record, self.map_name)
        return {"FINISHED"}


class PLATEWRIGHT_OT_normal(bpy.types.Operator):
    """Hide the colors: the part looks as it did before"""

    bl_idname = "platewright.normal"
    bl_label = "Hide Colors"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        shown = viewing.of(context)
        if not (shown.shown or shown.cut_shown):
            cls.poll_message_set(localized("No colors are shown"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        views.hide(context)
        return {"FINISHED"}


class PLATEWRIGHT_OT_store(bpy.types.Operator):
    """Store every result as a face attribute of the part's meshes, for materials, nodes and exports"""

    bl_idname = "platewright.store"
    bl_label = "Store Results on Mesh"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        name = record.study.part.name
        if record.reshaped:
            self.report(
                {"ERROR"},
                localized(filled("{name}: it has changed since it was checked; press Check Again", name=name)),
            )
            return {"CANCELLED"}
        if not paint.store(context, record.capture, record.study):
            self.report(
                {"ERROR"},
                localized(
                    filled(
                        "{name}: its modifiers make other faces, or others use its mesh; apply them first", name=name
                    )
                ),
            )
            return {"CANCELLED"}
        self.report(
            {"INFO"},
            localized(
                filled(
                    "{name}: {available} results stored on its mesh",
                    name=name,
                    available=len(maps.available(record.study)),
                )
            ),
        )
        return {"FINISHED"}


class PLATEWRIGHT_OT_remove(bpy.types.Operator):
    """Delete the result data that is stored on the part's meshes"""

    bl_idname = "platewright.remove"
    bl_label = "Delete Result Data"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return in_object_mode(cls, context) and ready(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        count = paint.remove(context)
        self.report({"INFO"}, localized(filled("{count} attributes deleted", count=count)))
        return {"FINISHED"}


class PLATEWRIGHT_OT_jump(bpy.types.Operator):
    """Select the faces, zoom to them, and say what they are"""

    bl_idname = "platewright.jump"
    bl_label = "Go to Place"
    bl_options = {"REGISTER", "UNDO"}

    kind: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Kind",
        description="What kind of place",
        options={"HIDDEN"},
        items=[
            ("FAULT", "Mesh Fault", "A fault of the mesh"),
            ("POCKET", "Pocket", "A place that traps gas"),
            ("POOL", "Pool", "A place that holds liquid"),
            ("OPENING", "Opening", "A hole or slot that may not fill with liquid"),
            ("CONTACT", "Wire Position", "A place to attach the wire"),
        ],
    )
    number: bpy.props.IntProperty(name="Number", description="Which of the places, from 0", min=0, options={"HIDDEN"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        places = _places(record, self.kind)
        if self.number >= len(places) or record.reshaped:
            self.report(
                {"ERROR"},
                localized(filled("{name}: this place is gone; press Check Again", name=record.study.part.name)),
            )
            return {"CANCELLED"}
        faces, sentence = places[self.number]
        _select(context, record, faces)
        _frame(context, record, faces)
        self.report({"INFO"}, localized(sentence))
        return {"FINISHED"}


def _places(record: StudyRecord, kind: str) -> list[tuple[NDArray[Any], str]]:
    """Faces of the part and what they are, for each place of a kind."""
    study = record.study
    if kind == "FAULT":
        return [(fault.faces, finding_text.text(fault)) for fault in study_findings.faults(study)]
    places, words = _LISTS[kind]
    return [(_faces(place), words(place)) for place in places(study.results)]


# Kind of place -> the places in the results, and the words for one
_LISTS: dict[str, tuple[Callable[[Results], Sequence[Any]], Callable[[Any], str]]] = {
    "POCKET": (lambda results: results.gas.pockets if results.gas else (), place_words.pocket_words),
    "POOL": (lambda results: results.drainage.pools if results.drainage else (), place_words.pool_words),
    "OPENING": (lambda results: results.narrow.openings if results.narrow else (), place_words.opening_words),
    "CONTACT": (lambda results: results.contacts.ranked if results.contacts else (), place_words.contact_words),
}


def _faces(place: Any) -> NDArray[Any]:
    return place.faces if hasattr(place, "faces") else np.array([place.face])


def _select(context: bpy.types.Context, record: StudyRecord, faces: NDArray[Any]) -> None:
    """Select the polygons that these triangles belong to, on the objects' own meshes."""
    for piece in record.capture.pieces:
        o = next((o for o in session.objects(context) if o.name == piece.object), None)
        if o is None or not piece.own:
            continue
        inside = faces[(faces >= piece.start) & (faces < piece.stop)] - piece.start
        mesh: Any = o.data
        chosen = np.zeros(len(mesh.polygons), dtype=np.bool_)
        chosen[piece.polygons[inside]] = True
        _write_selection(mesh, chosen)


def _write_selection(mesh: bpy.types.Mesh, chosen: NDArray[Any]) -> None:
    """Select polygons with their vertices and edges, as Edit Mode needs."""
    mesh.polygons.foreach_set("select", chosen)
    loops = np.repeat(chosen, _read(mesh.polygons, "loop_total"))
    points = np.zeros(len(mesh.vertices), dtype=bool)
    points[_read(mesh.loops, "vertex_index")[loops]] = True
    edges = np.zeros(len(mesh.edges), dtype=bool)
    edges[_read(mesh.loops, "edge_index")[loops]] = True
    mesh.vertices.foreach_set("select", points)
    mesh.edges.foreach_set("select", edges)
    mesh.update()


def _read(items: Any, name: str) -> NDArray[Any]:
    values = np.empty(len(items), dtype=np.int32)
    items.foreach_get(name, values)
    return values


def _frame(context: bpy.types.Context, record: StudyRecord, faces: NDArray[Any]) -> None:
    """Turn the viewport towards the faces' outer side and bring them near."""
    surface = record.study.surface
    view3d = context.space_data
    if not isinstance(view3d, bpy.types.SpaceView3D) or not len(faces):
        return
    views.look(view3d, surface, faces, 1.0 / capture.meters_per_unit(context.scene), session.shift(context))


CLASSES = (
    PLATEWRIGHT_OT_show,
    PLATEWRIGHT_OT_normal,
    PLATEWRIGHT_OT_store,
    PLATEWRIGHT_OT_remove,
    PLATEWRIGHT_OT_jump,
)
