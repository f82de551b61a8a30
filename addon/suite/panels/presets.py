"""Presets of one's own for bath, coat, tank and supply, through Blender's own preset menu."""

from __future__ import annotations

from typing import Any

import bpy
from bl_operators.presets import AddPresetBase
from bl_ui.utils import PresetPanel

from ..scene import scene_units, settings

TITLES = {"bath": "Bath", "coat": "Coat", "tank": "Tank", "supply": "Power Supply"}
WITH = {"bath": ("bath", "kinetics", "anode_kinetics")}  # groups of settings that are saved together


def saved(section: str) -> list[str]:
    """The settings that a preset keeps, as Blender writes them; the name first, for it brings values of its own."""
    presets = []
    for name in WITH.get(section, (section,)):
        group = getattr(settings.of(bpy.context.scene), name)
        inside = [setting.identifier for setting in group.bl_rna.properties]
        inside = [
            setting
            for setting in inside
            if setting not in ("rna_type", "name") and not setting.endswith(scene_units.TWIN)
        ]
        presets += [
            f"settings.{name}.{setting}"
            for setting in sorted(inside, key=lambda setting: setting not in ("file", "entry"))
        ]
    return presets


class _Adding(AddPresetBase):
    """The base of the four operators."""

    section: str
    preset_defines = ("settings = bpy.context.scene.platewright",)

    @property
    def preset_values(self) -> list[str]:
        """The settings that a preset of this section keeps, as Blender writes them."""
        return saved(self.section)


def _made(section: str) -> tuple[type, type, type]:
    """Menu, header button and operator of one section."""
    title, folder = TITLES[section], f"platewright/{section}"
    menu = type(
        f"PLATEWRIGHT_MT_{section}_presets",
        (bpy.types.Menu,),
        {
            "__doc__": f"Presets of your own for {title.lower()}",
            "bl_label": f"{title} Presets",
            "preset_subdir": folder,
            "preset_operator": "script.execute_preset",
            "draw": bpy.types.Menu.draw_preset,
        },
    )
    panel = type(
        f"PLATEWRIGHT_PT_{section}_presets",
        (PresetPanel, bpy.types.Panel),
        {
            "__doc__": f"Presets of your own for {title.lower()}",
            "bl_label": f"{title} Presets",
            "preset_subdir": folder,
            "preset_operator": "script.execute_preset",
            "preset_add_operator": f"platewright.{section}_preset_add",
        },
    )
    operator = type(
        f"PLATEWRIGHT_OT_{section}_preset_add",
        (_Adding, bpy.types.Operator),
        {
            "__doc__": f"Keep these settings of the {title.lower()} under a name, or remove the preset",
            "bl_idname": f"platewright.{section}_preset_add",
            "bl_label": f"Add {title} Preset",
            "preset_menu": menu.__name__,
            "preset_subdir": folder,
            "section": section,
        },
    )
    return menu, panel, operator


_CLASSES: dict[str, tuple[type, type, type]] = {section: _made(section) for section in TITLES}
CLASSES: tuple[Any, ...] = tuple(cls for classes in _CLASSES.values() for cls in classes)


def draw(layout: bpy.types.UILayout, section: str) -> None:
    """The button in a panel's header that opens the presets of a section."""
    button: Any = _CLASSES[section][1]
    button.draw_panel_header(layout)
