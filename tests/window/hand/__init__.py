"""What the scripts of the window share: press as a button does, or with the real mouse and keys, and wait for what comes.

A button is found as a person finds it: the mouse goes down the sidebar until Blender says that it is on it.
"""

from __future__ import annotations

import runpy
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import bpy
import numpy as np

ROOT = Path(__file__).resolve().parents[3]
PICTURES = ROOT / "build" / "window"
PATIENCE_S = 400.0  # for what the window is to show
HOVER_S, HOVER_TICKS = 0.05, 2  # until Blender has seen where the mouse is, however slow it draws
SWEEP_POINTS = 12  # of the interface, down the sidebar between two looks; a button is 20 high
ACROSS = (0.18, 0.72)  # of the sidebar's width: where the left and the right of two buttons in a row are
QUESTION_MARK = 62  # points from the sidebar's right edge, in a panel's header
WHEEL_TURNS = 12  # over the sidebar: the last panel's end comes into view
PACKAGE = next(name for name in sys.modules if name.startswith("bl_ext.") and name.endswith(".platewright"))


def room(name: str) -> Any:
    """One of the extension's modules above the engine, as it is installed."""
    return sys.modules[f"{PACKAGE}.suite.{name}"]


def engine(name: str) -> Any:
    """One of the engine's modules, as it is installed."""
    return sys.modules[f"{PACKAGE}.engine.{name}"]


def kept() -> Any:
    """What is kept about the part."""
    return room("session").session.find(bpy.context)


def busy() -> bool:
    """Whether some work runs."""
    return room("operators.work").running().busy()


def until(holds: Callable[[], bool], otherwise: str, every: float = 0.1) -> Iterator[float]:
    """Wait until something holds. every : s between two looks; at each all is drawn anew"""
    end = time.perf_counter() + PATIENCE_S
    while not holds():
        assert time.perf_counter() < end, otherwise
        yield every


def idle(otherwise: str) -> Iterator[float]:
    """Wait until no work runs, without taking its time."""
    yield from until(lambda: not busy(), otherwise, every=1.0)
    yield 0.3


def emptied() -> None:
    """Nothing in the scene, and a folder for the pictures."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    bpy.ops.object.select_all(action="SELECT")
    bpy.ops.object.delete()


def demo_file(folder: str) -> Path:
    """The demo part as a file whose numbers are millimeters."""
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    path = Path(folder, "Newel finial.stl")
    demo["write"](path, demo["finial"]())
    return path


def imported(scale: float) -> bpy.types.Object:
    """The demo part, by Blender's own operator. scale : what the file's numbers are multiplied with"""
    with tempfile.TemporaryDirectory() as folder:
        bpy.ops.wm.stl_import(filepath=str(demo_file(folder)), global_scale=scale)
    return bpy.context.active_object


def coarse(panels: int = 300) -> None:
    """Calculations that take little time: what is looked at is the window."""
    effort = bpy.context.scene.platewright.effort
    effort.rays, effort.directions, effort.panels = 8, 30, panels


def light_theme() -> bool:
    """Set Blender's own light theme; False where this Blender has none."""
    presets = [Path(folder, "interface_theme") for folder in bpy.utils.script_paths(subdir="presets")]
    light = next((path for folder in presets for path in folder.glob("*ight.xml")), None)
    if light is not None:
        bpy.ops.script.execute_preset(filepath=str(light), menu_idname="USERPREF_MT_interface_theme_presets")
    return light is not None


def pixels(path: Path) -> np.ndarray:
    """(h, w, 3) of a picture, its lowest row first."""
    image = bpy.data.images.load(str(path))
    width, height = image.size
    found = np.array(image.pixels).reshape(height, width, -1)[:, :, :3]
    bpy.data.images.remove(image)
    return found


