"""Every panel, map and button in the real window, with the finial: no traceback, and all as it was in the end.

Run by `make window`; pictures go to build/window.
"""

from __future__ import annotations

import runpy
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import bpy
import numpy as np

shot, sidebar_tab, maximise_viewport, xdotool, viewport = (
    globals()[name] for name in ("shot", "sidebar_tab", "maximise_viewport", "xdotool", "viewport")
)
ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "build" / "window"
PACKAGE = next(name for name in sys.modules if name.startswith("bl_ext.") and name.endswith(".platewright"))


def rooms() -> tuple:
    """The extension's modules that are looked into, as they are installed."""
    return tuple(sys.modules[f"{PACKAGE}.suite.{name}"] for name in ("work", "session", "maps", "overlay"))


def fold(closed: bool) -> None:
    """Open what is closed by default, so that it is drawn as well, or close it again.

    The window knows a panel that it has shown by its name, so that an open one needs another name.
    """
    for cls in bpy.types.Panel.__subclasses__():
        if cls.__name__.startswith("PLATEWRIGHT_PT") and hasattr(cls, "bl_parent_id"):
            bpy.utils.unregister_class(cls)
            cls.bl_idname = cls.__name__ if closed else f"{cls.__name__}_open"
            cls.bl_options = {"DEFAULT_CLOSED"} if closed else set()
            bpy.utils.register_class(cls)


def part() -> bpy.types.Object:
    """The demo part, in a scene in millimetres."""
    bpy.ops.object.select_all(action="SELECT")
    bpy.ops.object.delete()
    bpy.context.scene.unit_settings.scale_length = 0.001
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    with tempfile.TemporaryDirectory() as folder:
        demo["write"](Path(folder, "Newel finial.stl"), demo["finial"]())
        bpy.ops.wm.stl_import(filepath=str(Path(folder, "Newel finial.stl")))
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
        bpy.context.space_data.clip_end = 10_000
    return bpy.context.active_object


def call(operator: str, **options: object) -> set[str]:
    """Run one of our operators as its button does."""
    with bpy.context.temp_override(**viewport()):
        return getattr(bpy.ops.platewright, operator)("INVOKE_DEFAULT", True, **options)


def wait() -> Iterator[float]:
    """Until the work at hand has ended."""
    work = rooms()[0]
    while work.Progress.busy():
        yield 0.2


def shading() -> dict[str, object]:
    found = viewport()["area"].spaces.active.shading
    return {name: getattr(found, name) for name in ("type", "light", "color_type", "show_shadows", "show_cavity")}


def pixel(path: Path, x: int, y: int) -> np.ndarray:
    """(3,) of a picture as displayed, from its upper left corner."""
    image = bpy.data.images.load(str(path))
    width, height = image.size
    start = 4 * ((height - 1 - y) * width + x)
    found = np.array(image.pixels[start : start + 3])
    bpy.data.images.remove(image)
    return found


def steps() -> Iterator[float | None]:
    PICTURES.mkdir(parents=True, exist_ok=True)
    work, session, maps, overlay = rooms()
    fold(closed=False)
    finial = part()
    yield 0.3
    sidebar_tab("Platewright")
    maximise_viewport()
    yield 0.5
    shot(str(PICTURES / "start.png"))
    before, effort = shading(), bpy.context.scene.platewright.effort

    call("measure")
    yield from wait()
    assert session.find(bpy.context).study.surface.closed
    assert call("study", only="hanging") == {"RUNNING_MODAL"}
    yield 0.3
    xdotool("mousemove", 600, 500)
    xdotool("key", "Escape")
    yield 0.5
    assert not work.Progress.busy(), "Esc does not cancel"
    assert "hanging" not in session.find(bpy.context).study.results
    effort.rays, effort.directions, effort.panels = 16, 50, 1000  # quick: what is looked at is the window
    call("study", only="")
    yield from wait()
    kept = session.find(bpy.context)
    shot(str(PICTURES / "measured.png"))
    print("seconds:", {name: round(time, 2) for name, time in kept.study.timings.items()})
    print("reasons:", dict(kept.study.reasons))

    for what in maps.available(kept.study):
        call("show", what=what)
        yield 0.5
        assert shading()["color_type"] == "VERTEX"
        assert not kept.stale(bpy.context.scene), "colours make the study stale"
        shot(str(PICTURES / f"map_{what}.png"))
    call("show", what="gas")
    yield 0.5
    shot(str(PICTURES / "map_gas.png"))
    wetted = maps.colour.encoded(maps.colour.ramp([1.0]))[0]
    x, y = bpy.context.window.width * 2 // 5, bpy.context.window.height * 3 // 5
    found = pixel(PICTURES / "map_gas.png", x, y)
    assert np.abs(found - wetted).max() < 0.15, f"a wetted face is {found}, its place in the legend {wetted}"

    bpy.ops.ed.undo()
    yield 0.3
    bpy.ops.ed.undo()
    yield 0.3
    bpy.ops.ed.redo()
    yield 0.3
    assert bpy.context.scene.platewright.shown == maps.available(kept.study)[-1]
    call("normal")
    yield 0.3
    assert shading() == before, f"the shading was {before} and is {shading()}"
    assert not overlay._shown
    call("jump", kind="POCKET", number=0)
    yield 0.5
    call("plan")
    assert len(bpy.data.texts[-1].as_string()) > 1000
    with bpy.context.temp_override(**viewport()):
        bpy.ops.platewright.picture(filepath=str(PICTURES / "client.png"))
    finial = bpy.context.scene.objects[finial.name]
    for turn in range(3):
        xdotool("mousemove", bpy.context.window.width - 150, 500)
        for _ in range(12):
            xdotool("click", 5)
        yield 0.6
        shot(str(PICTURES / f"lower_{turn + 1}.png"))
    call("remove")
    fold(closed=True)
    assert not [a.name for a in finial.data.attributes if a.name.startswith("platewright")]
