"""Esc and the right button in each tool that asks for the mouse, by real keys: nothing is changed, nothing is left to
undo, the words in the status bar are gone. Then Ctrl Z after each button that changes the scene. Run by `make window`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import bpy
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Euler, Vector

from hand import Hand, busy, coarse, emptied, imported, kept, pixels, room, until

sidebar_tab, viewport = (globals()[name] for name in ("sidebar_tab", "viewport"))
hand = Hand(globals())
STATUS_BAR = 20  # pixels, at the window's lower edge
MARK = 0.02  # m, where the part is moved to, as the last thing that the user did


def scene_now() -> dict[str, Any]:
    """Objects where they stand, and every setting."""
    scene = bpy.context.scene
    things = {
        o.name: (
            np.round(o.matrix_world, 6).tolist(),
            o.platewright.role,
            len(o.data.vertices) if o.type == "MESH" else 0,
        )
        for o in scene.objects
    }
    return {"objects": things, "settings": room("scene.settings").table(scene)}


def seen_now() -> tuple[list[float], ...]:
    """Where the viewport looks from."""
    region = viewport()["area"].spaces.active.region_3d
    return tuple(np.round(np.ravel(v), 5).tolist() for v in (region.view_location, region.view_distance))


def differing(before: dict[str, Any], now: dict[str, Any]) -> list[str]:
    return [f"{key}: {before[key]} -> {now[key]}" for key in before if before[key] != now[key]]


def status() -> np.ndarray:
    return pixels(hand.picture("cancel_status"))[:STATUS_BAR]


def alike(one: np.ndarray, other: np.ndarray) -> bool:
    return bool((np.abs(one - other).max(axis=2) < 0.1).all())


def over(place: tuple[int, int]) -> Iterator[float]:
    for shift in (5, 0):
        hand.xdotool("mousemove", place[0] + shift, place[1])
        yield 0.2


def marked() -> None:
    """The user's own last step: the part is moved."""
    bpy.context.scene.platewright.objects[0].object.location.y = MARK
    bpy.ops.ed.undo_push(message="moved")


def taken_back() -> Iterator[float]:
    """One Ctrl Z takes back the user's own step: the tool has left none on top of it."""
    yield from over(hand.middle())
    hand.xdotool("key", "ctrl+z")
    part = bpy.context.scene.platewright.objects[0].object.name
    yield from until(lambda: bpy.context.scene.objects[part].location.y == 0, "Ctrl Z takes back what the tool left")


def ended(name: str, start: Callable[[], object], runs: Callable[[], bool], how: tuple[str, str]) -> Iterator[float]:
    """A tool is begun, the mouse moved over the part, and the tool ended by a key or a button."""
    marked()
    yield from over(hand.middle())
    before, seen, quiet = scene_now(), seen_now(), status()
    start()
    yield 0.4
    assert runs(), f"{name} does not begin"
    yield from over(hand.middle())
    yield 0.3
    hand.picture(f"cancel_{name}")
    told = status()
    assert not alike(told, quiet), f"{name} says nothing in the status bar"
    hand.xdotool(*how)
    yield from until(lambda: not runs(), f"{how} does not end {name}")
    yield from over(hand.middle())
    yield 0.5
    assert not differing(before, scene_now()), f"{name}, {how}: {differing(before, scene_now())}"
    assert seen == seen_now(), f"{name}, {how}: the view was {seen} and is {seen_now()}"
    assert not alike(status(), told), f"{name}, {how}: its words stay in the status bar"
    yield from taken_back()
    print(f"{name} ended by {how[1]}: nothing changed")


def modal() -> bool:
    return any("PLATEWRIGHT" in one.bl_idname for one in bpy.context.window.modal_operators)


