"""material_pictures.py BLEND STILL.png ROW.png: the demo part in the materials of the extension, by Cycles.

BLEND : of `plan --blend`, with the results as attributes. STILL : the annotated still; ROW : three finishes
Run by a Python that has the bpy wheel, in a process of its own, for the extension is registered.
"""

from __future__ import annotations

import sys
from pathlib import Path

import bpy
from mathutils import Vector

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = 12  # a pixel, and what is left of their grain is denoised where the build can
MAX_BOUNCES = 4
ROW_PIXELS, STILL_PIXELS = (840, 340), (860, 500)
PANELS = 3000
SKY, GROUND = (0.75, 0.80, 0.88, 1.0), (0.16, 0.15, 0.14, 1.0)

sys.path.insert(0, str(ROOT))


def main(blend: Path, still: Path, row: Path) -> int:
    import addon

    addon.register()
    try:
        bpy.ops.wm.open_mainfile(filepath=str(blend))
        part = bpy.context.view_layer.objects.active
        bpy.ops.platewright.materials()
        copies = [part, part.copy(), part.copy()]
        for one, name in zip(copies, ("Copper Bright", "Copper Satin", "Copper Patina"), strict=True):
            one.data = part.data.copy()
            one.data.materials.clear()
            one.data.materials.append(bpy.data.materials[f"Platewright {name}"])
        size = max(part.dimensions)
        for one, step in zip(copies[1:], (1.0, 2.0), strict=True):
            bpy.context.scene.collection.objects.link(one)
            one.location.x += step * size
        studio(size)
        looking((copies[1].location.x, 0.0, 0.48 * size), (0.0, -4.6 * size, 1.7 * size), 50.0)
        rendered(row, ROW_PIXELS)
        for one in copies[1:]:
            bpy.data.objects.remove(one)
        looking((0.0, 0.0, 0.46 * size), (0.9 * size, -1.9 * size, 1.2 * size), 40.0)
        numbered(part, still)
    finally:
        addon.unregister()
    return 0


def studio(size: float) -> None:
    """A gray floor, a bright sky, a large lamp."""
    import _cycles  # of Blender's path tracer: there once bpy is

    scene = bpy.context.scene
    bpy.ops.mesh.primitive_plane_add(size=40 * size)
    floor = bpy.context.object
    floor.select_set(False)
    gray = bpy.data.materials.new("Floor")
    scene.world = bpy.data.worlds.new("Sky")
    if bpy.app.version < (5, 0, 0):
        gray.use_nodes = scene.world.use_nodes = True
    gray.node_tree.nodes["Principled BSDF"].inputs["Base Color"].default_value = GROUND
    floor.data.materials.append(gray)
    next(node for node in scene.world.node_tree.nodes if node.type == "BACKGROUND").inputs[0].default_value = SKY
    lamp = bpy.data.objects.new("Lamp", bpy.data.lights.new("Lamp", "SUN"))
    lamp.data.energy, lamp.data.angle = 2.5, 0.4
    lamp.rotation_euler = (0.7, 0.3, 0.5)
    scene.collection.objects.link(lamp)
    scene.camera = bpy.data.objects.new("Camera", bpy.data.cameras.new("Camera"))
    scene.camera.data.clip_end = 100 * size
    scene.collection.objects.link(scene.camera)
    scene.render.engine, scene.cycles.samples, scene.cycles.max_bounces = "CYCLES", SAMPLES, MAX_BOUNCES
    scene.cycles.use_denoising = _cycles.with_openimagedenoise
    scene.view_settings.view_transform = "Standard"


def looking(target: tuple[float, float, float], away: tuple[float, float, float], lens: float) -> None:
    camera = bpy.context.scene.camera
    camera.location = Vector(target) + Vector(away)
    camera.rotation_euler = (-Vector(away)).to_track_quat("-Z", "Y").to_euler()
    camera.data.lens = lens


def rendered(picture: Path, pixels: tuple[int, int]) -> None:
    render = bpy.context.scene.render
    render.resolution_x, render.resolution_y = pixels
    render.filepath = str(picture.resolve())
    bpy.ops.render.render(write_still=True)


def numbered(part: bpy.types.Object, picture: Path) -> None:
    """The annotated still, as its button makes it."""
    scene = bpy.context.scene
    bpy.context.view_layer.objects.active = part
    part.select_set(True)
    scene.platewright.effort.panels = PANELS
    for only in ("field", "coat"):
        bpy.ops.platewright.study(only=only)
    scene.render.resolution_x, scene.render.resolution_y = STILL_PIXELS
    bpy.ops.platewright.still(filepath=str(picture.resolve()))


if __name__ == "__main__":
    sys.exit(main(*(Path(name) for name in sys.argv[1:4])))
