"""The picture for the client: the part from above and below in color, the legend, and a line of figures.

Everything is drawn as flat colored meshes in front of one camera, in a temporary scene. Shading is baked into the
colors, so the picture is the same from Workbench and from Cycles.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...engine.errors import InputError
from ...engine.geometry.frames import unit
from ...engine.reporting.filled import filled
from ...engine.study import Study
from ...engine.units import DM2, GRAM, MM
from .. import versions
from ..figures import duration, figure, unit_text
from ..language import localized
from ..scene import meshes
from . import maps
from .maps import Drawing
from .paint import COLOR

PIXELS = (1200, 900)
WIDTH, HEIGHT = 4.0, 3.0  # of the sheet, in units of its scene; z is towards the viewer
VIEWS = ((-1.0, "from above", (-0.55, -1.0, 0.62)), (1.0, "from below", (-0.55, -1.0, -0.85)))
VIEW = 1.66  # how large a view may be, each way
MIDDLE = 0.16  # height of the views' middle on the sheet
PAPER, INK, FAINT = (0.68, 0.68, 0.67), (0.010, 0.011, 0.014), (0.08, 0.08, 0.09)  # linear
LIGHT = np.array([-0.45, 0.55, 0.70]) / np.linalg.norm([-0.45, 0.55, 0.70])  # as seen by the viewer
SHADE = 0.22  # how much darker a face turned away from the light is
NAME = "platewright sheet"
MADE = ("scenes", "objects", "meshes", "curves", "cameras", "materials", "images", "fonts")


def picture(study: Study, path: Path | str, map_name: str = "") -> None:
    """Render the sheet to a .png. map_name : the map to color by; "" takes the first that there is.

    Raises InputError where the study holds no map.
    """
    available = maps.available(study)
    if not available:
        raise InputError(
            filled(
                "picture: nothing was computed that colors the part; skip fewer analyses in {effort.skip},"
                " e.g. keep gas"
            )
        )
    drawing = maps.draw(map_name or available[0], study)
    with blank() as sheet:
        for x, words, towards in VIEWS:
            _part(sheet, study, drawing, _turn(towards, study.hung.part.up), x)
            sheet.write(localized(words), x, -0.82, 0.072, FAINT, align=0.5)
        sheet.write(study.part.name, -1.85, 1.28, 0.15, INK)
        sheet.write(_figures(study), -1.85, 1.12, 0.078, FAINT)
        legend(sheet, drawing)
        sheet.render(Path(path))


def _figures(study: Study) -> str:
    """Size, plated area, current, time and metal in one line."""
    low, high = study.surface.bounds
    words = [" × ".join(localized(figure(length / MM)) for length in high - low) + " mm"]
    words.append(localized(filled("plated area {area}", area=figure(study.surface.plated_area.sum() / DM2, "dm2"))))
    deposit = study.results.deposit
    if deposit is not None:
        words.append(
            localized(filled("{current} for {time}", current=figure(deposit.current, "A"), time=duration(deposit.time)))
        )
        words.append(localized(filled("{mass} of {metal}", mass=figure(deposit.mass / GRAM, "g"), metal=deposit.metal)))
    return "   ·   ".join(words)


def _turn(towards: ArrayLike, up: ArrayLike) -> NDArray[np.float64]:
    """Rows: right, up and towards the viewer, who looks at the part from `towards` with `up` upright.

    towards : (3,) with its third component along `up`
    """
    upright = unit(up)
    side = np.eye(3)[int(np.abs(upright).argmin())]
    if abs(upright[2]) > 0.9:
        side = np.array([1.0, 0.0, 0.0])
    side = side - upright * (side @ upright)
    side /= np.linalg.norm(side)
    frame = np.array([side, np.cross(upright, side), upright])
    eye = np.asarray(towards, dtype=np.float64) @ frame
    eye /= np.linalg.norm(eye)
    right = np.cross(upright, eye)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(eye, right), eye])


def _part(sheet: Sheet, study: Study, drawing: Drawing, turn: NDArray[np.float64], x: float) -> None:
    """The part as seen one way, its middle at x, with outlines and hatching."""
    surface = study.surface
    seen = surface.points @ turn.T
    low, high = seen.min(axis=0), seen.max(axis=0)
    scale = VIEW / max(high[0] - low[0], high[1] - low[1])
    shift = np.array([x, MIDDLE, 0.0]) - scale * (low + high) / 2

    def placed(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return scale * points @ turn.T + shift

    light = 1.0 - SHADE * (1.0 - np.clip((surface.normal @ turn.T) @ LIGHT, -1.0, 1.0)) / 1.3
    colors = drawing.colored(drawing.values) * light[:, None]
    sheet.add(placed(surface.points), surface.triangles, colors)
    sheet.lines(placed(drawing.hatching), 0.006, (0.9, 0.9, 0.9))
    sheet.lines(placed(drawing.lines), 0.014, (0.9, 0.9, 0.9))


def legend(sheet: Sheet, drawing: Drawing) -> None:
    """Histogram over the ramp, round numbers below, and the map's title beside it."""
    left, right, bottom, top = -0.55, 1.85, -1.17, -1.09
    edges = np.linspace(left, right, 97)
    sheet.strips(edges, bottom, np.full(96, top - bottom), drawing.steps(96))
    shares = drawing.shares / max(float(drawing.shares.max(initial=0.0)), 1e-12)
    edges = np.linspace(left, right, len(shares) + 1)
    sheet.strips(edges, top + 0.01, 0.16 * shares, drawing.steps(len(shares)))
    for share, text in drawing.ticks(6):
        sheet.write(localized(text), left + (right - left) * share, -1.26, 0.068, INK, align=0.5)
    low, high = map(localized, drawing.map.ends)
    sheet.write(low, left, -1.37, 0.068, FAINT)
    sheet.write(high, right, -1.37, 0.068, FAINT, align=1.0)
    sheet.write(localized(drawing.map.title), -1.85, -1.13, 0.095, INK)
    sheet.write(localized(unit_text(drawing.map.unit)), -1.85, -1.25, 0.072, FAINT)


