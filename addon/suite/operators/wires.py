"""Operators for wires: place one with a click, or all at the best positions."""

from __future__ import annotations

import bpy
import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...engine.coat import wires as places
from ...engine.errors import InputError
from ...engine.reporting.filled import filled
from ...engine.settings.part import Wire
from ...engine.units import MM
from ..draw.rows import inputs
from ..language import localized
from ..scene import scene_units, wires
from ..session import StudyRecord, session
from .pick import Pointing
from .view import has_result, measured, record_of


class PLATEWRIGHT_OT_place_wire(Pointing, bpy.types.Operator):
    """Click where the wire is to touch the part. You can drag it afterwards: it stays on the surface"""

    bl_idname = "platewright.place_wire"
    bl_label = "Place Wire"
    bl_options = {"REGISTER", "UNDO"}
    help = "Click: attach the wire.  Esc: cancel"
    pointer = "CROSSHAIR"

    point: bpy.props.FloatVectorProperty(
        name="Position",
        description="Position in the scene; the nearest point of the part is used",
        size=3,
        subtype="TRANSLATION",
    )
    pad: bpy.props.FloatProperty(
        name="Contact Size (mm)", description="Diameter of the contact", default=Wire.pad / MM, min=0.1, max=100.0
    )
    pad_in_scene_units: scene_units.twin("pad", "mm", 0, "Contact Size", "Diameter of the contact")

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.prop(self, "point")
        inputs(self.layout, self.properties, "pad")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context)

    def words(self, record: StudyRecord, face: int) -> str:
        return refusal(record, face) or "Click to attach the wire here"

    def clicked(
        self, context: bpy.types.Context, record: StudyRecord, face: int, point: NDArray[np.float64]
    ) -> set[str]:
        why = refusal(record, face)
        if why:
            self.report({"WARNING"}, localized(filled("{name}: {why}", name=record.study.part.name, why=why)))
            return {"RUNNING_MODAL"}
        self.point = (point / record.meters + session.shift(context)).tolist()
        return self.execute(context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        surface = record.study.surface
        if record.moved:
            self.report(
                {"ERROR"},
                localized(
                    filled("{name}: it has changed since it was checked; press Check Again first", name=surface.name)
                ),
            )
            return {"CANCELLED"}
        where = (np.array(self.point) - session.shift(context)) * record.meters
        face, place, _ = places.nearest(surface, where)
        why = refusal(record, face)
        if why:
            self.report(
                {"ERROR"}, localized(filled("{name}: {why}; choose a face that is plated", name=surface.name, why=why))
            )
            return {"CANCELLED"}
        wire = wires.place(context, record.capture, surface, _contact(context, record, face, place, self.pad * MM))
        self.report({"INFO"}, localized(filled("{name} placed", name=wire.name)))
        return {"FINISHED"}


def _contact(context: bpy.types.Context, record: StudyRecord, face: int, point: ArrayLike, pad: float) -> wires.Contact:
    """point : (3,) meters, as captured; pad : m, diameter"""
    return wires.Contact(face, np.asarray(point) / record.meters + session.shift(context), pad)


def refusal(record: StudyRecord, face: int) -> str:
    """Why a wire cannot touch a face; "" if it can."""
    surface = record.study.surface
    if surface.plated[face]:
        return ""
    return "this face is masked: it carries no coat" if surface.wetted[face] else "the liquid does not reach this face"


class PLATEWRIGHT_OT_suggest_wires(bpy.types.Operator):
    """Add wires at the best positions, as many as the coat needs. They replace those that are there"""

    bl_idname = "platewright.suggest_wires"
    bl_label = "Add Suggested Wires"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(
        name="Wires", description="How many. Zero: as many as the coat needs", default=0, min=0, soft_max=4, max=16
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context) and has_result(cls, context, "contacts", localized("Find wire positions first"))

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        try:
            if "contacts" in record.stale(context.scene):
                raise InputError(
                    filled("{name}: the wire positions are out of date; find them again", name=record.study.part.name)
                )
            contacts, coat = record.study.results.contacts, record.study.results.coat
            number = self.number or (coat.wires_needed if coat is not None else None) or len(contacts.places)
            pads = places.suggested_pads(contacts, (), [Wire()] * number)
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        wires.remove_all(context.scene)
        surface = record.study.surface
        for pad in pads:
            contact = _contact(context, record, pad.face, pad.centre, pad.diameter)
            wires.place(context, record.capture, surface, contact)
        self.report(
            {"INFO"},
            localized(
                filled(
                    "{pads} {wires} added; drag them where you like",
                    pads=len(pads),
                    wires="wire" if len(pads) == 1 else "wires",
                )
            ),
        )
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_place_wire, PLATEWRIGHT_OT_suggest_wires)
