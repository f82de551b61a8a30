"""From an empty file to the plan in three presses, with the real mouse and keys: import, Check Part, Write Plan.

The file browser is no part of it: the model is imported by Blender's own operator, in millimeters. Pictures of the light
and the dark theme at once and twice the size go to build/window. Run by `make window`.
"""

from __future__ import annotations

import runpy
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import bpy

shot, sidebar_tab, xdotool, viewport = (globals()[name] for name in ("shot", "sidebar_tab", "xdotool", "viewport"))
ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "build" / "window"
PATIENCE = 400.0  # s for what the window is to show
BUTTON = 78  # points from the sidebar's upper edge down to the button that checks the part
PACKAGE = next(name for name in sys.modules if name.startswith("bl_ext.") and name.endswith(".platewright"))


def room(name: str) -> object:
    """One of the extension's modules, as it is installed."""
    return sys.modules[f"{PACKAGE}.suite.{name}"]


def until(holds: Callable[[], bool], otherwise: str) -> Iterator[float]:
    end = time.perf_counter() + PATIENCE
    while not holds():
        assert time.perf_counter() < end, otherwise
        yield 0.1


def imported() -> None:
    """The first press: the demo part from its file, whose numbers are millimeters."""
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    with tempfile.TemporaryDirectory() as folder:
        demo["write"](Path(folder, "Newel finial.stl"), demo["finial"]())
        bpy.ops.wm.stl_import(filepath=str(Path(folder, "Newel finial.stl")), global_scale=0.001)
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
        bpy.context.space_data.clip_start = 0.001


def clicked(down: float) -> Iterator[float]:
    """Click the middle of the sidebar, so many points below its upper edge."""
    region = next(one for one in viewport()["area"].regions if one.type == "UI")
    size = bpy.context.preferences.system.ui_scale
    x, y = region.x + 0.45 * region.width, bpy.context.window.height - region.y - region.height + down * size
    xdotool("mousemove", int(x), int(y))
    yield 0.4
    xdotool("click", 1)
    yield 0.2
    xdotool("mousemove", 5, int(y))  # away, or Blender lights up what comes to stand below it
    yield 0.2


def searched(words: str) -> Iterator[float]:
    """Run an operator as whoever does not know its place: F3, its name, Enter."""
    region = viewport()["region"]
    xdotool("mousemove", region.x + region.width // 3, bpy.context.window.height - region.y - region.height // 2)
    yield 0.3
    xdotool("key", "F3")
    yield 0.6
    xdotool("type", "--delay", "60", words)
    yield 0.8
    xdotool("key", "Return")
    yield 0.3


def looks() -> Iterator[float]:
    """The verdict in both themes, at once and twice the size."""
    presets = [Path(folder, "interface_theme") for folder in bpy.utils.script_paths(subdir="presets")]
    light = next((p for folder in presets for p in folder.glob("*ight.xml")), None)
    for theme in ("dark", "light"):
        if theme == "light" and light is not None:
            bpy.ops.script.execute_preset(filepath=str(light), menu_idname="USERPREF_MT_interface_theme_presets")
        for scale in (1.0, 2.0):
            bpy.context.preferences.view.ui_scale = scale
            yield 0.8
            shot(str(PICTURES / f"presses_{theme}_{scale:.0f}x.png"))
    bpy.context.preferences.view.ui_scale = 1.0
    bpy.ops.preferences.reset_default_theme()
    yield 0.5


def steps() -> Iterator[float | None]:
    PICTURES.mkdir(parents=True, exist_ok=True)
    bpy.ops.object.select_all(action="SELECT")
    bpy.ops.object.delete()
    effort = bpy.context.scene.platewright.effort
    effort.rays, effort.directions, effort.panels = 8, 30, 300  # quick: what is looked at is the window
    sidebar_tab("Platewright")
    yield 0.5
    imported()
    yield 0.5
    work, session = room("operators.work"), room("session").session
    yield from clicked(BUTTON)
    yield from until(lambda: session.find(bpy.context) is not None, "the mouse does not reach Check Part")
    yield from until(lambda: not work.running().busy(), "the check does not end")
    yield 0.4
    assert room("judged").judgment(session.find(bpy.context).study).verdict.changes
    assert bpy.context.window_manager.platewright.shown == "gas", "the worst map is not shown"
    overlays = room("session").session.state(room("draw.overlay").Overlays).shown
    assert overlays[0].inside, "gas that the view does not see is not seen through the wall"
    yield from looks()
    yield from searched("write plan")
    found = [area for window in bpy.context.window_manager.windows for area in window.screen.areas]
    yield from until(
        lambda: any(area.type == "TEXT_EDITOR" for w in bpy.context.window_manager.windows for area in w.screen.areas),
        f"F3 does not open the plan; there are {[area.type for area in found]}",
    )
    yield 0.5
    shot(str(PICTURES / "presses_plan.png"))
    assert any(text.name.startswith("Plating plan") for text in bpy.data.texts)