class Sheet:
    """A scene that is filled with flat colors and rendered once."""

    def __init__(self, scene: bpy.types.Scene, material: bpy.types.Material) -> None:
        self._scene, self._material = scene, material

    def add(self, points: NDArray[Any], triangles: NDArray[Any], colors: ArrayLike) -> None:
        """Triangles in colors, (m, 3) or one for all, linear sRGB."""
        if not len(triangles):
            return
        mesh = meshes.new(NAME, points, np.asarray(triangles, dtype=np.int32))
        rgba = np.ones((len(triangles), 3, 4), dtype=np.float32)
        rgba[..., :3] = np.broadcast_to(np.asarray(colors, dtype=np.float32), (len(triangles), 3))[:, None]
        attribute = mesh.color_attributes.new(COLOR, "FLOAT_COLOR", "CORNER")
        attribute.data.foreach_set("color", rgba.ravel())
        mesh.color_attributes.active_color_name = COLOR
        mesh.materials.append(self._material)
        self._scene.collection.objects.link(bpy.data.objects.new(NAME, mesh))

    def plate(self, corners: ArrayLike, z: float, ink: ArrayLike) -> None:
        """A rectangle between two corners (2, 2)."""
        (x0, y0), (x1, y1) = np.asarray(corners, dtype=np.float64)
        points = np.array([(x0, y0, z), (x1, y0, z), (x1, y1, z), (x0, y1, z)])
        self.add(points, np.array([(0, 1, 2), (0, 2, 3)]), ink)

    def strips(self, edges: NDArray[Any], bottom: float, heights: NDArray[Any], colors: NDArray[Any]) -> None:
        """Upright strips side by side, each in its own color."""
        left, right, low, top = edges[:-1], edges[1:], np.full(len(heights), bottom), bottom + heights
        corners = np.stack([left, low, right, low, right, top, left, top], axis=1).reshape(-1, 2)
        points = np.column_stack([corners, np.full(len(corners), 5.0)])
        quads = 4 * np.arange(len(heights))[:, None]
        triangles = np.concatenate([quads + (0, 1, 2), quads + (0, 2, 3)], axis=1).reshape(-1, 3)
        self.add(points, triangles, np.repeat(colors, 2, axis=0))

    def lines(self, segments: NDArray[np.float64], width: float, ink: ArrayLike) -> None:
        """Segments (s, 2, 3) as ribbons that face the viewer, a little in front of what they lie on."""
        along = segments[:, 1, :2] - segments[:, 0, :2]
        length = np.linalg.norm(along, axis=1, keepdims=True)
        along = np.divide(along, length, out=np.zeros_like(along), where=length > 0)
        across = np.column_stack([-along[:, 1], along[:, 0], np.zeros(len(along))]) * width / 2
        lift = np.array([0.0, 0.0, 0.004])
        start, end = segments[:, 0] + lift, segments[:, 1] + lift
        points = np.stack([start - across, end - across, end + across, start + across], axis=1).reshape(-1, 3)
        quads = 4 * np.arange(len(segments))[:, None]
        self.add(points, np.concatenate([quads + (0, 1, 2), quads + (0, 2, 3)], axis=1).reshape(-1, 3), ink)

    def write(self, text: str, x: float, y: float, size: float, ink: ArrayLike, align: float = 0.0) -> None:
        """Text on the sheet; align 0 starts, 0.5 centres and 1 ends it at x."""
        curve = bpy.data.curves.new(NAME, "FONT")
        curve.body, curve.size = text, size
        curve.align_x = {0.0: "LEFT", 0.5: "CENTER", 1.0: "RIGHT"}[align]
        o = bpy.data.objects.new(NAME, curve)
        outline = bpy.data.meshes.new_from_object(o)
        points = np.empty(3 * len(outline.vertices), dtype=np.float32)
        triangles = np.empty(3 * len(outline.loop_triangles), dtype=np.int32)
        outline.vertices.foreach_get("co", points)
        outline.loop_triangles.foreach_get("vertices", triangles)
        bpy.data.meshes.remove(outline)
        bpy.data.objects.remove(o)
        bpy.data.curves.remove(curve)
        self.add(points.reshape(-1, 3) + np.array([x, y, 5.0]), triangles.reshape(-1, 3), ink)

    def render(self, path: Path) -> None:
        """Render the sheet to a .png."""
        scene: Any = self._scene
        scene.render.engine = render_engine()
        scene.render.resolution_x, scene.render.resolution_y = PIXELS
        scene.render.resolution_percentage = 100
        scene.render.image_settings.file_format = "PNG"
        scene.render.image_settings.color_mode = "RGB"
        scene.render.filepath = str(path)
        for stamp in ("date", "time", "render_time", "filename", "memory", "hostname"):
            setattr(scene.render, f"use_stamp_{stamp}", False)  # no metadata: the same study gives the same bytes
        scene.view_settings.view_transform = "Standard"
        scene.render.dither_intensity = 0.0  # dithering is invisible but keeps the file from compressing
        scene.display.shading.light = "FLAT"
        scene.display.shading.color_type = "VERTEX"
        scene.display.render_aa = "16"
        if scene.render.engine == "CYCLES":
            scene.cycles.samples, scene.cycles.use_denoising, scene.cycles.max_bounces = 8, False, 0
        bpy.ops.render.render(write_still=True, scene=scene.name)


