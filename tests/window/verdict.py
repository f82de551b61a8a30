"""The whole path in the real window: a model in the wrong unit, one press, the verdict, Show, Fix, the plan that opens.

Asserts that Show frames the place and changes the picture, and that Fix takes the finding away. Run by `make window`;
pictures go to build/window, also in the light theme and at twice the size.
"""

from __future__ import annotations

import runpy
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import bpy
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Vector

shot, sidebar_tab, xdotool, viewport = (globals()[name] for name in ("shot", "sidebar_tab", "xdotool", "viewport"))
ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "build" / "window"
PATIENCE = 400.0  # s for what the window is to show
MIN_CHANGED_SHARE = 0.02  # of the viewport's pixels: Show turns the view and picks another map
MIN_WIDTH_SHARE = 0.01  # of the viewport that the place takes
PACKAGE = next(name for name in sys.modules if name.startswith("bl_ext.") and name.endswith(".platewright"))


def room(name: str) -> object:
    """One of the extension's modules, as it is installed."""
    return sys.modules[f"{PACKAGE}.suite.{name}"]


def imported() -> bpy.types.Object:
    """The demo part, in a scene in meters: as whoever has just opened Blender imports it."""
    bpy.ops.object.select_all(action="SELECT")
    bpy.ops.object.delete()
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    with tempfile.TemporaryDirectory() as folder:
        demo["write"](Path(folder, "Newel finial.stl"), demo["finial"]())
        bpy.ops.wm.stl_import(filepath=str(Path(folder, "Newel finial.stl")))
    return bpy.context.active_object


def until(holds: Callable[[], bool], otherwise: str) -> Iterator[float]:
    end = time.perf_counter() + PATIENCE
    while not holds():
        assert time.perf_counter() < end, otherwise
        yield 0.1


def press(operator: str, **options: object) -> Iterator[float]:
    """Run one of our operators as its button does, and see it to its end."""
    with bpy.context.temp_override(**viewport()):
        answer = getattr(bpy.ops.platewright, operator)("INVOKE_DEFAULT", True, **options)
    assert answer in ({"FINISHED"}, {"RUNNING_MODAL"}), f"{operator} {options}: {answer}"
    yield 0.1
    yield from until(lambda: not room("operators.work").running().busy(), f"{operator} does not end")
    yield 0.4


def judgment() -> object:
    return room("judged").judgment(room("session").session.find(bpy.context).study)


def codes() -> list[str]:
    return [one.code.value for one in judgment().verdict.changes]


def picture(name: str) -> Path:
    path = PICTURES / f"verdict_{name}.png"
    shot(str(path))
    return path


def pixels(path: Path) -> np.ndarray:
    """(h, w, 3) of the viewport's part of a picture, without the sidebar."""
    image = bpy.data.images.load(str(path))
    width, height = image.size
    found = np.array(image.pixels).reshape(height, width, -1)[:, : int(0.6 * width), :3]
    bpy.data.images.remove(image)
    return found


def place(finding: object) -> np.ndarray:
    """The faces that a finding is about."""
    study = room("session").session.find(bpy.context).study
    return sys.modules[f"{PACKAGE}.engine.verdict.places"].faces(finding, study)


def free() -> int:
    """Pixels of the viewport that the sidebar leaves free."""
    width = {region.type: region.width for region in viewport()["area"].regions}
    return width["WINDOW"] - width["UI"]


def framed(number: int) -> None:
    """The middle of the place lies inside the viewport, and its corners as well."""
    kept = room("session").session.find(bpy.context)
    surface = kept.study.surface
    faces = place(judgment().verdict.changes[number])
    assert len(faces), "the finding has no place"
    view = viewport()
    region, space = view["region"], view["area"].spaces.active
    points = surface.corners[faces].reshape(-1, 3) / bpy.context.scene.unit_settings.scale_length
    seen = [location_3d_to_region_2d(region, space.region_3d, Vector(point)) for point in points[::7]]
    inside = [p is not None and 0 <= p.x <= free() and 0 <= p.y <= region.height for p in seen]
    assert all(inside), f"{100 * np.mean(inside):.0f} % of the place is in view"
    wide = np.ptp(np.array([list(p) for p in seen]), axis=0).max() / min(region.width, region.height)
    assert wide > MIN_WIDTH_SHARE, f"the place takes {100 * wide:.1f} % of the view"
    eye = np.array(space.region_3d.view_matrix.inverted().translation) * bpy.context.scene.unit_settings.scale_length
    assert ((eye < surface.bounds[0]) | (eye > surface.bounds[1])).any(), "the eye stands inside the part's box"


