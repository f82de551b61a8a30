"""My workshop: tank, bath, coat and supply as they stand on the bench, in the preferences. New files begin with it."""

from __future__ import annotations

from typing import Any

import bpy

from ..engine.settings import job as jobs
from ..engine.settings import tables
from .draw.rows import inputs
from .language import localized
from .scene import scene_units, settings

PACKAGE = (__package__ or "").rpartition(".")[0]  # the extension's own name
DEFAULT = jobs.read_job({})
USUAL_TANK_MM = (300.0, 200.0, 250.0)


class PLATEWRIGHT_preferences(bpy.types.AddonPreferences):
    """What is on your bench. New files begin with it"""

    bl_idname = PACKAGE

    bath: bpy.props.StringProperty(
        name="Bath", description="Preset of the bath that you use", default=DEFAULT.bath.name
    )
    coat: bpy.props.StringProperty(
        name="Coat", description="Preset of the coat that you use", default=DEFAULT.coat.name
    )
    current: bpy.props.FloatProperty(
        name="Supply Current (A)",
        description="The most that your power supply gives",
        default=DEFAULT.supply.current,
        min=0.001,
        max=1e4,
    )
    voltage: bpy.props.FloatProperty(
        name="Supply Voltage (V)",
        description="The most that your power supply gives",
        default=DEFAULT.supply.voltage,
        min=0.1,
        max=1e3,
    )
    own_tank: bpy.props.BoolProperty(
        name="My Tank",
        description="Plan for the tank that you have. Off: the smallest that fits the part",
        default=False,
    )
    size: bpy.props.FloatVectorProperty(
        name="Tank Inside (mm)",
        description="Length, width and depth of your tank, inside",
        size=3,
        default=USUAL_TANK_MM,
        min=1.0,
        max=1e4,
    )
    size_in_scene_units: scene_units.twin(
        "size", "mm", 3, "Tank Inside", "Length, width and depth of your tank, inside"
    )
    level: bpy.props.FloatProperty(
        name="Liquid Level (mm)", description="Depth of the liquid in your tank", default=220.0, min=1.0, max=1e4
    )
    level_in_scene_units: scene_units.twin("level", "mm", 0, "Liquid Level", "Depth of the liquid in your tank")

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.label(text="My Workshop: new files begin with it")
        inputs(layout, self, "bath", "coat", "current", "voltage")
        layout.prop(self, "own_tank")
        if self.own_tank:
            inputs(layout, self, "size", "level")
        layout.operator("platewright.use_workshop", icon="IMPORT")


def apply(scene: bpy.types.Scene, prefs: Any) -> None:
    """Set a scene to the workshop; unknown names are ignored."""
    chosen = settings.of(scene)
    if prefs.bath in tables.names("baths"):
        chosen.bath.entry = prefs.bath
        settings.fill_from_table(scene, "bath")
    if prefs.coat in tables.names("coats"):
        chosen.coat.entry = prefs.coat
        settings.fill_from_table(scene, "coat")
    chosen.supply.current, chosen.supply.voltage = prefs.current, prefs.voltage
    if prefs.own_tank:
        chosen.tank.size, chosen.tank.level = prefs.size, min(prefs.level, prefs.size[2])


def preferences() -> Any:
    """The preferences; None where the extension is not enabled as one, as in a script."""
    extension: Any = bpy.context.preferences.addons.get(PACKAGE)
    return extension.preferences if extension is not None else None


@bpy.app.handlers.persistent
def loaded(*_args: object) -> None:
    """After a file is loaded: a new one begins with the workshop."""
    prefs = preferences()
    if prefs is not None and not bpy.data.filepath:
        for scene in bpy.data.scenes:
            apply(scene, prefs)


class PLATEWRIGHT_OT_use_workshop(bpy.types.Operator):
    """Set bath, coat, supply and tank of this file from your workshop"""

    bl_idname = "platewright.use_workshop"
    bl_label = "Use My Workshop in This File"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if preferences() is None:
            cls.poll_message_set(localized("Enable the extension first"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        apply(context.scene, preferences())
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_preferences, PLATEWRIGHT_OT_use_workshop)