def render_engine() -> str:
    """Workbench where it can draw: without a window and without libEGL it crashes Blender."""
    if not bpy.app.background:
        return "BLENDER_WORKBENCH"
    try:
        ctypes.CDLL("libEGL.so.1")
    except OSError:
        return "CYCLES"
    return "BLENDER_WORKBENCH"


@contextmanager
def blank() -> Iterator[Sheet]:
    """Paper in a scene with a camera that looks down at it; whatever is made in it is gone afterwards."""
    before = {kind: set(getattr(bpy.data, kind)) for kind in MADE}
    try:
        scene = bpy.data.scenes.new(NAME)
        camera = bpy.data.objects.new(NAME, bpy.data.cameras.new(NAME))
        camera.data.type, camera.data.ortho_scale = "ORTHO", WIDTH
        camera.location.z = 10.0
        scene.collection.objects.link(camera)
        scene.camera = camera
        sheet = Sheet(scene, _material())
        sheet.plate([(-WIDTH, -HEIGHT), (WIDTH, HEIGHT)], -9.0, PAPER)
        yield sheet
    finally:
        for kind in MADE:
            for block in set(getattr(bpy.data, kind)) - before[kind]:
                getattr(bpy.data, kind).remove(block)


def _material() -> bpy.types.Material:
    """A material that shows the colors without lighting."""
    material = bpy.data.materials.new(NAME)
    versions.use_nodes(material)
    nodes = material.node_tree.nodes
    nodes.clear()
    attribute, emission, output = (
        nodes.new(f"ShaderNode{kind}") for kind in ("Attribute", "Emission", "OutputMaterial")
    )
    attribute.attribute_name = COLOR
    material.node_tree.links.new(attribute.outputs["Color"], emission.inputs["Color"])
    material.node_tree.links.new(emission.outputs[0], output.inputs[0])
    return material
