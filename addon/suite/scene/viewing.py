"""What the viewports show of the results.

It belongs to the window, not to the scene: it is no edit, not undoable, and not saved.
"""

from __future__ import annotations

from typing import Any

import bpy


class PLATEWRIGHT_PG_viewing(bpy.types.PropertyGroup):
    """What is shown now."""

    shown: bpy.props.StringProperty()  # the map that colors the part; "" for none
    bodies: bpy.props.BoolProperty(
        name="Show Trapped Gas",
        description="Draw trapped gas and drag-out as the volumes that they fill, seen through the walls",
    )
    cut_shown: bpy.props.BoolProperty(
        name="Show Cross-section", description="Draw the cross-section of the tank in the viewport"
    )
    guides: bpy.props.BoolProperty(
        name="Show Setup",
        description="Mark which way is up in the bath, the wires, the vents and the level of the liquid",
        default=True,
    )
    legend: bpy.props.BoolProperty(name="Show Legend", description="Draw the legend of the colors", default=True)
    own_limits: bpy.props.BoolProperty(
        name="Set Limits", description="Color between the two limits that you type, to compare parts in the same colors"
    )
    low: bpy.props.FloatProperty(name="Lower Limit", description="Value at the lower end of the legend")
    high: bpy.props.FloatProperty(name="Upper Limit", description="Value at the upper end of the legend", default=100.0)


def of(context: bpy.types.Context) -> Any:
    """What is shown in this window."""
    return context.window_manager.platewright


def clear(context: bpy.types.Context) -> None:
    """Nothing is shown, as in another file."""
    _reset(of(context))


def _reset(shown: Any) -> None:
    shown.shown, shown.bodies, shown.cut_shown, shown.own_limits = "", False, False, False


def register() -> None:
    bpy.utils.register_class(PLATEWRIGHT_PG_viewing)
    bpy.types.WindowManager.platewright = bpy.props.PointerProperty(type=PLATEWRIGHT_PG_viewing)


def unregister() -> None:
    for manager in bpy.data.window_managers:  # otherwise it would be wrong when the extension is enabled again
        _reset(manager.platewright)
    del bpy.types.WindowManager.platewright
    bpy.utils.unregister_class(PLATEWRIGHT_PG_viewing)
