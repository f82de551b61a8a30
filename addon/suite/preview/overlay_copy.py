"""The colors of the copy beside the part, drawn over it in the viewports as those of the part are."""

from __future__ import annotations

from dataclasses import dataclass, field

import bpy

from ..draw import coloring, maps, overlay
from ..draw.coloring import Coloring
from ..session import State, session
from . import preview_copy

MAX_CACHED_COLORINGS = 4


@dataclass(eq=False)
class _Ready(State):
    colorings: dict[tuple[str, str], Coloring] = field(default_factory=dict)  # by the key of the gas and the map


def draw() -> None:
    context = bpy.context
    copy = preview_copy.current(context)
    if copy is None or not copy[0].visible_get():
        return
    o, look = copy
    map_name = preview_copy.map_of(context, look)
    if map_name and maps.MAPS[map_name].analysis in look.study.results.names:
        place = context.region_data.view_matrix @ preview_copy.placed(context, o, look)
        with overlay.in_front(context):
            coloring.draw([(_coloring(look, map_name), place)])


def _coloring(look: preview_copy.Look, map_name: str) -> Coloring:
    ready, key = session.state(_Ready).colorings, (look.study.keys["gas"], map_name)
    if key not in ready:
        ready[key] = coloring.of(maps.draw(map_name, look.study))
        while len(ready) > MAX_CACHED_COLORINGS:
            del ready[next(iter(ready))]
    return ready[key]
