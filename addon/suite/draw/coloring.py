"""The colors of a map over the part in the viewports. They are drawn, not stored, so scene and undo stay unchanged.

Where a place lies inside the part, the walls are drawn as glass: what Blender drew of the part is covered, its depth is
pushed back, and only the faces of the place stay solid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix
from numpy.typing import NDArray

from ...engine import color
from .maps import Drawing

LIGHT = np.array([0.30, -0.45, 0.84])  # direction of the faint shading's light, in the part's axes
DARKEST = 0.86  # share of a color left on a face turned away: the shape shows, and colors still match the legend
GLASS = 0.13  # opacity of one translucent wall; several may lie behind one another
FAR = 1.0 - 1e-6  # of the depth that can be drawn
BEHIND = 1e-5  # of that depth: how far the faces of a place lie behind the gas that touches them


@dataclass(frozen=True, eq=False)
class Coloring:
    """Triangles in their colors.

    corners : (m, 3, 3) m; rgb : (m, 3) as displayed; place : (m,) which stay solid where the walls are translucent
    """

    corners: NDArray[np.float32]
    rgb: NDArray[np.float32]
    place: NDArray[np.bool_]
    batches: dict[str, Any] = field(default_factory=dict)


def of(drawing: Drawing, rows: slice = slice(None), faces: NDArray[Any] | None = None) -> Coloring:
    """The colors of consecutive triangles of a map. faces : of the whole map, the place in focus"""
    corners = drawing.corners[rows]
    a, b, c = np.moveaxis(corners, 1, 0)
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    facing = np.divide(normal @ LIGHT, length, out=np.zeros(len(normal)), where=length > 0)
    tone = DARKEST + (1 - DARKEST) * 0.5 * (1 + facing)
    rgb = tone[:, None] * color.encoded(drawing.colored(drawing.values[rows]))
    place = np.zeros(len(drawing.values), dtype=np.bool_)
    place[faces if faces is not None else []] = True
    return Coloring(corners.astype(np.float32), rgb.astype(np.float32), place[rows])


def draw(placed: list[tuple[Coloring, Matrix]], glass: bool = False) -> None:
    """Draw colorings, each with the way from its meters to the view. glass : everything but their places is
    translucent"""
    gpu.state.depth_test_set("LESS_EQUAL")
    gpu.state.depth_mask_set(False)  # lines on the faces are compared with what Blender drew
    if glass:
        _glass(placed)
    else:
        front_last(lambda: _each(placed, "all"))
    gpu.state.depth_mask_set(True)
    gpu.state.depth_test_set("NONE")


def front_last(drawn: Callable[[], None]) -> None:
    """Draw twice: first the faces that are seen from behind, then the others over them.

    Colors are drawn a little nearer than what they lie on, so along a silhouette those of the far side would pass.
    """
    for hidden in ("FRONT", "BACK"):
        gpu.state.face_culling_set(hidden)
        drawn()
    gpu.state.face_culling_set("NONE")


def _each(placed: list[tuple[Coloring, Matrix]], batch_name: str) -> None:
    for coloring, place in placed:
        _pass(coloring, place, batch_name)


def _glass(placed: list[tuple[Coloring, Matrix]]) -> None:
    _each(placed, "ground")
    gpu.state.depth_mask_set(True)
    gpu.state.depth_test_set("ALWAYS")
    gpu.state.color_mask_set(False, False, False, False)
    with gpu.matrix.push_pop_projection():
        back = gpu.matrix.get_projection_matrix()
        back[2] = back[3] * FAR
        gpu.matrix.load_projection_matrix(back)
        _each(placed, "ground")
    gpu.state.color_mask_set(True, True, True, True)
    gpu.state.depth_test_set("LESS_EQUAL")
    with gpu.matrix.push_pop_projection():
        behind = gpu.matrix.get_projection_matrix()
        behind[2] = behind[2] + behind[3] * BEHIND
        gpu.matrix.load_projection_matrix(behind)
        front_last(lambda: _each(placed, "solid"))
    gpu.state.depth_mask_set(False)
    gpu.state.blend_set("ALPHA")
    _each(placed, "glass")
    gpu.state.blend_set("NONE")


def _pass(coloring: Coloring, place: Matrix, batch_name: str) -> None:
    shader = gpu.shader.from_builtin("FLAT_COLOR")
    if batch_name not in coloring.batches:
        content = _content(coloring, batch_name)
        coloring.batches[batch_name] = batch_for_shader(shader, "TRIS", content) if len(content["pos"]) else None
    if coloring.batches[batch_name] is None:
        return
    with gpu.matrix.push_pop():
        gpu.matrix.load_matrix(place)
        coloring.batches[batch_name].draw(shader)


def _content(coloring: Coloring, batch_name: str) -> dict[str, Any]:
    rows = {"solid": coloring.place, "glass": ~coloring.place}.get(
        batch_name, np.ones(len(coloring.rgb), dtype=np.bool_)
    )
    rgba = np.ones((int(rows.sum()), 4), dtype=np.float32)
    rgba[:, :3] = _ground() if batch_name == "ground" else coloring.rgb[rows]
    if batch_name == "glass":
        rgba[:, 3] = GLASS
    return {"pos": coloring.corners[rows].reshape(-1, 3), "color": np.repeat(rgba, 3, axis=0)}


def _ground() -> tuple[float, ...]:
    """The viewport's background color."""
    gradient: Any = bpy.context.preferences.themes[0].view_3d.space.gradients.high_gradient
    return tuple(gradient)
