"""Operators that write documents: the plan as a text, the workshop sheet, pictures and sheets for the client."""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import replace
from pathlib import Path
from typing import Any

import bpy

from ...engine.errors import InputError
from ...engine.reporting import plan, workshop
from ...engine.reporting.filled import filled
from ...engine.sheet import client, marks
from ...engine.study import Study
from .. import language, outputs
from ..draw import cuts, maps, sheet, sheet_cut, sheets, still
from ..language import localized, written
from ..preview import editors, views
from ..scene import settings, viewing
from .view import has_result, measured, record_of


class PLATEWRIGHT_OT_plan(bpy.types.Operator):
    """Write the plating plan into a text of this file, copy it to the clipboard, and open it"""

    bl_idname = "platewright.plan"
    bl_label = "Write Plan"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context, any_mode=True)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        study = record.study
        name = f"Plating plan, {study.part.name}"
        text = bpy.data.texts.get(name) or bpy.data.texts.new(name)
        text.from_string(plan.write(study, written()))
        context.window_manager.clipboard = text.as_string()
        if context.window is not None and not bpy.app.background:
            narrowed = editors.open_text(context, text)
            if narrowed is not None:
                views.keep_in_view(narrowed, record)
        self.report(
            {"INFO"}, localized(filled("The plan is in the text '{name}' and on the clipboard", name=text.name))
        )
        return {"FINISHED"}


class _Saving:
    """Base of operators that write one file of the study and ask for its name."""

    option = ""  # of `outputs.ENDINGS`
    ending = ""  # the proposed name

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context, any_mode=True)

    def invoke(self: Any, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if not self.filepath:
            self.filepath = _proposed(record_of(context).study.part.name, self.ending)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self: Any, context: bpy.types.Context) -> set[str]:
        path = self.path()
        try:
            outputs.Claims({}).check(path, {self.option: path})
            with outputs.together({self.option: path}) as paths:
                self.write(context, record_of(context).study, paths[self.option])
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        self.report({"INFO"}, localized(filled("Saved {path}", path=path)))
        return {"FINISHED"}

    @abstractmethod
    def write(self: Any, context: bpy.types.Context, study: Study, path: Path) -> None:
        """Write the file. Raises InputError where the study has nothing to show."""

    def path(self: Any) -> Path:
        """Where to save, with the ending that belongs there."""
        return Path(bpy.path.ensure_ext(bpy.path.abspath(self.filepath), self.ending))


class _Showing(_Saving):
    """Base of operators that save a view of the thickness."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return super().poll(context) and has_result(cls, context, "field", localized("Calculate the thickness first"))


class PLATEWRIGHT_OT_picture(_Saving, bpy.types.Operator):
    """Save a picture for the client: the part in color from above and below, with legend and figures"""

    bl_idname = "platewright.picture"
    bl_label = "Save Client Picture"
    bl_options = {"REGISTER"}
    option, ending = "picture", ".png"

    filepath: bpy.props.StringProperty(name="File", description="Where to save the picture", subtype="FILE_PATH")
    filter_glob: bpy.props.StringProperty(default="*.png", options={"HIDDEN"})
    map_name: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Show",
        description="What the part is colored by, or the cross-section of the tank",
        items=[(m.name, m.title, m.doc) for m in (*maps.MAPS.values(), cuts.MAP)],
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: Any) -> str:
        if properties.is_property_set("map_name") and properties.map_name == cuts.MAP.name:
            return "Save the cross-section of the tank as a picture for the client"
        return cls.__doc__ or ""

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if not self.properties.is_property_set("map_name"):
            self.map_name = _first(context)
        return super().invoke(context, event)

    def write(self, context: bpy.types.Context, study: Study, path: Path) -> None:
        map_name = self.map_name if self.properties.is_property_set("map_name") else _first(context)
        map_ = maps.MAPS.get(map_name, cuts.MAP)
        if map_.analysis not in study.results.names:
            raise InputError(filled("{title}: not calculated yet; press its button, or Check Part", title=map_.title))
        if map_ is cuts.MAP:
            sheet_cut.picture(study, path)
        else:
            sheet.picture(study, path, map_name)


class PLATEWRIGHT_OT_workshop(_Saving, bpy.types.Operator):
    """Save the plan's two pages with pictures at the steps: to print, or to keep on a phone beside the tank"""

    bl_idname = "platewright.workshop"
    bl_label = "Save Workshop Sheet"
    bl_options = {"REGISTER"}
    option, ending = "workshop", ".html"

    filepath: bpy.props.StringProperty(name="File", description="Where to save the sheet", subtype="FILE_PATH")
    filter_glob: bpy.props.StringProperty(default="*.html", options={"HIDDEN"})

    def write(self, _context: bpy.types.Context, study: Study, path: Path) -> None:
        path.write_text(workshop.write(study, written()), encoding="utf-8")


