"""The user's own scene, rendered with its camera and render engine, with numbered callouts."""

from __future__ import annotations

import ctypes
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector
from numpy.typing import ArrayLike, NDArray

from ...engine.errors import InputError
from ...engine.filled import filled
from ...engine.reporting import png
from ...engine.sheet import marks, still
from ...engine.study import Study
from ...engine.visibility.projected import Projected, projected
from .. import language, refusal, versions
from . import letters, overlay
from .sheets import LETTERS

MAX_STEPS = 8  # most non-rendering objects that a sight line may pass through
NEAR_SHARE = 2e-3  # of the distance from the camera: a hit this close to a place is the place itself
RENDER_SETTINGS = ("filepath", "use_border", "use_file_extension", "use_overwrite", "use_placeholder", "use_multiview")


def write(context: bpy.types.Context, study: Study, path: Path, theme: marks.Theme = "light") -> None:
    """Render the scene, and number it. Raises InputError where there is no camera, or it does not see the part, or
    nothing here can draw with this engine."""
    camera = context.scene.camera
    if camera is None or camera.type != "CAMERA":
        raise InputError("still: the scene has no camera; add one and point it at the part")
    if camera.data.type == "PANO":
        raise InputError("still: a panoramic camera bends the lines that call-outs follow; choose perspective")
    _can_draw(context.scene.render.engine)
    depsgraph = context.evaluated_depsgraph_get()
    size = _size(context.scene)
    place = overlay.carried(context)  # from the study's meters to the scene as it now stands
    matrix = _projection(camera, depsgraph, context.scene, size) @ place
    seen = projected(study.surface, np.array(matrix, dtype=np.float64), size)
    pixels = _rendered(context.scene)
    view = _Seen(seen, context.scene, depsgraph, camera, place)
    other = language.written()
    glyphs = letters.glyphs(study.part.name + LETTERS.get(other.name, ""))
    page = still.page(study, glyphs, seen, view, pixels, theme, other)
    path.write_bytes(png.encoded(still.draw(page, pixels)))


class _Seen:
    """What the camera sees of the part among the other objects of the scene."""

    def __init__(
        self,
        part: Projected,
        scene: bpy.types.Scene,
        depsgraph: bpy.types.Depsgraph,
        camera: bpy.types.Object,
        place: Matrix,
    ) -> None:
        self._part, self._scene, self._depsgraph, self._place = part, scene, depsgraph, place
        self._eye = camera.evaluated_get(depsgraph).matrix_world
        self._parallel = camera.data.type == "ORTHO"

    @property
    def faces(self) -> NDArray[np.intp]:
        """Triangles of which something is seen, ascending."""
        return self._part.faces

    def in_sight(self, points: ArrayLike) -> NDArray[np.bool_]:
        """(n,) whether the camera sees points of the part, (n, 3) meters."""
        locations = np.atleast_2d(np.asarray(points, dtype=np.float64))
        visible = self._part.in_sight(locations)
        for row in np.flatnonzero(visible):
            visible[row] = self._free(self._place @ Vector(locations[row]))
        return visible

    def _free(self, point: Vector) -> bool:
        """Whether nothing that a render shows stands before a point, scene units."""
        start = self._eye.translation.copy()
        if self._parallel:
            back = self._eye.to_3x3().normalized().col[2]
            start = point + back * (start - point).dot(back)
        way = point - start
        left = way.length * (1 - NEAR_SHARE)
        way.normalize()
        for _ in range(MAX_STEPS):
            is_hit, where, _normal, _face, o, _matrix = self._scene.ray_cast(self._depsgraph, start, way, distance=left)
            if not is_hit:
                return True
            if not o.hide_render:
                return False
            step = (where - start).length * (1 + 1e-4) + 1e-6
            start, left = start + way * step, left - step
        return True


def _size(scene: bpy.types.Scene) -> tuple[int, int]:
    """Height and width of the picture, pixels."""
    render = scene.render
    wide, high = (int(side * render.resolution_percentage / 100) for side in (render.resolution_x, render.resolution_y))
    return high, wide


def _projection(
    camera: bpy.types.Object, depsgraph: bpy.types.Depsgraph, scene: bpy.types.Scene, size: tuple[int, int]
) -> Matrix:
    """From the scene to clip space."""
    render = scene.render
    lens = camera.calc_matrix_camera(
        depsgraph, x=size[1], y=size[0], scale_x=render.pixel_aspect_x, scale_y=render.pixel_aspect_y
    )
    return lens @ camera.evaluated_get(depsgraph).matrix_world.normalized().inverted()


def _can_draw(engine: str) -> None:
    """Raises InputError where this engine would crash Blender: without a window it needs libEGL."""
    if not bpy.app.background or engine == "CYCLES":
        return
    try:
        ctypes.CDLL("libEGL.so.1")
    except OSError:
        raise InputError("still: without a window this engine draws nothing here; choose Cycles") from None


def _rendered(scene: bpy.types.Scene) -> NDArray[np.uint8]:
    """(h, w, 4) the scene as its own engine, world and materials show it, its settings as they were."""
    with tempfile.TemporaryDirectory() as folder, _as_png(scene):
        path = Path(folder) / "still.png"
        scene.render.filepath = str(path)
        try:
            bpy.ops.render.render(write_still=True, scene=scene.name)
        except RuntimeError as error:  # e.g. where this Blender cannot denoise
            raise InputError(
                filled(
                    "still: Blender cannot render this scene: {reason}; see what Render Image says",
                    reason=refusal.reason(error),
                )
            ) from None
        if not path.is_file():
            raise InputError("still: Blender rendered nothing; see what Render Image says")
        image = bpy.data.images.load(str(path), check_existing=False)
        try:
            wide, high = (int(side) for side in image.size)
            pixels = np.empty(4 * wide * high, dtype=np.float32)
            image.pixels.foreach_get(pixels)
        finally:
            bpy.data.images.remove(image)
    return np.rint(255 * np.clip(pixels, 0, 1)).astype(np.uint8).reshape(high, wide, 4)[::-1]


@contextmanager
def _as_png(scene: bpy.types.Scene) -> Iterator[None]:
    """Within it, the scene renders one whole PNG with alpha; its own settings are restored afterwards."""
    render: Any = scene.render
    before = {name: getattr(render, name) for name in RENDER_SETTINGS}
    formats = versions.picture_settings(render.image_settings)
    try:
        render.use_border = render.use_multiview = False
        render.use_file_extension = render.use_overwrite = True
        render.use_placeholder = False
        versions.set_picture_settings(render.image_settings, versions.PNG)
        yield
    finally:
        versions.set_picture_settings(render.image_settings, formats)
        for name, value in before.items():
            setattr(render, name, value)
