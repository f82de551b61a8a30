"""Show: bring the place of a finding into view, from where it is seen best, in the colors of its map."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import bpy
import numpy as np

from ...engine.findings import Finding
from ...engine.geometry import contour
from ...engine.reporting import finding_text, verdict_text
from ...engine.reporting.filled import filled, unstopped
from ...engine.study import Study
from ...engine.verdict import places
from ...engine.visibility.vantage import vantage
from .. import judged
from ..draw import maps, overlay
from ..draw.maps import Drawing
from ..figures import unparted
from ..language import localized
from ..preview import orientation, views
from ..scene import capture, viewing
from ..session import StudyRecord, session
from .check import MAPS_OF
from .view import measured, record_of


class PLATEWRIGHT_OT_show_finding(bpy.types.Operator):
    """Show where this is"""

    bl_idname = "platewright.show_finding"
    bl_label = "Show"
    bl_options = {"REGISTER"}  # looking changes nothing, so there is nothing to undo

    number: bpy.props.IntProperty(name="Number", description="Which of the changes, from 0", min=0, options={"HIDDEN"})

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        record = session.find(context)
        changes = judged.judgment(record.study).verdict.changes if record is not None else ()
        if properties.number >= len(changes):
            return cls.__doc__ or ""
        return unparted(localized(unstopped(finding_text.text(changes[properties.number]))))

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        changes = judged.judgment(record.study).verdict.changes
        if self.number >= len(changes) or record.reshaped:
            self.report(
                {"ERROR"},
                localized(filled("{name}: this place is gone; press Check Again", name=record.study.part.name)),
            )
            return {"CANCELLED"}
        change = changes[self.number]
        map_name = MAPS_OF.get(change.code, "thickness")
        hidden = _look(context, record, change)
        if maps.MAPS[map_name].analysis in record.study.results.names:
            viewing.of(context).bodies = hidden and map_name in orientation.MAPS
            drawing = marked(views.show(context, record, map_name), record.study, change)
            overlay.show(drawing, record.capture.pieces, place=places.faces(change, record.study) if hidden else None)
        self.report({"INFO"}, localized(finding_text.text(change)))
        return {"FINISHED"}


def marked(drawing: Drawing, study: Study, finding: Finding) -> Drawing:
    """A map with the place of a finding hatched and named, where the map itself does not hatch it."""
    faces = places.faces(finding, study)
    if not len(faces) or len(drawing.hatching):
        return drawing
    surface = study.surface
    lines, _ = contour.hatch(surface.corners[faces], maps.HATCH * surface.size)
    name = localized(verdict_text.headline(finding))
    mark = maps.Mark(surface.centroid[faces[0]], name)
    return replace(drawing, hatching=np.concatenate([drawing.hatching, lines]), marks=(mark, *drawing.marks))


def _look(context: bpy.types.Context, record: StudyRecord, finding: Finding) -> bool:
    """Turn the viewport to where most of the place is visible. Returns whether the part still hides it."""
    surface, view3d = record.study.surface, context.space_data
    if not isinstance(view3d, bpy.types.SpaceView3D):
        return False
    scale, shift = 1.0 / capture.meters_per_unit(context.scene), session.shift(context)
    faces = places.faces(finding, record.study)
    if not len(faces):
        views.look_at_whole(view3d, surface, scale, shift)
        return False
    _, tracer = record.cache.surfaces[record.study.keys["surface"]]
    way, seen = vantage(surface, tracer, faces)
    views.look_along(view3d, surface, faces, way, scale, shift)
    if context.area is not None:
        views.keep_clear(context.area, view3d)
    return seen < views.HIDDEN


CLASSES = (PLATEWRIGHT_OT_show_finding,)
