"""The handles of the setup, dragged with the real mouse: the level of the liquid and the arrow that is up in the bath.

Each drag changes its setting, and one undo takes it back. Run by `make window`.
"""

from __future__ import annotations

from collections.abc import Iterator

import bpy
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Euler, Vector

from hand import Hand, emptied, imported, kept, room

sidebar_tab, xdotool, viewport = (globals()[name] for name in ("sidebar_tab", "xdotool", "viewport"))
hand = Hand(globals())
PULL = 30.0  # pixels


def pixels(place: Vector) -> Vector:
    """Where a place of the scene is in the viewport."""
    return location_3d_to_region_2d(viewport()["region"], viewport()["area"].spaces.active.region_3d, place)


def dragged(start: Vector, end: Vector, name: str) -> Iterator[float]:
    """Hold the mouse at one place of the viewport, and let it go at another."""
    region = viewport()["region"]
    top = bpy.context.window.height - region.y

    def to(place: Vector) -> None:
        xdotool("mousemove", int(region.x + place.x), int(top - place.y))

    for place in (start + Vector((9.0, 9.0)), start):
        to(place)
        yield 0.5
    xdotool("mousedown", 1)
    yield 0.3
    for step in range(1, 7):
        to(start.lerp(end, step / 6))
        yield 0.2
    hand.picture(f"handles_{name}")
    xdotool("mouseup", 1)
    yield 0.5


def in_its_tank() -> None:
    """The demo part at its size, in its tank, with its gas known."""
    emptied()
    imported(0.001)
    with bpy.context.temp_override(**viewport()):
        space = viewport()["area"].spaces.active
        space.clip_start = 0.001
        space.region_3d.view_distance = 0.7
        space.region_3d.view_rotation = Euler((1.2, 0.0, 0.3)).to_quaternion()
        bpy.ops.platewright.study(only="gas, deposit")
        bpy.ops.platewright.tank()
    bpy.ops.object.select_all(action="DESELECT")
    bpy.ops.ed.undo_push(message="in its tank")


def steps() -> Iterator[float]:
    sidebar_tab("Platewright")
    in_its_tank()
    yield 0.8
    chosen = bpy.context.scene.platewright
    level, up = chosen.tank.level, tuple(chosen.part.up)
    sheet = room("draw.overlay_tank").level(bpy.context.scene)
    edge = pixels(Vector((0.5 * (sheet[0] + sheet[-1])).tolist()))
    yield from dragged(edge, edge - Vector((0.0, PULL)), "level")
    assert 0.3 * level < bpy.context.scene.platewright.tank.level < 0.95 * level, "the level does not follow the mouse"
    bpy.ops.ed.undo()
    yield 0.4
    assert bpy.context.scene.platewright.tank.level == level, "one undo does not take the drag back"
    with bpy.context.temp_override(**viewport()):
        carried = room("draw.overlay").carried(bpy.context)
        arrow = room("draw.overlay_setup").arrow(kept(), up)
    tip = pixels(carried @ Vector(arrow[1].tolist()))
    middle = pixels(carried @ Vector(kept().study.surface.bounds.mean(axis=0).tolist()))
    long = (tip - middle).length
    yield from dragged(tip, middle + Vector((long, 0.0)), "up")
    now = bpy.context.scene.platewright.part.up
    assert now[0] > 0.8, f"the arrow does not follow the mouse: {tuple(now)}"
    assert "gas" in kept().stale(bpy.context.scene), "what was found of another way up is out of date"
    bpy.ops.ed.undo()
    yield 0.4
    assert tuple(bpy.context.scene.platewright.part.up) == up
