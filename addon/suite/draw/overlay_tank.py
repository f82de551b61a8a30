"""The level of the liquid in the viewport, a faint sheet across the tank, and the anodes as translucent copper."""

from __future__ import annotations

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from numpy.typing import NDArray

from ...engine.units import MM
from ..scene import roles, settings
from ..scene.capture import meters_per_unit
from . import legend

SHEET, RIM = (0.25, 0.55, 0.85, 0.14), (0.35, 0.65, 0.95, 0.8)
COPPER = (0.80, 0.45, 0.22, 0.45)
ROUND = 64  # corners of a round tank's sheet
MAX_FILLED_FACES = 200  # read again at every redraw


def level(scene: bpy.types.Scene) -> NDArray[np.float64] | None:
    """(n, 3) corners of the liquid's surface in scene units; None where there is no tank or no surface."""
    tank, chosen = roles.tank(scene), settings.of(scene).tank
    if tank is None or chosen.shape == "open":
        return None
    if chosen.shape == "cylinder":
        angle = 2 * np.pi * np.arange(ROUND) / ROUND
        flat = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    else:
        flat = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    inside = roles.inside(tank, scene)
    corners = np.column_stack([0.5 * inside.size[:2] * flat, np.full(len(flat), chosen.level * MM)])
    return (corners @ inside.turn + inside.origin) / meters_per_unit(scene)


def draw() -> None:
    context = bpy.context
    if not context.space_data.overlay.show_overlays:
        return
    gpu.state.depth_test_set("LESS_EQUAL")
    gpu.state.depth_mask_set(False)  # what is translucent hides nothing that is drawn after it
    gpu.state.blend_set("ALPHA")
    for o in roles.every(context.scene, roles.ANODE):
        _fill(o, COPPER)
    corners = level(context.scene)
    if corners is not None:
        _sheet(corners, context.preferences.system.ui_scale)
    gpu.state.depth_mask_set(True)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _fill(o: bpy.types.Object, ink: tuple[float, ...]) -> None:
    """Fills an object that Blender draws as lines only; an object of many faces stays lines."""
    mesh = o.data
    if o.display_type != "WIRE" or not isinstance(mesh, bpy.types.Mesh) or len(mesh.polygons) > MAX_FILLED_FACES:
        return
    points = np.array([vertex.co[:] for vertex in mesh.vertices], dtype=np.float32)
    mesh.calc_loop_triangles()
    corners: list[tuple[int, ...]] = [tuple(triangle.vertices) for triangle in mesh.loop_triangles]
    if not corners or o.mode == "EDIT":
        return
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    shader.uniform_float("color", ink)
    with gpu.matrix.push_pop():
        gpu.matrix.multiply_matrix(o.matrix_world)
        batch_for_shader(shader, "TRIS", {"pos": points}, indices=corners).draw(shader)


def _sheet(corners: NDArray[np.float64], size: float) -> None:
    """The surface of the liquid. size : of the interface"""
    fan = [(0, i, i + 1) for i in range(1, len(corners) - 1)]
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    shader.uniform_float("color", SHEET)
    batch_for_shader(shader, "TRIS", {"pos": corners.astype(np.float32)}, indices=fan).draw(shader)
    legend.outline(np.vstack([corners, corners[:1]]), RIM, 1.5 * size)
