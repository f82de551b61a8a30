"""Lengths and temperatures in the scene's own units, beside the settings that hold them in the trade's.

A setting is kept in mm, µm or °C whatever the scene says, so job files and scripts mean the same everywhere. Its twin
has a unit of Blender's: it is read as the scene shows lengths and temperatures, and any unit can be typed into it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import bpy

from ...engine.units import MM, UM, ZERO_CELSIUS
from .capture import meters_per_unit

TWIN = "_in_scene_units"  # how the name of a twin ends
LENGTHS_M = {"mm": MM, "um": UM}
TEMPERATURE = "C"
UNSET = -(2.0**-62)  # the twin's default, which stands for that of the setting itself; exact in single precision
DECIMALS = 4


def has_twin(unit: str) -> bool:
    """Whether Blender has units for a trade unit, as the settings' Spec writes it."""
    return unit in LENGTHS_M or unit == TEMPERATURE


def name_of(group: Any, name: str, scene: bpy.types.Scene) -> str:
    """The property to draw for a setting: its twin, where the scene's units were chosen, or else itself.

    A scene that nobody set up shows meters and kelvins: there the trade's units serve better.
    """
    twin = group.bl_rna.properties.get(name + TWIN)
    units: Any = scene.unit_settings  # the newest stubs know none of its units
    if twin is None or units.system == "NONE":
        return name
    usual = units.temperature_unit == "KELVIN" if twin.unit == "TEMPERATURE" else units.length_unit == "METERS"
    return name if usual and units.system == "METRIC" else name + TWIN


def twin(name: str, unit: str, size: int, label: str, description: str) -> Any:
    """A property that shows the setting `name` (size numbers, 0 for one) of its own group in the scene's units."""
    to, back = _ways(unit)

    def read(group: Any) -> Any:
        scene, value = _scene(group), getattr(group, name)
        return [to(number, scene) for number in value] if size else to(value, scene)

    def write(group: Any, value: Any) -> None:
        scene = _scene(group)
        if UNSET in (value if size else [value]):
            group.property_unset(name)
        else:
            setattr(group, name, [back(number, scene) for number in value] if size else back(value, scene))

    common: dict[str, Any] = {
        "name": label,
        "description": description,
        "unit": "TEMPERATURE" if unit == TEMPERATURE else "LENGTH",
        "precision": DECIMALS,
        "get": read,
        "set": write,
    }
    if size:
        return bpy.props.FloatVectorProperty(size=size, default=[UNSET] * size, **common)
    return bpy.props.FloatProperty(default=UNSET, **common)


def _ways(unit: str) -> tuple[Callable[[float, bpy.types.Scene], float], Callable[[float, bpy.types.Scene], float]]:
    """From a trade unit to what Blender keeps, and back."""
    if unit == TEMPERATURE:
        return lambda value, _: value + ZERO_CELSIUS, lambda value, _: _exact(value - ZERO_CELSIUS)
    meters = LENGTHS_M[unit]
    return (
        lambda value, scene: value * meters / meters_per_unit(scene),
        lambda value, scene: _exact(value * meters_per_unit(scene) / meters),
    )


def _exact(value: float) -> float:
    """Single precision as the decimal that was typed."""
    return float(f"{value:.6g}")


def _scene(group: Any) -> bpy.types.Scene:
    return group.id_data if isinstance(group.id_data, bpy.types.Scene) else bpy.context.scene
