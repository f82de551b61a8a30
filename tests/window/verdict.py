"""The whole path with the real mouse and keys: from an empty file to the open plan in three presses.

Imported by Blender's own File > Import, a file in millimeters is a thousand times too large: the first press scales it
and checks it, the second is Fix, the third writes the plan. Between them Show frames each place and changes the picture;
Fix takes its finding away. Pictures of both themes at once and twice the size go to build/window. Run by `make window`.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator

import bpy
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Vector

from hand import Hand, busy, coarse, demo_file, emptied, engine, idle, kept, light_theme, pixels, room, until

sidebar_tab, viewport = (globals()[name] for name in ("sidebar_tab", "viewport"))
hand = Hand(globals())
MIN_CHANGED_SHARE = 0.02  # of the viewport's pixels: Show turns the view and picks another map
MIN_WIDTH_SHARE = 0.01  # of the viewport that the place takes
SCALE = -1  # the number of the change that is the scale


def judgment() -> object:
    return room("judged").judgment(kept().study)


def codes() -> list[str]:
    return [one.code.value for one in judgment().verdict.changes]


def view_of(name: str) -> np.ndarray:
    """The viewport's part of a picture, without the sidebar."""
    found = pixels(hand.picture(f"verdict_{name}"))
    return found[:, : int(0.6 * found.shape[1])]


def place(finding: object) -> np.ndarray:
    """The faces that a finding is about."""
    return engine("verdict.places").faces(finding, kept().study)


def free() -> int:
    """Pixels of the viewport that the sidebar leaves free."""
    width = {region.type: region.width for region in viewport()["area"].regions}
    return width["WINDOW"] - width["UI"]


def hidden_below(region: bpy.types.Region) -> float:
    """Pixels at the lower edge that the legend covers, where it reaches to the middle of what is free."""
    legend, size = room("draw.legend"), bpy.context.preferences.system.ui_scale
    left, bottom = legend.corner(viewport()["area"], size)
    reach = left + (legend.room(viewport()["area"], left, size) + 2 * legend.EDGE) * size
    return bottom + legend.HEIGHT * size if reach > 0.5 * free() else 0.0


def in_view(corners: np.ndarray) -> list[Vector]:
    """Pixels of corners of the part, all of which lie inside what the viewport leaves free. corners : meters"""
    view = viewport()
    region, space = view["region"], view["area"].spaces.active
    points = corners.reshape(-1, 3) / bpy.context.scene.unit_settings.scale_length
    seen = [location_3d_to_region_2d(region, space.region_3d, Vector(point)) for point in points[::7]]
    low = hidden_below(region)
    inside = [p is not None and 0 <= p.x <= free() and low <= p.y <= region.height for p in seen]
    assert all(inside), f"{len(inside) - sum(inside)} of {len(inside)} corners are out of view"
    return seen


def framed(number: int) -> None:
    """The middle of the place lies inside the viewport, and its corners as well."""
    surface, faces = kept().study.surface, place(judgment().verdict.changes[number])
    assert len(faces), "the finding has no place"
    seen = in_view(surface.corners[faces])
    region, space = viewport()["region"], viewport()["area"].spaces.active
    wide = np.ptp(np.array([list(p) for p in seen]), axis=0).max() / min(region.width, region.height)
    assert wide > MIN_WIDTH_SHARE, f"the place takes {100 * wide:.1f} % of the view"
    eye = np.array(space.region_3d.view_matrix.inverted().translation) * bpy.context.scene.unit_settings.scale_length
    assert ((eye < surface.bounds[0]) | (eye > surface.bounds[1])).any(), "the eye stands inside the part's box"


def checked() -> Iterator[float]:
    """The first verdict while the rest is still computed, and the whole."""
    start = hand.clicked_at
    yield from until(lambda: kept() is not None, "nothing is kept: the mouse does not reach the button", every=0.5)
    print("seconds to the first verdict:", round(time.perf_counter() - start, 2))
    yield from until(
        lambda: not busy() or room("operators.work").running().step.sentence.startswith("step 4"),
        "no fourth step",
        every=1.0,
    )
    hand.picture("verdict_running")
    yield from idle("the check does not end")
    print("seconds to the whole verdict:", round(time.perf_counter() - start, 2))


