"""In Blender's window: the guide's pictures of the demo part, into the folder that it is called with."""

from __future__ import annotations

import runpy
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import bpy
from mathutils import Euler, Vector

shot, sidebar_tab, maximise_viewport, viewport = (
    globals()[name] for name in ("shot", "sidebar_tab", "maximise_viewport", "viewport")
)
ROOT = Path(__file__).resolve().parents[1]
FOLDER = Path(sys.argv[1])
PATIENCE_S = 900.0
FROM_ABOVE, FROM_BELOW = 1.15, 1.85  # radians from straight above
SIDEBAR_DISTANCE, SIDEBAR_SHIFT = 1.25, 0.09  # times the distance, and of it
PANELS = 3000  # of the current distribution: enough for a picture
PACKAGE = next(name for name in sys.modules if name.startswith("bl_ext.") and name.endswith(".platewright"))


def room(name: str) -> object:
    return sys.modules[f"{PACKAGE}.suite.{name}"]


def until(holds: Callable[[], bool], otherwise: str) -> Iterator[float]:
    end = time.perf_counter() + PATIENCE_S
    while not holds():
        assert time.perf_counter() < end, otherwise
        yield 0.2


def press(operator: str, **options: object) -> Iterator[float]:
    """Run one of our operators as its button does, and see it to its end."""
    with bpy.context.temp_override(**viewport()):
        answer = getattr(bpy.ops.platewright, operator)("INVOKE_DEFAULT", True, **options)
    assert answer in ({"FINISHED"}, {"RUNNING_MODAL"}), f"{operator} {options}: {answer}"
    yield 0.2
    yield from until(lambda: not room("operators.work").running().busy(), f"{operator} does not end")
    yield 0.6


def imported() -> None:
    """The demo part alone, in a scene in millimeters."""
    bpy.ops.object.select_all(action="SELECT")
    bpy.ops.object.delete()
    bpy.context.scene.unit_settings.scale_length = 0.001
    bpy.context.scene.unit_settings.length_unit = "MILLIMETERS"
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    with tempfile.TemporaryDirectory() as folder:
        demo["write"](Path(folder, "Newel finial.stl"), demo["finial"]())
        bpy.ops.wm.stl_import(filepath=str(Path(folder, "Newel finial.stl")))
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
        bpy.context.space_data.clip_start, bpy.context.space_data.clip_end = 1.0, 10_000.0  # mm


def look(tilt: float) -> None:
    """At the part from its front, upright. tilt : radians from straight above"""
    with bpy.context.temp_override(**viewport()):
        bpy.context.region_data.view_rotation = Euler((tilt, 0.0, 0.3)).to_quaternion()
        bpy.ops.view3d.view_selected()


def beside_the_sidebar() -> None:
    """What is selected, a little smaller and to the left, so that the sidebar and the gizmo cover nothing of it."""
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
        eye = bpy.context.region_data
        eye.view_distance *= SIDEBAR_DISTANCE
        eye.view_location += SIDEBAR_SHIFT * eye.view_distance * (eye.view_rotation @ Vector((1.0, 0.0, 0.0)))


def take(name: str) -> Iterator[float]:
    yield 0.6
    shot(str(FOLDER / f"{name}.png"))


def steps() -> Iterator[float]:
    maximise_viewport()
    yield 1
    imported()
    sidebar_tab("Platewright")
    yield 0.5
    bpy.context.scene.platewright.effort.panels = PANELS
    yield from press("check")
    changes = room("judged").judgment(room("session").session.find(bpy.context).study).verdict.changes
    places = [number for number, one in enumerate(changes) if one.code.value in ("gas-trapped", "bubble-prone")]
    yield from press("show_finding", number=(places or [0])[0])
    yield from take("verdict")
    look(FROM_BELOW)
    yield from press("show", map_name="gas")
    bpy.context.window_manager.platewright.bodies = True
    yield from take("gas")
    bpy.context.window_manager.platewright.bodies = False
    look(FROM_ABOVE)
    yield from press("show", map_name="drop")
    yield from take("coat")
    yield from press("normal")
    yield from press("preview", number=0)
    copy = room("preview.preview_copy").current(bpy.context)[0]
    copy.select_set(True)
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
    yield from press("follow")
    copy.rotation_euler.x += 0.6
    yield 1
    beside_the_sidebar()
    yield from take("hanging")
    yield from press("follow")
    yield from press("preview_end")