def first_answer(start: float) -> Iterator[float]:
    """The first verdict while the rest is still computed."""
    session = room("session").session
    yield from until(lambda: session.find(bpy.context) is not None, "nothing is kept")
    print("seconds to the first verdict:", round(time.perf_counter() - start, 2))


def shown() -> Iterator[float]:
    """Show each of the changes that has a place."""
    before = pixels(picture("checked"))
    for number, one in enumerate(judgment().verdict.changes):
        yield from press("show_finding", number=number)
        after = pixels(picture(f"show_{number}"))
        if not len(place(one)):
            continue  # about the whole part
        framed(number)
        changed = float((np.abs(after - before).max(axis=2) > 0.1).mean())
        assert changed > MIN_CHANGED_SHARE, f"Show {one.code.value} changes {100 * changed:.1f} % of the view"
        before = after


def themes() -> Iterator[float]:
    """The same in the light theme, and at twice the size."""
    presets = [Path(folder, "interface_theme") for folder in bpy.utils.script_paths(subdir="presets")]
    light = next((p for folder in presets for p in folder.glob("*ight.xml")), None)
    view = bpy.context.preferences.view
    if light is not None:
        bpy.ops.script.execute_preset(filepath=str(light), menu_idname="USERPREF_MT_interface_theme_presets")
        yield 0.5
        picture("light")
    view.ui_scale = 2.0
    yield 1.0
    yield from press("show_finding", number=0)
    picture("double")
    framed(0)
    view.ui_scale = 1.0
    bpy.ops.preferences.reset_default_theme()
    yield 0.5


def steps() -> Iterator[float | None]:
    PICTURES.mkdir(parents=True, exist_ok=True)
    part = imported()
    yield 0.3
    sidebar_tab("Platewright")
    yield 0.5
    effort = bpy.context.scene.platewright.effort
    effort.rays, effort.directions, effort.panels = 8, 30, 300  # quick: what is looked at is the window
    assert room("judged").gate(bpy.context) is not None
    picture("gate")
    start = time.perf_counter()
    with bpy.context.temp_override(**viewport()):
        bpy.ops.platewright.fix("INVOKE_DEFAULT", True, number=-1)
    yield from first_answer(start)
    yield from until(lambda: room("operators.work").running().step.sentence.startswith("step 4"), "no fourth step")
    picture("running")
    yield from until(lambda: not room("operators.work").running().busy(), "the check does not end")
    print("seconds to the whole verdict:", round(time.perf_counter() - start, 2))
    yield 0.4
    assert np.allclose(part.scale, 0.001)
    assert codes()[0] == "gas-trapped", codes()
    assert bpy.context.window_manager.platewright.shown == "gas"
    yield from shown()
    yield from press("show_finding", number=0)
    number = codes().index("gas-trapped")
    yield from press("fix", number=number)
    assert "gas-trapped" not in codes(), codes()
    changes = room("judged").session.state(room("judged").Checks).changes
    assert any(getattr(one, "path", "") == "gas.trapped_mL" and one.judgment.value == "better" for one in changes)
    picture("fixed")
    yield from themes()
    yield from press("keep_state", name="hung anew")
    yield from press("plan")
    yield 0.5
    editors = [area for area in bpy.context.window.screen.areas if area.type == "TEXT_EDITOR"]
    assert len(editors) == 1 and editors[0].spaces.active.text.name.startswith("Plating plan")
    picture("plan")
    yield from press("drop_state", number=0)
    yield from press("normal")
    bpy.ops.ed.undo()
    yield 0.3
    assert bpy.context.scene.objects.get(part.name) is not None
