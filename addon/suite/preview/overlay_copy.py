"""The colors of the copy beside the part, drawn over it in the viewports as those of the part are."""

from __future__ import annotations

from dataclasses import dataclass, field

import bpy

from ..draw import coloring, maps, overlay
from ..draw.coloring import Coloring
from ..session import State, session
from . import preview_copy

MAX_KEPT_COLORINGS = 4


@dataclass(eq=False)
class _Ready(State):
    colorings: dict[tuple[str, str], Coloring] = field(default_factory=dict)  # by the key of the gas and the map


def draw() -> None:
    context = bpy.context
    copy = preview_copy.current(context)
    if copy is None or not copy[0].visible_get():
        return
    o, look = copy
    what = preview_copy.map_of(context, look)
    if what and maps.MAPS[what].analysis in look.study.results.names:
        place = context.region_data.view_matrix @ preview_copy.placed(context, o, look)
        with overlay.in_front(context):
            coloring.draw([(_coloring(look, what), place)])


def _coloring(look: preview_copy.Look, what: str) -> Coloring:
    ready, key = session.state(_Ready).colorings, (look.study.keys["gas"], what)
    if key not in ready:
        ready[key] = coloring.of(maps.draw(what, look.study))
        while len(ready) > MAX_KEPT_COLORINGS:
            del ready[next(iter(ready))]
    return ready[key]
