"""Blender's own font as outlines, for pages that are drawn without Blender."""

from __future__ import annotations

from functools import cache

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.sheet.glyphs import REPLACEMENT_CHARACTER, Glyph, Glyphs

ALWAYS = "".join(map(chr, range(32, 127))) + "µ²³°–×"
PROBE = "n"  # stands after a character to show how far it advances
NAME = "platewright letters"


def glyphs(words: str = "") -> Glyphs:
    """The characters of English text, and those of `words`."""
    return _glyphs("".join(sorted(set(ALWAYS + words + REPLACEMENT_CHARACTER))))


@cache
def _glyphs(characters: str) -> Glyphs:
    curve = bpy.data.curves.new(NAME, "FONT")
    o = bpy.data.objects.new(NAME, curve)
    scene = bpy.data.scenes.new(NAME)
    scene.collection.objects.link(o)
    try:
        start = _left(_loops(scene, o, PROBE))
        table = {}
        for character in characters:
            loops = _loops(scene, o, character)
            table[character] = Glyph(_left(_loops(scene, o, character + PROBE)[len(loops) :]) - start, tuple(loops))
        return Glyphs(table)
    finally:
        bpy.data.scenes.remove(scene)
        bpy.data.objects.remove(o)
        bpy.data.curves.remove(curve)


def _left(loops: list[NDArray[np.float64]]) -> float:
    return min(float(loop[..., 0].min()) for loop in loops)


def _loops(scene: bpy.types.Scene, o: bpy.types.Object, words: str) -> list[NDArray[np.float64]]:
    """(k, 4, 2) cubic curves of each outline, in sizes of the font."""
    o.data.body = words  # type: ignore[union-attr]  # a text's data is a TextCurve
    with bpy.context.temp_override(scene=scene, view_layer=scene.view_layers[0]):
        depsgraph = bpy.context.evaluated_depsgraph_get()
    loops = []
    for spline in o.evaluated_get(depsgraph).to_curve(depsgraph).splines:
        points = spline.bezier_points
        own, before, after = (np.empty(3 * len(points)) for _ in range(3))
        points.foreach_get("co", own)
        points.foreach_get("handle_left", before)
        points.foreach_get("handle_right", after)
        control, into, out = (curve.reshape(-1, 3)[:, :2] for curve in (own, before, after))
        loops.append(np.stack([control, out, np.roll(into, -1, axis=0), np.roll(control, -1, axis=0)], axis=1))
    return loops