def shown() -> Iterator[float]:
    """Show each of the changes that has a place, with the mouse."""
    before = view_of("checked")
    for number, one in enumerate(judgment().verdict.changes):
        if not len(place(one)):
            continue  # about the whole part
        yield from hand.click(f"show_finding(number={number})")
        yield 0.3
        after = view_of(f"show_{number}")
        framed(number)
        changed = float((np.abs(after - before).max(axis=2) > 0.1).mean())
        assert changed > MIN_CHANGED_SHARE, f"Show {one.code.value} changes {100 * changed:.1f} % of the view"
        before = after


def looks() -> Iterator[float]:
    """Both themes, at once and twice the size; Show frames its place at twice the size as well."""
    for theme in ("dark", "light"):
        if theme == "light" and not light_theme():
            continue
        for scale in (1.0, 2.0):
            bpy.context.preferences.view.ui_scale = scale
            yield 0.8
            hand.picture(f"verdict_{theme}_{scale:.0f}x")
            if theme == "dark":
                yield from hand.press("show_finding", number=0)
                framed(0)
    bpy.context.preferences.view.ui_scale = 1.0
    bpy.ops.preferences.reset_default_theme()
    yield 0.5


def fixed() -> Iterator[float]:
    """The second press: the gas is gone, and the tab says that this is better."""
    number, before = codes().index("gas-trapped"), kept()
    yield from hand.click(f"fix(number={number})")
    yield from until(lambda: kept() is not before, "the mouse does not reach Fix", every=0.5)
    yield from idle("the fix is not checked to its end")
    assert "gas-trapped" not in codes(), codes()
    changes = room("session").session.state(room("judged").Checks).changes
    assert any(getattr(one, "path", "") == "gas.trapped_mL" and one.judgment.value == "better" for one in changes)


def planned(press: Iterator[float], name: str) -> Iterator[float]:
    """The plan opens beside the part."""
    yield from press
    screen = bpy.context.window.screen
    yield from until(lambda: any(area.type == "TEXT_EDITOR" for area in screen.areas), "the plan does not open")
    yield 0.5
    editors = [area for area in screen.areas if area.type == "TEXT_EDITOR"]
    assert len(editors) == 1 and editors[0].spaces.active.text.name.startswith("Plating plan")
    hand.picture(f"verdict_{name}")
    in_view(kept().study.surface.corners)  # the part is seen whole beside it


def steps() -> Iterator[float | None]:
    emptied()
    sidebar_tab("Platewright")
    coarse()
    yield 0.5
    with tempfile.TemporaryDirectory() as folder:
        path = demo_file(folder)
        yield from hand.searched("import stl")
        yield from hand.chosen_file(path)
    part = bpy.context.active_object
    assert part is not None and room("judged").gate(bpy.context) is not None
    hand.picture("verdict_gate")
    yield from hand.click(f"fix(number={SCALE})")
    yield from checked()
    assert np.allclose(part.scale, 0.001)
    assert codes()[0] == "gas-trapped", codes()
    assert bpy.context.window_manager.platewright.shown == "gas", "the worst map is not shown"
    overlays = room("session").session.state(room("draw.overlay").Overlays).shown
    assert overlays[0].inside, "gas that the view does not see is not seen through the wall"
    yield from shown()
    yield from looks()
    yield from fixed()
    hand.picture("verdict_fixed")
    yield from hand.press("keep_state", name="hung anew")
    yield from planned(hand.click("plan()"), "plan")
    yield from planned(hand.searched("write plan"), "searched")
    yield from hand.press("drop_state", number=0)
    yield from hand.press("normal")
    hand.xdotool("mousemove", *hand.middle())
    yield 0.3
    hand.xdotool("key", "ctrl+z")
    yield 0.5
    assert bpy.context.scene.objects.get(part.name) is not None
