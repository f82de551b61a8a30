"""Which heading of the guide explains what: for the question mark in a panel's header, and for Blender's Online
Manual entry.

The guide is one page inside the extension and needs no network.
"""

from __future__ import annotations

from pathlib import Path

import bpy

GUIDE = Path(__file__).resolve().parents[1] / "guide.html"
PAGES = {  # pattern of operators and settings -> heading of the guide; the first match counts
    "bpy.ops.platewright.check*": "check-the-part",
    "bpy.ops.platewright.fix*": "check-the-part",
    "bpy.ops.platewright.show_finding*": "check-the-part",
    "bpy.ops.platewright.size_is_right*": "check-the-part",
    "bpy.ops.platewright.*_state*": "check-the-part",
    "bpy.ops.platewright.choose*": "1-part",
    "bpy.ops.platewright.measure*": "1-part",
    "bpy.ops.platewright.inset*": "2-print",
    "bpy.ops.platewright.*preview*": "3-hang",
    "bpy.ops.platewright.scrub*": "3-hang",
    "bpy.ops.platewright.*way_up*": "3-hang",
    "bpy.ops.platewright.up_from_view*": "3-hang",
    "bpy.ops.platewright.turn_part*": "3-hang",
    "bpy.ops.platewright.follow*": "gas-and-drag-out",
    "bpy.ops.platewright.*holes*": "gas-and-drag-out",
    "bpy.ops.platewright.*wire*": "4-coat-and-wires",
    "bpy.ops.platewright.sheet_resistance*": "4-coat-and-wires",
    "bpy.ops.platewright.conductivity*": "5-tank-and-bath",
    "bpy.ops.platewright.take_target*": "5-tank-and-bath",
    "bpy.ops.platewright.tank*": "tank-and-anodes",
    "bpy.ops.platewright.anode*": "tank-and-anodes",
    "bpy.ops.platewright.rack*": "tank-and-anodes",
    "bpy.ops.platewright.take_layout*": "evenness",
    "bpy.ops.platewright.cut*": "cross-section",
    "bpy.ops.platewright.probe*": "thickness-and-shielded-areas",
    "bpy.ops.platewright.show*": "thickness-and-shielded-areas",
    "bpy.ops.platewright.plan*": "6-plan-and-pictures",
    "bpy.ops.platewright.workshop*": "6-plan-and-pictures",
    "bpy.ops.platewright.sheet*": "6-plan-and-pictures",
    "bpy.ops.platewright.picture*": "6-plan-and-pictures",
    "bpy.ops.platewright.store*": "6-plan-and-pictures",
    "bpy.ops.platewright.remove*": "6-plan-and-pictures",
    "bpy.ops.platewright.*": "where-else",
    "bpy.types.platewright_pg_part*": "1-part",
    "bpy.types.platewright_pg_print*": "2-print",
    "bpy.types.platewright_pg_hang*": "3-hang",
    "bpy.types.platewright_pg_coat*": "4-coat-and-wires",
    "bpy.types.platewright_pg_tank*": "tank-and-anodes",
    "bpy.types.platewright_pg_cut*": "cross-section",
    "bpy.types.platewright_pg_*": "5-tank-and-bath",
}


def address(page: str) -> str:
    """Where a heading of the guide is."""
    return f"{GUIDE.as_uri()}#{page}"


def mapped() -> tuple[str, tuple[tuple[str, str], ...]]:
    """Blender's manual hook: the prefix of all addresses, and the suffix of each."""
    return GUIDE.as_uri(), tuple((operator, f"#{page}") for operator, page in PAGES.items())


def register() -> None:
    bpy.utils.register_manual_map(mapped)


def unregister() -> None:
    bpy.utils.unregister_manual_map(mapped)
