"""What the buttons write: the plan as a text, the workshop sheet, the picture for the client."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy

from ...engine.errors import InputError
from ...engine.reporting import plan, workshop
from ...engine.sheet import client
from .. import outputs
from ..draw import cuts, maps, sheet, sheet_cut, sheets
from ..preview import editors
from ..scene import settings
from .view import kept_of, measured


class PLATEWRIGHT_OT_plan(bpy.types.Operator):
    """Write the plating plan into a text of this file, copy it to the clipboard, and open it"""

    bl_idname = "platewright.plan"
    bl_label = "Write Plan"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context, mode=context.mode)

    def execute(self, context: bpy.types.Context) -> set[str]:
        study = kept_of(context).study
        name = f"Plating plan, {study.part.name}"
        text = bpy.data.texts.get(name) or bpy.data.texts.new(name)
        text.from_string(plan.write(study))
        context.window_manager.clipboard = text.as_string()
        if context.window is not None and not bpy.app.background:
            editors.open_text(context, text)
        self.report({"INFO"}, f"The plan is in the text '{text.name}' and on the clipboard")
        return {"FINISHED"}


class PLATEWRIGHT_OT_picture(bpy.types.Operator):
    """Save a picture for the client: the part in color from above and below, with legend and figures"""

    bl_idname = "platewright.picture"
    bl_label = "Save Client Picture"
    bl_options = {"REGISTER"}

    filepath: bpy.props.StringProperty(name="File", description="Where to save the picture", subtype="FILE_PATH")
    filter_glob: bpy.props.StringProperty(default="*.png", options={"HIDDEN"})
    what: bpy.props.EnumProperty(
        name="Show",
        description="What the part is colored by, or the cross-section of the tank",
        items=[(m.name, m.title, m.doc) for m in (*maps.MAPS.values(), cuts.MAP)],
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: Any) -> str:
        if properties.is_property_set("what") and properties.what == cuts.MAP.name:
            return "Save the cross-section of the tank as a picture for the client"
        return cls.__doc__ or ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context, mode=context.mode)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        kept = kept_of(context)
        if not self.filepath:
            self.filepath = _proposed(kept.study.part.name, ".png")
        if not self.properties.is_property_set("what"):
            self.what = _first(context)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        study = kept_of(context).study
        what = self.what if self.properties.is_property_set("what") else _first(context)
        path = Path(bpy.path.ensure_ext(bpy.path.abspath(self.filepath), ".png"))
        try:
            map_ = maps.MAPS.get(what, cuts.MAP)
            if map_.analysis not in study.results.names:
                raise InputError(f"{map_.title}: not calculated yet; press its button, or Check Everything")
            outputs.Claims({}).check(path, {"picture": path})
            with outputs.together({"picture": path}) as made:
                if map_ is cuts.MAP:
                    sheet_cut.picture(study, made["picture"])
                else:
                    sheet.picture(study, made["picture"], what)
        except InputError as fault:
            self.report({"ERROR"}, str(fault))
            return {"CANCELLED"}
        self.report({"INFO"}, f"Saved {path}")
        return {"FINISHED"}


class PLATEWRIGHT_OT_workshop(bpy.types.Operator):
    """Save the plan's two pages with pictures at the steps: to print, or to keep on a phone beside the tank"""

    bl_idname = "platewright.workshop"
    bl_label = "Save Workshop Sheet"
    bl_options = {"REGISTER"}

    filepath: bpy.props.StringProperty(name="File", description="Where to save the sheet", subtype="FILE_PATH")
    filter_glob: bpy.props.StringProperty(default="*.html", options={"HIDDEN"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context, mode=context.mode)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if not self.filepath:
            self.filepath = _proposed(kept_of(context).study.part.name, ".html")
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        path = Path(bpy.path.ensure_ext(bpy.path.abspath(self.filepath), ".html"))
        try:
            outputs.Claims({}).check(path, {"workshop": path})
            with outputs.together({"workshop": path}) as made:
                made["workshop"].write_text(workshop.write(kept_of(context).study), encoding="utf-8")
        except InputError as fault:
            self.report({"ERROR"}, str(fault))
            return {"CANCELLED"}
        self.report({"INFO"}, f"Saved {path}")
        return {"FINISHED"}


class PLATEWRIGHT_OT_sheet(bpy.types.Operator):
    """Save a sheet for the client: the part in metal, the thickness with what to know of it, and how it is made"""

    bl_idname = "platewright.sheet"
    bl_label = "Save Client Sheet"
    bl_options = {"REGISTER"}

    filepath: bpy.props.StringProperty(
        name="File", description="Where to save it: .pdf, .svg or .png", subtype="FILE_PATH"
    )
    filter_glob: bpy.props.StringProperty(default="*.pdf;*.svg;*.png", options={"HIDDEN"})
    form: bpy.props.EnumProperty(
        name="Page", description="Size and shape of the page", items=[(one, one.title(), "") for one in client.FORMS]
    )
    theme: bpy.props.EnumProperty(
        name="Colors",
        description="Dark on light, or light on dark",
        items=[(one, one.title(), "") for one in client.INKS],
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not measured(cls, context, mode=context.mode):
            return False
        if kept_of(context).study.results.field is None:
            cls.poll_message_set("Calculate Thickness first: the sheet shows it")
            return False
        return True

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if not self.filepath:
            self.filepath = _proposed(kept_of(context).study.part.name, ".pdf")
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        path = Path(bpy.path.abspath(self.filepath))
        path = path if path.suffix else path.with_suffix(".pdf")
        try:
            outputs.Claims({}).check(path, {"sheet": path})
            with outputs.together({"sheet": path}) as made:
                sheets.write(kept_of(context).study, made["sheet"], self.form, self.theme)
        except InputError as fault:
            self.report({"ERROR"}, str(fault))
            return {"CANCELLED"}
        self.report({"INFO"}, f"Saved {path}")
        return {"FINISHED"}


def _proposed(name: str, ending: str) -> str:
    """Beside the file that is open, under the part's name."""
    folder = Path(bpy.data.filepath).parent if bpy.data.filepath else Path.home()
    return str(folder / f"{name}{ending}")


def _first(context: bpy.types.Context) -> str:
    """The map that is shown, or the first that there is."""
    shown = settings.of(context.scene).shown
    return shown or maps.available(kept_of(context).study)[0]


CLASSES = (PLATEWRIGHT_OT_plan, PLATEWRIGHT_OT_workshop, PLATEWRIGHT_OT_sheet, PLATEWRIGHT_OT_picture)
