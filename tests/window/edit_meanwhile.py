"""The mouse scales the part in the real window while a study runs: the study that ends is told as stale, and measured
again the part has its new area. Then a script deletes the part and makes another of its name."""

from __future__ import annotations

from collections.abc import Iterator

import bpy

from hand import Hand, busy, emptied, kept, until

sidebar_tab, maximise_viewport, xdotool, viewport = (
    globals()[name] for name in ("sidebar_tab", "maximise_viewport", "xdotool", "viewport")
)
hand = Hand(globals())


def started(**options: object) -> None:
    assert hand.call("study", **options) == {"RUNNING_MODAL"}


def area() -> float:
    return float(kept().study.surface.plated_area.sum())


def ball() -> bpy.types.Object:
    """A ball of 81,920 triangles, 40 mm across: long enough under study to be edited meanwhile."""
    bpy.ops.mesh.primitive_ico_sphere_add(subdivisions=7, radius=0.02)
    return bpy.context.active_object


def steps() -> Iterator[float | None]:
    emptied()
    part = ball()
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
        bpy.context.space_data.clip_start = 0.001
    bpy.context.scene.platewright.effort.rays = 1024
    sidebar_tab("Platewright")
    maximise_viewport()
    yield 0.5
    with bpy.context.temp_override(**viewport()):
        bpy.ops.platewright.measure()
    before = area()

    started(only="openness")
    yield 0.2
    assert busy(), "the study was over before the mouse could come"
    region = viewport()["region"]
    x, y = region.x + region.width // 2, bpy.context.window.height - region.y - region.height // 2
    xdotool("mousemove", x + 60, y)
    yield 0.3
    xdotool("key", "s")
    for step in range(1, 5):
        yield 0.1
        xdotool("mousemove", x + 60 + 20 * step, y)
    yield 0.3
    xdotool("click", 1)
    yield from until(lambda: part.scale.x > 1.1, "the mouse does not scale the part")
    assert busy(), "the study was over before the part was scaled"
    scale = part.scale.x
    yield from until(lambda: not busy(), "the study does not end")
    yield 0.3
    assert kept().moved, "the part was scaled while it was studied, and the study does not say so"
    assert kept().stale(bpy.context.scene) == set(kept().study.results.names)
    assert kept().study.results.openness is not None
    hand.picture("meanwhile_stale")
    with bpy.context.temp_override(**viewport()):
        bpy.ops.platewright.measure()
    ratio = area() / (before * scale**2)
    print(f"scaled by {scale:.3f}; area over the old area times its square: {ratio:.6f}")
    assert abs(ratio - 1) < 1e-4
    assert not kept().moved

    started(only="openness")
    yield 0.2
    assert busy()
    name = part.name
    bpy.data.objects.remove(part)
    other = ball()
    other.name = name
    assert other.name == name
    yield from until(lambda: not busy(), "the study does not end")
    yield 0.3
    assert kept() is None, "another object of the same name is taken for the part"
    hand.picture("meanwhile_removed")
