"""docs/guide.md's main path, with the real mouse and keys: the steps below the verdict, each by the buttons that it names.

What comes before, import and check, and what follows, plan and sheets, is in first_part.py. Run by `make window`.
"""

from __future__ import annotations

from collections.abc import Iterator

import bpy

from hand import Hand, coarse, emptied, idle, imported, kept, until

sidebar_tab, viewport = (globals()[name] for name in ("sidebar_tab", "viewport"))
hand = Hand(globals())
RIGHT_END = 0.81  # of the sidebar's width: where a small button ends a row
WHEEL_TURNS = 40  # over the sidebar: back to its head


def head() -> Iterator[float]:
    """Turn the wheel up over the sidebar until the verdict stands at its top."""
    region = next(one for one in viewport()["area"].regions if one.type == "UI")
    y = bpy.context.window.height - region.y - region.height // 2
    hand.xdotool("mousemove", region.x + region.width // 2, y)
    yield 0.2
    hand.xdotool("click", "--repeat", WHEEL_TURNS, 4)
    yield 0.6


def opened(page: str) -> Iterator[float]:
    """Click the header of a step, with all above it in view."""
    yield from head()
    yield from hand.open_panel(page)


def stale() -> frozenset[str]:
    return kept().stale(bpy.context.scene)


def hung() -> Iterator[float]:
    """3. Hang: the check mark of a row uses that position; what no longer holds is marked until Check Again."""
    yield from opened("3-hang")
    best = kept().study.results.hanging.suggestions[0].up
    yield from hand.click("take_way_up(number=0)", across=(RIGHT_END,))
    up = bpy.context.scene.platewright.part.up
    assert max(abs(a - b) for a, b in zip(up, best, strict=True)) < 1e-3, "the check mark does not use the position"
    assert "gas" in stale() and "deposit" not in stale()
    hand.picture("guide_out_of_date")
    yield from head()
    before = kept()
    yield from hand.click("check()")
    yield from until(lambda: kept() is not before, "Check Again is not pressed", every=0.5)
    yield from idle("the part is not checked again")
    assert not stale()
    hand.picture("guide_hung")
    yield from opened("3-hang")  # closes it


def wired() -> Iterator[float]:
    """4. Coat and wires: Add Suggested Wires adds as many as the coat needs; they replace the suggestions."""
    yield from opened("4-coat-and-wires")
    needed = kept().study.results.coat.wires_needed
    yield from hand.click("suggest_wires()")
    wires = [o for o in bpy.context.scene.objects if o.platewright.role == "WIRE"]
    assert len(wires) == needed, (len(wires), needed)
    assert "coat" in stale(), "wires of the scene do not count"
    hand.picture("guide_wires")
    yield from opened("4-coat-and-wires")


def plated() -> Iterator[float]:
    """5. Tank and bath: Add Tank, Calculate Thickness, Show Thickness."""
    yield from opened("5-tank-and-bath")
    yield from hand.click("tank()")
    roles = {o.platewright.role for o in bpy.context.scene.objects}
    assert {"TANK", "ANODE"} <= roles, roles
    part = bpy.context.scene.platewright.objects[0].object
    assert part is not None, "the tab does not stay with the part"
    before = kept()
    yield from hand.click('study(only="field")')
    yield from until(lambda: kept() is not before, "Calculate Thickness is not pressed", every=0.5)
    yield from idle("the thickness is not calculated")
    assert "field" not in stale()
    yield from hand.click('show(map_name="thickness")')
    assert bpy.context.window_manager.platewright.shown == "thickness"
    hand.picture("guide_thickness")


def steps() -> Iterator[float | None]:
    emptied()
    sidebar_tab("Platewright")
    coarse()
    imported(0.001)
    yield 0.5
    yield from hand.click("check()")
    yield from until(lambda: kept() is not None, "nothing is kept", every=0.5)
    yield from idle("the check does not end")
    yield from hung()
    yield from wired()
    yield from plated()
