"""How the part hangs, over the viewports: an arrow that is up in the bath, and names with leader lines.

The arrow and the level have handles (see `preview.handles`); wires, vents and the tank are objects of the scene.
"""

from __future__ import annotations

import bpy
import gpu
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ...engine.reporting.filled import filled
from ..figures import figure
from ..language import localized
from ..scene import roles, settings, viewing
from ..session import StudyRecord, session
from . import legend, overlay, overlay_tank

ARROW, HEAD = 0.22, 0.06  # of the part's size: the arrow and its head
OFF = 0.08  # of the part's size: between the part and the arrow
INK = (0.35, 0.75, 1.00, 1.0)


def arrow(record: StudyRecord, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """(5, 3) meters: foot, tip, and the head's two sides about the tip, of an arrow above the part along `up` (3,)"""
    surface, way = record.study.surface, up / np.linalg.norm(up)
    middle = surface.bounds.mean(axis=0)
    top = float(((surface.bounds - middle) * np.sign(way) @ way).max())
    foot = middle + (max(top, 0.0) + OFF * surface.size) * way
    tip = foot + ARROW * surface.size * way
    side = np.cross(way, (1.0, 0.0, 0.0) if abs(way[0]) < 0.9 else (0.0, 1.0, 0.0))
    side *= HEAD * surface.size / np.linalg.norm(side)
    neck = tip - HEAD * surface.size * 1.5 * way
    return np.array([foot, tip, neck + side, tip, neck - side])


def asked(context: bpy.types.Context) -> StudyRecord | None:
    """The part that the setup is drawn of; None where it is hidden, or nothing is known of the part as it is."""
    record = session.find(context)
    shown = context.space_data.overlay.show_overlays and viewing.of(context).guides
    return record if shown and record is not None and not record.reshaped else None


def draw() -> None:
    """The arrow."""
    context = bpy.context
    record = asked(context)
    up = np.array(settings.of(context.scene).part.up)
    if record is None or not up.any():
        return
    gpu.state.blend_set("ALPHA")
    with gpu.matrix.push_pop():
        gpu.matrix.load_matrix(context.region_data.view_matrix @ overlay.carried(context))
        legend.outline(arrow(record, up), INK, 2.5 * context.preferences.system.ui_scale)
    gpu.state.blend_set("NONE")


def draw_words() -> None:
    """The labels: marks of the map, and the things of the setup."""
    context = bpy.context
    record = asked(context)
    named = overlay.marks(context) + (_setup(context, record) if record is not None else [])
    gpu.state.blend_set("ALPHA")
    legend.labels(context, named, context.preferences.system.ui_scale)
    gpu.state.blend_set("NONE")


def _setup(context: bpy.types.Context, record: StudyRecord) -> list[tuple[str, Vector]]:
    """Names and places of the arrow, the wires, the vents and the level."""
    chosen = settings.of(context.scene)
    up = np.array(chosen.part.up)
    named = (
        [(localized("up in the bath"), overlay.carried(context) @ Vector(arrow(record, up)[1].tolist()))]
        if up.any()
        else []
    )
    coat = record.study.results.coat
    carried = coat.wires if coat is not None and "coat" not in record.stale(context.scene) else ()
    for number, o in enumerate(roles.every(context.scene, roles.WIRE)):
        name = o.name
        if number < len(carried):
            name = filled("{name}, {current}", name=o.name, current=figure(carried[number].current, "A"))
        named.append((name, o.matrix_world.translation))
    holes = (o for o in context.scene.objects if o.get(roles.HOLE) and o.visible_get())
    named += [(o.name, o.matrix_world.translation) for o in holes]
    sheet = overlay_tank.level(context.scene)
    if sheet is not None:
        depth = figure(chosen.tank.level, "mm", digits=3)
        named.append((filled("liquid level, {depth}", depth=depth), Vector(sheet[1].tolist())))
    return named
