"""A lump like a sculpt, of 100 000 triangles, in the real window: how long the first answer and a redraw take, and how
often a second gas and liquid recolor while it is turned."""

from __future__ import annotations

import time
from collections.abc import Iterator

import bpy
import numpy as np

from hand import Hand, busy, emptied, kept, room, until

sidebar_tab, maximise_viewport, viewport = (
    globals()[name] for name in ("sidebar_tab", "maximise_viewport", "viewport")
)
hand = Hand(globals())
TURNED = 4.0  # s
AROUND, ROWS = 316, 159  # some 100 000 triangles


def lump() -> bpy.types.Object:
    """A ball with hollows and bumps, 80 mm across, in a scene in meters."""
    latitude = np.linspace(0, np.pi, ROWS + 1)[1:-1, None]
    longitude = np.arange(AROUND) * 2 * np.pi / AROUND
    unit = np.stack(
        [np.sin(latitude) * np.cos(longitude), np.sin(latitude) * np.sin(longitude), np.cos(latitude) + 0 * longitude],
        -1,
    )
    unit = np.vstack([[(0, 0, 1)], unit.reshape(-1, 3), [(0, 0, -1)]])
    random = np.random.default_rng(7)
    radius = np.full(len(unit), 0.04)
    for _ in range(40):
        middle = random.normal(size=3)
        near = np.exp((unit @ (middle / np.linalg.norm(middle)) - 1) / random.uniform(0.005, 0.05))
        radius += random.choice([-0.008, 0.006]) * near
    row = 1 + AROUND * np.arange(ROWS - 2)[:, None] + np.arange(AROUND)
    right = 1 + AROUND * np.arange(ROWS - 2)[:, None] + (np.arange(AROUND) + 1) % AROUND
    first, last = 1 + np.arange(AROUND), len(unit) - 1 - AROUND + np.arange(AROUND)
    faces = [(0, a, b) for a, b in zip(first, np.roll(first, -1), strict=True)]
    faces += [(len(unit) - 1, b, a) for a, b in zip(last, np.roll(last, -1), strict=True)]
    faces += np.stack([row, row + AROUND, right], -1).reshape(-1, 3).tolist()
    faces += np.stack([right, row + AROUND, right + AROUND], -1).reshape(-1, 3).tolist()
    mesh = bpy.data.meshes.new("Lump")
    mesh.from_pydata((unit * radius[:, None]).tolist(), [], faces)
    made = bpy.data.objects.new("Lump", mesh)
    bpy.context.scene.collection.objects.link(made)
    return made


def timed(words: str, call: object, **options: object) -> None:
    start = time.perf_counter()
    call(**options)
    print(f"{words}: {time.perf_counter() - start:.2f} s")


def checked() -> Iterator[float]:
    """The whole check in draft quality: when the first verdict stands there, and when the last."""
    hand.call("quality", level="DRAFT")
    start, used = time.perf_counter(), time.process_time()
    hand.call("check")
    for words, holds, every in (  # to look is to draw anew, which takes the check's time
        ("first verdict", lambda: kept() is not None, 0.1),
        ("whole verdict", lambda: not busy(), 1.0),
    ):
        yield from until(holds, f"no {words}", every)
        print(f"{words}: {time.perf_counter() - start:.2f} s, {time.process_time() - used:.2f} s of processors")
    print("seconds:", {name: round(seconds, 2) for name, seconds in kept().study.timings.items()})


def turned(o: bpy.types.Object) -> Iterator[float]:
    """Turn it for some seconds, a little at a time, as the hand does. Says how often it was recolored and drawn."""
    follow = room("preview.live")
    at_hand, wall, processor, drawn = follow.step, [], [], []

    def step(context: bpy.types.Context) -> bool:
        start = time.perf_counter(), time.thread_time()
        busy = at_hand(context)
        if busy:
            wall.append(time.perf_counter() - start[0])
            processor.append(time.thread_time() - start[1])
        return busy

    def turn() -> float:
        made = bpy.context.scene.objects[o.name]
        made.rotation_euler.x += 0.04
        made.rotation_euler.y += 0.03
        return 0.01

    with bpy.context.temp_override(**viewport()):
        bpy.ops.platewright.follow()
    follow.step = step
    handle = bpy.types.SpaceView3D.draw_handler_add(drawn.append, (1,), "WINDOW", "POST_PIXEL")
    bpy.app.timers.register(turn)
    begun, used = time.perf_counter(), time.process_time()
    while time.perf_counter() < begun + TURNED or not wall:
        yield 0.5
    seconds, used = time.perf_counter() - begun, time.process_time() - used
    bpy.app.timers.unregister(turn)
    bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")
    follow.step = at_hand
    print(
        f"turned for {seconds:.1f} s, of which it got {used:.1f} s of processors: {len(drawn)} redraws, {len(wall)} recolors"
    )
    print(f"a recolor: {1000 * np.mean(wall):.0f} ms, {1000 * np.mean(processor):.0f} ms of a processor")
    assert room("session").session.state(follow.LivePreview).on  # and the window closes with it on


def steps() -> Iterator[float | None]:
    emptied()
    made = lump()
    made.select_set(True)
    bpy.context.view_layer.objects.active = made
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
        bpy.context.space_data.clip_start = 0.001
    sidebar_tab("Platewright")
    maximise_viewport()
    yield 0.5
    print("triangles:", len(made.data.polygons))
    yield from checked()
    with bpy.context.temp_override(**viewport()):
        timed("a redraw, nothing measured", bpy.ops.wm.redraw_timer, type="DRAW_WIN_SWAP", iterations=1)
        timed("measure", bpy.ops.platewright.measure)
        timed("measure again, nothing changed", bpy.ops.platewright.measure)
        timed("openness", bpy.ops.platewright.study, only="openness")
        timed("show gas", bpy.ops.platewright.show, map_name="gas")
    yield 0.5
    hand.picture("sculpt_gas")
    with bpy.context.temp_override(**viewport()):
        timed("show openness", bpy.ops.platewright.show, map_name="openness")
        timed("a redraw", bpy.ops.wm.redraw_timer, type="DRAW_WIN_SWAP", iterations=1)
    yield 0.5
    hand.picture("sculpt_openness")
    print("seconds:", {name: round(seconds, 2) for name, seconds in kept().study.timings.items()})
    made.data.vertices[0].co.z += 0.01
    made.data.update()
    yield 0.5
    assert kept().stale(bpy.context.scene) == set(kept().study.results.names)
    hand.picture("sculpt_stale")
    with bpy.context.temp_override(**viewport()):
        bpy.ops.platewright.measure()
        bpy.ops.platewright.show(map_name="gas")
    yield from turned(made)
