"""Quality of the calculations: three levels of the settings behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import bpy

from ...engine.settings.options import Effort
from .. import language
from ..scene import settings


@dataclass(frozen=True)
class Level:
    """panels : of the current distribution; rays : a face, for shielding; directions : that the hanging search tries"""

    name: str
    title: str
    doc: str
    panels: int
    rays: int
    directions: int


LEVELS = (
    Level("DRAFT", "Draft", "Quick and coarse: good enough to compare", 3000, 32, 100),
    Level("NORMAL", "Normal", "Good for most parts", Effort.panels, Effort.rays, Effort.directions),
    Level("FINE", "Fine", "Slow and fine: for small details and close spacing", 40000, 256, 1000),
)


def is_set(effort: Any, level: Level) -> bool:
    """Whether the settings are those of a level."""
    return (effort.panels, effort.rays, effort.directions) == (level.panels, level.rays, level.directions)


class PLATEWRIGHT_OT_quality(bpy.types.Operator):
    """Set how fine the calculations are"""

    bl_idname = "platewright.quality"
    bl_label = "Set Quality"
    bl_options = {"REGISTER", "UNDO"}

    level: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Quality",
        description="Finer is slower",
        items=[(grade.name, grade.title, grade.doc) for grade in LEVELS],
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: Any) -> str:
        return next(grade.doc for grade in LEVELS if grade.name == properties.level)

    def execute(self, context: bpy.types.Context) -> set[str]:
        effort = settings.of(context.scene).effort
        level = next(grade for grade in LEVELS if grade.name == self.level)
        effort.panels, effort.rays, effort.directions = level.panels, level.rays, level.directions
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_quality,)