class Hand:
    """The mouse and the keys of one script.

    scope : the script's globals, where what drives Blender has put its functions
    """

    def __init__(self, scope: dict[str, Any]) -> None:
        self.shot, self.xdotool, self.viewport = (scope[name] for name in ("shot", "xdotool", "viewport"))
        self.clicked_at = 0.0  # s of the clock

    def picture(self, name: str) -> Path:
        """Save what the window shows."""
        path = PICTURES / f"{name}.png"
        self.shot(str(path))
        return path

    def call(self, operator: str, how: str = "INVOKE_DEFAULT", **options: object) -> set[str]:
        """Run one of our operators as its button does."""
        with bpy.context.temp_override(**self.viewport()):
            return getattr(bpy.ops.platewright, operator)(how, True, **options)

    def press(self, operator: str, how: str = "INVOKE_DEFAULT", **options: object) -> Iterator[float]:
        """Run one, see it to its end, and let the window draw what came of it."""
        answer = self.call(operator, how, **options)
        assert answer in ({"FINISHED"}, {"RUNNING_MODAL"}), f"{operator} {options}: {answer}"
        yield 0.1
        yield from idle(f"{operator} does not end")

    def middle(self) -> tuple[int, int]:
        """A place of the window left of the viewport's middle, clear of the sidebar."""
        region = self.viewport()["region"]
        return region.x + region.width // 3, bpy.context.window.height - region.y - region.height // 2

    def searched(self, words: str) -> Iterator[float]:
        """Run an operator as whoever does not know its place: F3, its name, Enter."""
        self.xdotool("mousemove", *self.middle())
        yield 0.3
        self.xdotool("key", "F3")
        yield 0.6
        self.xdotool("type", "--delay", "60", words)
        yield 0.8
        self.xdotool("key", "Return")
        yield 0.5

    def click(self, command: str) -> Iterator[float]:
        """Click the button of the sidebar that runs a command, written as Blender copies it: "check()"."""
        yield from self._over(f"bpy.ops.platewright.{command}")
        self.clicked_at = time.perf_counter()
        self.xdotool("click", 1)
        yield 0.3
        self.xdotool("mousemove", *self.middle())  # away, or Blender lights up what comes to stand below it
        yield 0.2

    def open_panel(self, page: str) -> Iterator[float]:
        """Click the header of the closed panel whose question mark opens a page of the guide, and turn the wheel down."""
        sidebar = self._sidebar()
        share = 1.0 - QUESTION_MARK * bpy.context.preferences.system.ui_scale / sidebar.width
        yield from self._over(f'bpy.ops.platewright.help(page="{page}")', across=(share,))
        self.xdotool("mousemove_relative", "--", -int((share - ACROSS[0]) * sidebar.width), 0)
        yield 0.2
        self.xdotool("click", 1)
        yield 0.8
        self.xdotool("click", "--repeat", WHEEL_TURNS, 5)
        yield 0.8

    def _over(self, command: str, across: tuple[float, ...] = ACROSS) -> Iterator[float]:
        sidebar = self._sidebar()
        size = bpy.context.preferences.system.ui_scale
        top = bpy.context.window.height - sidebar.y - sidebar.height
        seen = set()
        for down in np.arange(24.0, sidebar.height / size, SWEEP_POINTS) * size:
            for share in across:
                x, y = int(sidebar.x + share * sidebar.width), int(top + down)
                self.xdotool("mousemove", x - 3, y, "mousemove", x, y)  # the first leaves the button before
                for _ in range(HOVER_TICKS):
                    yield HOVER_S
                    seen.add(self._command_under_mouse())
                    if command in seen:
                        return
        raise AssertionError(f"the mouse finds no {command}; it finds {sorted(seen)}")

    def _sidebar(self) -> bpy.types.Region:
        return next(one for one in self.viewport()["area"].regions if one.type == "UI")

    def _command_under_mouse(self) -> str:
        """What the button under the mouse runs; "" where there is none, or it is gray."""
        view = self.viewport()
        bpy.context.window_manager.clipboard = ""
        with bpy.context.temp_override(window=view["window"], area=view["area"], region=self._sidebar()):
            if not bpy.ops.ui.copy_python_command_button.poll():
                return ""
            bpy.ops.ui.copy_python_command_button()
        return bpy.context.window_manager.clipboard

    def chosen_file(self, path: Path) -> Generator[float, None, None]:
        """Paste a path into the file browser that has opened, and press Enter."""
        windows = bpy.context.window_manager.windows
        yield from until(lambda: len(windows) > 1, "no file browser opens")
        yield 1.0
        browser = windows[-1]
        bar = next(one for one in browser.screen.areas[0].regions if one.type == "UI")
        left, top = self._place(browser)
        x, y = left + bar.x + int(0.4 * bar.width), top + browser.height - bar.y - bar.height // 2
        bpy.context.window_manager.clipboard = str(path)
        self.xdotool("mousemove", x, y)
        yield 0.5
        self.xdotool("key", "ctrl+v")
        yield 0.5
        self.xdotool("mousemove", x, y + 200)
        yield 0.3
        self.xdotool("key", "Return")
        yield from until(lambda: len(windows) == 1, "the file browser stays open")
        yield 0.5

    @staticmethod
    def _place(browser: bpy.types.Window) -> tuple[int, int]:
        """The upper left corner of a window on the display, pixels."""

        def told(*words: str) -> str:
            return subprocess.run(["xdotool", *words], capture_output=True, text=True, check=True).stdout

        for one in told("search", "--name", "Blender").split():
            lines = dict(line.split("=", 1) for line in told("getwindowgeometry", "--shell", one).split())
            if (int(lines["WIDTH"]), int(lines["HEIGHT"])) == (browser.width, browser.height):
                return int(lines["X"]), int(lines["Y"])
        raise AssertionError("the display has no such window")
