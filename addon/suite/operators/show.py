"""Show: bring the place of a finding into view, from where it is seen best, in the colors of its map."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.field.result import Flag
from ...engine.findings import Code, Finding
from ...engine.geometry import contour
from ...engine.reporting import finding_text, plan_text, verdict_text
from ...engine.study import Results, Study
from ...engine.visibility.vantage import vantage
from .. import judged
from ..draw import maps, paint
from ..draw.maps import Drawing
from ..preview import views
from ..scene import capture
from ..session import Kept, session
from .check import MAPS_OF
from .view import kept_of, measured

MAX_OFF_OVER_SIZE = 0.04  # of the part's size: faces so near to a place belong to it


class PLATEWRIGHT_OT_show_finding(bpy.types.Operator):
    """Show where this is"""

    bl_idname = "platewright.show_finding"
    bl_label = "Show"
    bl_options = {"REGISTER"}  # to look changes nothing, so there is nothing to undo

    number: bpy.props.IntProperty(name="Number", description="Which of the changes, from 0", min=0, options={"HIDDEN"})

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        kept = session.find(context)
        found = judged.judgment(kept.study).verdict.changes if kept is not None else ()
        if properties.number >= len(found):
            return cls.__doc__ or ""
        return finding_text.text(found[properties.number]).removesuffix(".")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        kept = kept_of(context)
        found = judged.judgment(kept.study).verdict.changes
        if self.number >= len(found) or kept.reshaped:
            self.report({"ERROR"}, f"{kept.study.part.name}: this place is gone; press Check Again")
            return {"CANCELLED"}
        one = found[self.number]
        what = MAPS_OF.get(one.code, "thickness")
        if maps.MAPS[what].analysis in kept.study.results.names:
            drawing = paint.show(context, kept.capture, kept.study, what)
            views.enter(context, marked(drawing, kept.study, one))
        _look(context, kept, one)
        self.report({"INFO"}, finding_text.text(one))
        return {"FINISHED"}


def marked(drawing: Drawing, study: Study, finding: Finding) -> Drawing:
    """A map with the place of a finding hatched and named, where the map itself does not hatch it."""
    faces = place(finding, study)
    if not len(faces) or len(drawing.hatching):
        return drawing
    surface = study.surface
    lines, _ = contour.hatch(surface.corners[faces], maps.HATCH * surface.size)
    name = plan_text.typeset(verdict_text.headline(finding))
    mark = maps.Mark(surface.centroid[faces[0]], name)
    return replace(drawing, hatching=np.concatenate([drawing.hatching, lines]), marks=(mark, *drawing.marks))


def _look(context: bpy.types.Context, kept: Kept, finding: Finding) -> None:
    """Turn the viewport to where most of the place is seen."""
    surface, view3d = kept.study.surface, context.space_data
    if not isinstance(view3d, bpy.types.SpaceView3D):
        return
    scale, shift = 1.0 / capture.meters_per_unit(context.scene), session.shift(context)
    faces = place(finding, kept.study)
    if not len(faces):
        views.look_at_whole(view3d, surface, scale, shift)
        return
    _, tracer = kept.cache.surfaces[kept.study.keys["surface"]]
    way, seen = vantage(surface, tracer, faces)
    views.look_along(view3d, surface, faces, way, scale, shift)
    views.see_through(view3d, seen < views.HIDDEN)


def place(finding: Finding, study: Study) -> NDArray[np.int32]:
    """(k,) triangles that a finding is about, the worst place of several; none where it is about the whole part."""
    surface = study.surface
    listed = _POCKETS[finding.code](study.results) if finding.code in _POCKETS else ()
    if listed:
        return np.asarray(listed[0].faces)
    faces = finding.faces
    flag = _FLAGS.get(finding.code)
    if flag is not None and study.results.field is not None:
        faces = np.flatnonzero(study.results.field.flag == flag)
    if not finding.places:
        return np.asarray(faces, dtype=np.int32)
    off = np.linalg.norm(surface.centroid - np.array(finding.places[0]), axis=1)
    near = off <= max(MAX_OFF_OVER_SIZE * surface.size, float(off.min()))
    inside = near[faces] if len(faces) else np.zeros(0, dtype=bool)
    return np.asarray(faces[inside] if inside.any() else np.flatnonzero(near), dtype=np.int32)


def _pockets(results: Results) -> Sequence[Any]:
    return results.gas.pockets if results.gas is not None else ()


def _pools(results: Results) -> Sequence[Any]:
    return results.drainage.pools if results.drainage is not None else ()


_POCKETS: Mapping[Code, Callable[[Results], Sequence[Any]]] = {
    Code.GAS_TRAPPED: _pockets,
    Code.GAS_LIFTS: _pockets,
    Code.GAS_SWINGS: _pockets,
    Code.LIQUID_HELD: _pools,
}
_FLAGS = {Code.ALMOST_BARE: Flag.BARE, Code.THINNEST_NEVER: Flag.BARE, Code.BURNT: Flag.BURNT}

CLASSES = (PLATEWRIGHT_OT_show_finding,)
