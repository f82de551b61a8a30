"""Gas and held liquid in the viewport as solid bodies: clear in front of the part, faint behind it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix
from numpy.typing import NDArray

from ...engine.study import Study
from ...engine.trapping.bodies import Bodies
from ..draw import overlay
from ..scene import viewing
from ..session import State, session
from . import orientation, preview_copy
from .live import LivePreview

GAS, LIQUID = (0.72, 0.93, 1.00), (0.20, 0.45, 0.85)
CLEAR, FAINT = 0.60, 0.30
LIGHT = np.array([0.30, -0.45, 0.84])  # where the shading of the bodies comes from, in the part's axes
DARKEST = 0.55
MAX_CACHED_BATCHES = 6


@dataclass(eq=False)
class _Ready(State):
    batches: dict[tuple[str, float], Any] = field(default_factory=dict)  # by the key of the gas and how clear


def standing(context: bpy.types.Context) -> Iterator[tuple[Study, Matrix]]:
    """The studies whose bodies are to be drawn, each with the way from its meters to the scene."""
    record, copy = session.find(context), preview_copy.current(context)
    if record is not None and viewing.of(context).bodies:
        live = session.state(LivePreview)
        study = live.study or record.study
        # while it is turned but not followed, the gas would turn with the part
        if live.study is not None or not (record.moved or "gas" in record.stale(context.scene)):
            yield study, overlay.carried(context)
    if copy is not None and preview_copy.as_it_stands(*copy):
        yield copy[1].study, preview_copy.placed(context, *copy)


def colored(bodies: Bodies, ink: tuple[float, float, float], alpha: float) -> NDArray[np.float32]:
    """(3 n, 4) a color for each corner: lighter where the body faces the light."""
    a, b, c = np.moveaxis(bodies.triangles, 1, 0)
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    facing = np.divide(normal @ LIGHT, length, out=np.zeros(len(normal)), where=length > 0)
    tone = DARKEST + (1 - DARKEST) * 0.5 * (1 + facing)
    rgba = np.column_stack([tone[:, None] * np.array(ink), np.full(len(tone), alpha)])
    return np.repeat(rgba, 3, axis=0).astype(np.float32)


def _batch(study: Study, alpha: float) -> Any:
    """Ready to be drawn; None where there is neither gas nor liquid."""
    key = study.keys["gas"], alpha
    batches = session.state(_Ready).batches
    if key not in batches:
        pair = orientation.bodies_of(study) or ()
        inks = [colored(body, ink, alpha) for body, ink in zip(pair, (GAS, LIQUID), strict=False)]
        points = [body.triangles.reshape(-1, 3).astype(np.float32) for body in pair]
        shader = gpu.shader.from_builtin("FLAT_COLOR")
        count = sum(map(len, points))
        content = {"pos": np.concatenate(points), "color": np.concatenate(inks)} if count else None
        batches[key] = (shader, batch_for_shader(shader, "TRIS", content)) if content else None
        while len(batches) > MAX_CACHED_BATCHES:
            del batches[next(iter(batches))]
    return batches[key]


def draw() -> None:
    context = bpy.context
    if not context.space_data.overlay.show_overlays:
        return
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)  # later drawings are hidden by the part only
    for study, place in standing(context):
        for test, alpha in (("GREATER", FAINT), ("LESS_EQUAL", CLEAR)):
            ready = _batch(study, alpha)
            if ready is None:
                continue
            gpu.state.depth_test_set(test)
            with gpu.matrix.push_pop():
                gpu.matrix.load_matrix(overlay.nearer(context) @ place)
                ready[1].draw(ready[0])
    gpu.state.depth_mask_set(True)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")