class PLATEWRIGHT_OT_sheet(_Showing, bpy.types.Operator):
    """Save a sheet for the client: the part in metal, the thickness with what to know of it, and how it is made"""

    bl_idname = "platewright.sheet"
    bl_label = "Save Client Sheet"
    bl_options = {"REGISTER"}
    option, ending = "sheet", ".pdf"

    filepath: bpy.props.StringProperty(
        name="File", description="Where to save it: .pdf, .svg or .png", subtype="FILE_PATH"
    )
    filter_glob: bpy.props.StringProperty(default="*.pdf;*.svg;*.png", options={"HIDDEN"})
    form: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Page",
        description="Size and shape of the page",
        items=[(shape, shape.title(), "") for shape in client.FORMS],
    )
    theme: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Colors",
        description="Dark on light, or light on dark",
        items=[(ink, ink.title(), "") for ink in marks.INKS],
    )

    def path(self) -> Path:
        path = Path(bpy.path.abspath(self.filepath))
        return path if path.suffix else path.with_suffix(self.ending)

    def write(self, context: bpy.types.Context, study: Study, path: Path) -> None:
        now = settings.job_of(context.scene).sheet  # its texts change no result
        sheets.write(replace(study, job=replace(study.job, sheet=now)), path, self.form, self.theme)


class PLATEWRIGHT_OT_still(_Showing, bpy.types.Operator):
    """Render this scene with its own camera and materials, and number the places that a client should know"""

    bl_idname = "platewright.still"
    bl_label = "Save Annotated Still"
    bl_options = {"REGISTER"}
    option, ending = "still", ".png"

    filepath: bpy.props.StringProperty(name="File", description="Where to save the picture", subtype="FILE_PATH")
    filter_glob: bpy.props.StringProperty(default="*.png", options={"HIDDEN"})
    theme: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Colors",
        description="Dark on light, or light on dark",
        items=[(ink, ink.title(), "") for ink in marks.INKS],
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        if context.scene.camera is None:
            cls.poll_message_set(localized("Add a camera first, and point it at the part"))
            return False
        return True

    def write(self, context: bpy.types.Context, study: Study, path: Path) -> None:
        if record_of(context).reshaped:
            raise InputError(
                filled("{name}: it has changed since it was checked; press Check Again", name=study.part.name)
            )
        still.write(context, study, path, self.theme)


def _proposed(name: str, ending: str) -> str:
    """Beside the file that is open, under the part's name."""
    folder = Path(bpy.data.filepath).parent if bpy.data.filepath else Path.home()
    return str(folder / f"{name}{ending}")


def _first(context: bpy.types.Context) -> str:
    """The map that is shown, or the first that there is."""
    shown = viewing.of(context).shown
    return shown or maps.available(record_of(context).study)[0]


CLASSES = (
    PLATEWRIGHT_OT_plan,
    PLATEWRIGHT_OT_workshop,
    PLATEWRIGHT_OT_sheet,
    PLATEWRIGHT_OT_picture,
    PLATEWRIGHT_OT_still,
)
