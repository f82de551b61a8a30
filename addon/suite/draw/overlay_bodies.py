"""Gas and held liquid in the viewport as the bodies that they are: clear before what lies behind them, faint behind
it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix
from numpy.typing import NDArray

from ...engine.analyses import Study
from ...engine.trapping.bodies import Bodies
from .. import session, settings
from ..scene import beside, looks
from ..scene.follow import Following
from . import overlay

GAS, LIQUID = (0.72, 0.93, 1.00), (0.20, 0.45, 0.85)
CLEAR, FAINT = 0.60, 0.30
LIGHT = np.array([0.30, -0.45, 0.84])  # where the shading of the bodies comes from, in the part's axes
DARKEST = 0.55
MOST = 6  # bodies that are kept ready

_handles: list[Any] = []
_batches: dict[tuple[str, float], Any] = {}  # key of the gas, how clear


def standing(context: bpy.types.Context) -> Iterator[tuple[Study, Matrix]]:
    """The studies whose bodies are to be drawn, each with the way from its meters to the scene."""
    kept, found = session.find(context), beside.current(context)
    if kept is not None and settings.of(context.scene).bodies:
        study = Following.study or kept.study
        # while it is turned but not followed, the gas would turn with the part
        if Following.study is not None or not (kept.moved or "gas" in kept.stale(context.scene)):
            yield study, overlay.carried(context)
    if found is not None and beside.as_it_stands(*found):
        yield found[1].study, beside.placed(context, *found)


def colored(found: Bodies, ink: tuple[float, float, float], alpha: float) -> NDArray[np.float32]:
    """(3 n, 4) a color for each corner: lighter where the body faces the light."""
    a, b, c = np.moveaxis(found.triangles, 1, 0)
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    facing = np.divide(normal @ LIGHT, length, out=np.zeros(len(normal)), where=length > 0)
    tone = DARKEST + (1 - DARKEST) * 0.5 * (1 + facing)
    rgba = np.column_stack([tone[:, None] * np.array(ink), np.full(len(tone), alpha)])
    return np.repeat(rgba, 3, axis=0).astype(np.float32)


def _batch(study: Study, alpha: float) -> Any:
    """Ready to be drawn; None where there is neither gas nor liquid."""
    key = study.keys["gas"], alpha
    if key not in _batches:
        pair = looks.bodies_of(study) or ()
        inks = [colored(one, ink, alpha) for one, ink in zip(pair, (GAS, LIQUID), strict=False)]
        points = [one.triangles.reshape(-1, 3).astype(np.float32) for one in pair]
        shader = gpu.shader.from_builtin("FLAT_COLOR")
        many = sum(map(len, points))
        content = {"pos": np.concatenate(points), "color": np.concatenate(inks)} if many else None
        _batches[key] = (shader, batch_for_shader(shader, "TRIS", content)) if content else None
        while len(_batches) > MOST:
            del _batches[next(iter(_batches))]
    return _batches[key]


def _draw() -> None:
    context = bpy.context
    if not context.space_data.overlay.show_overlays:
        return
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)  # what is drawn after them is hidden by the part alone
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


@bpy.app.handlers.persistent
def _loaded(*_rest: object) -> None:
    _batches.clear()


def register() -> None:
    bpy.app.handlers.load_pre.append(_loaded)
    if not bpy.app.background:
        _handles.append(bpy.types.SpaceView3D.draw_handler_add(_draw, (), "WINDOW", "POST_VIEW"))


def unregister() -> None:
    bpy.app.handlers.load_pre.remove(_loaded)
    while _handles:
        bpy.types.SpaceView3D.draw_handler_remove(_handles.pop(), "WINDOW")
    _batches.clear()