def canceled() -> Iterator[float]:
    escape, right = ("key", "Escape"), ("click", "3")
    for name in ("probe", "place_wire", "scrub"):
        for how in (escape, right):
            yield from ended(name, lambda name=name: hand.call(name), modal, how)
    bpy.context.scene.platewright.effort.rays = 256
    yield from ended("study", lambda: hand.call("study", only="openness"), busy, escape)
    bpy.context.scene.platewright.effort.rays = 8


def pixels_of(place: Vector) -> Vector:
    return location_3d_to_region_2d(viewport()["region"], viewport()["area"].spaces.active.region_3d, place)


def handles_let_go() -> Iterator[float]:
    """A handle that is dragged and let go by Esc or the right button stands where it stood."""
    region = viewport()["region"]
    top = bpy.context.window.height - region.y
    for how in (("key", "Escape"), ("click", "3")):
        marked()
        yield 0.3
        with bpy.context.temp_override(**viewport()):
            carried = room("draw.overlay").carried(bpy.context)
            up = np.array(bpy.context.scene.platewright.part.up)
            tip = pixels_of(carried @ Vector(room("draw.overlay_setup").arrow(kept(), up)[1].tolist()))
        before = scene_now()
        yield from over((int(region.x + tip.x), int(top - tip.y)))
        yield 0.3
        hand.xdotool("mousedown", 1)
        yield 0.3
        for step in range(1, 5):
            hand.xdotool("mousemove", int(region.x + tip.x) + 15 * step, int(top - tip.y) + 8 * step)
            yield 0.2
        assert differing(before, scene_now()), "the handle does not follow the mouse"
        hand.xdotool(*how)
        yield 0.4
        hand.xdotool("mouseup", 1)
        yield 0.4
        assert not differing(before, scene_now()), f"a handle, {how}: {differing(before, scene_now())}"
        yield from taken_back()
        print(f"handle ended by {how[1]}: nothing changed")


def undone() -> Iterator[float]:
    """One Ctrl Z takes back what one button did."""
    changes: tuple[tuple[str, str, dict[str, object]], ...] = (
        ("tank", "INVOKE_DEFAULT", {}),
        ("anode", "INVOKE_DEFAULT", {}),
        ("suggest_wires", "INVOKE_DEFAULT", {"number": 2}),
        ("take_way_up", "INVOKE_DEFAULT", {"number": 1}),
        ("up_from_view", "INVOKE_DEFAULT", {}),
        ("preview", "INVOKE_DEFAULT", {"number": 1}),
        ("rack", "EXEC_DEFAULT", {"count": 3}),
        ("quality", "INVOKE_DEFAULT", {"level": "FINE"}),
        ("take_target", "EXEC_DEFAULT", {"thickness": 31.0, "density": 1.7}),
        ("inset", "INVOKE_DEFAULT", {}),
        ("mark_holes", "INVOKE_DEFAULT", {}),
        ("fix", "INVOKE_DEFAULT", {"number": 0}),
    )
    for name, how, options in changes:
        bpy.ops.ed.undo_push(message="before")
        before = scene_now()
        with bpy.context.temp_override(**viewport()):
            ready = getattr(bpy.ops.platewright, name).poll()
        if not ready:
            print(f"{name} is gray here")
            continue
        yield from hand.press(name, how, **options)
        assert differing(before, scene_now()), f"{name} changes nothing"
        yield from over(hand.middle())
        hand.xdotool("key", "ctrl+z")
        yield 0.8
        assert not differing(before, scene_now()), f"Ctrl Z after {name}: {differing(before, scene_now())}"
        print(f"{name}: taken back")


def steps() -> Iterator[float | None]:
    emptied()
    imported(0.001)
    coarse()
    with bpy.context.temp_override(**viewport()):
        space = viewport()["area"].spaces.active
        space.clip_start = 0.001
        space.region_3d.view_distance = 0.7
        space.region_3d.view_rotation = Euler((1.2, 0.0, 0.3)).to_quaternion()
    sidebar_tab("Platewright")
    yield 0.5
    yield from hand.press("check")
    yield from canceled()
    yield from handles_let_go()
    yield from undone()
