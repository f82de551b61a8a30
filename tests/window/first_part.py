"""docs/first-part.md as a beginner follows it, with the real mouse and keys; the labels that it names are the buttons'.

Only the scale of the import is set from here, in the window that is open: the field's place is Blender's own.
Run by `make window`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import bpy
import numpy as np

from hand import Hand, coarse, demo_file, emptied, engine, idle, kept, room, until

sidebar_tab, viewport = (globals()[name] for name in ("sidebar_tab", "viewport"))
hand = Hand(globals())
SIZE_M = 0.06  # of the demo part's longest side
LATER = {"field", "coat", "hanging"}  # what the first figures do not wait for


def sidebar_by_key() -> Iterator[float]:
    """Point at the viewport, press N."""
    space = viewport()["area"].spaces.active
    space.show_region_ui = False
    yield 0.5
    hand.xdotool("mousemove", *hand.middle())
    yield 0.3
    hand.xdotool("key", "n")
    yield from until(lambda: space.show_region_ui, "N opens no sidebar")


def imported(folder: str) -> Iterator[float]:
    """File > Import > STL, Scale 0.001, Import STL; the Dimensions."""
    path = demo_file(folder)
    yield from hand.searched("import stl")
    windows = bpy.context.window_manager.windows
    yield from until(lambda: len(windows) > 1, "no import window opens")
    yield 0.5
    importing = windows[-1].screen.areas[0].spaces.active.active_operator
    assert importing.name == "Import STL"
    assert importing.properties.bl_rna.properties["global_scale"].name == "Scale"
    importing.properties.global_scale = 0.001
    yield from hand.chosen_file(path)
    part = bpy.context.active_object
    assert part is not None and abs(max(part.dimensions) - SIZE_M) < 1e-4
    sidebar_tab("Item")
    yield 0.5
    hand.picture("first_part_imported")


def checked() -> Iterator[float]:
    """Check Part: the first figures, and the rest; Show where there is one."""
    sidebar_tab("Platewright")
    yield 0.5
    before = viewport()["area"].spaces.active.region_3d.view_distance
    yield from hand.click("check()")
    yield from until(lambda: kept() is not None, "nothing is kept", every=0.2)
    assert viewport()["area"].spaces.active.region_3d.view_distance < 0.1 * before, "the part stays a speck"
    results = kept().study.results
    assert results.deposit is not None and not LATER & set(results.names), "the current does not come first"
    hand.picture("first_part_begun")
    yield from idle("the check does not end")
    judgment = room("judged").judgment(kept().study)
    assert 0 < len(judgment.verdict.changes) <= 3
    hand.picture("first_part_checked")
    number = next(k for k, placed in enumerate(judgment.placed) if placed)
    turned = np.array(viewport()["area"].spaces.active.region_3d.view_rotation)
    yield from hand.click(f"show_finding(number={number})")
    yield 0.5
    assert not np.allclose(turned, viewport()["area"].spaces.active.region_3d.view_rotation), (
        "Show does not turn the view"
    )


def changed() -> Iterator[float]:
    """The other button below the first line; what became better and worse."""
    before = kept()
    yield from hand.click("fix(number=0)")
    yield from until(lambda: kept() is not before, "the fix is not pressed", every=0.5)
    yield from idle("the fix is not checked")
    marks = {change.judgment for change in room("session").session.state(room("judged").Checks).changes}
    assert engine("verdict.compare").Judgment.BETTER in marks
    hand.picture("first_part_changed")


def taken_along(folder: str) -> Iterator[float]:
    """Write Plan; Plan & Pictures > Save Workshop Sheet, Save Client Sheet."""
    yield from hand.click("plan()")
    areas = bpy.context.window.screen.areas
    yield from until(lambda: any(area.type == "TEXT_EDITOR" for area in areas), "the plan does not open")
    yield from hand.open_panel("6-plan-and-pictures")
    hand.picture("first_part_plan")
    for count, command in enumerate(("workshop()", "sheet()"), 1):
        yield from hand.click(command)
        yield from hand.chosen_file(Path(folder))  # under the name that it proposes
        yield from until(lambda count=count: len(saved(folder)) == count, f"{command} writes no file", every=0.5)


def saved(folder: str) -> list[Path]:
    """The sheets in a folder that hold something."""
    return [path for path in Path(folder).iterdir() if path.suffix != ".stl" and path.stat().st_size > 10_000]


def steps() -> Iterator[float | None]:
    emptied()
    yield from sidebar_by_key()
    sidebar_tab("Platewright")
    coarse()
    with tempfile.TemporaryDirectory() as folder:
        yield from imported(folder)
        yield from checked()
        yield from changed()
        yield from taken_along(folder)
    hand.picture("first_part_end")
