"""The report's section on helpers that stand in the tank: rack, anode holders, shields, thief."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..units import CM3, GRAM, ML, MM
from .report_solid import shade_of

if TYPE_CHECKING:
    from ..helpers.anode_holder import AnodeHolders
    from ..helpers.printed import Printed
    from ..helpers.rack import RackMade
    from ..helpers.shade import Shade
    from ..helpers.shield import ShieldMade
    from ..helpers.thief import ThiefMade
    from ..study.results import Results

Table = dict[str, Any]


def helpers(results: Results) -> list[Table]:
    """The helpers that were made."""
    rows = []
    if results.rack_holder is not None:
        rows.append(_rack(results.rack_holder) | shade_of(results.rack_shade))
    if results.anode_holder is not None:
        rows.append(_anodes(results.anode_holder) | shade_of(results.anode_holder_shade))
    if results.shield is not None:
        rows.append(_shield(results.shield) | shade_of(results.shield_shade))
    if results.thief is not None:
        rows.append(_thief(results.thief, results.thief_shade) | shade_of(results.thief_shade))
    return rows


def _solid(kind: str, helper: Printed) -> Table:
    return {
        "kind": kind,
        "file": None,
        "axes": "tank",
        "bodies": helper.bodies,
        "bounds_mm": helper.bounds / MM,
        "volume_cm3": helper.volume / CM3,
        "mass_g": helper.mass / GRAM,
        "plastic": helper.plastic,
        "print_up": helper.flat,
        "clearance_mm": helper.clearance / MM,
        "wire_clearance_mm": helper.wire_clearance / MM if np.isfinite(helper.wire_clearance) else None,
        "sway_mm": None if helper.sway is None else helper.sway / MM,
        "floats": helper.floats,
        "gas_mL": helper.gas / ML,
    }


def _rack(rack: RackMade) -> Table:
    return _solid("rack", rack.printed) | {
        "rod_mm": rack.rod / MM,
        "rods_mm": rack.rods / MM,
        "copies": rack.copies,
        "rows": rack.rows,
        "pitch_mm": None if rack.pitch is None else rack.pitch / MM,
        "section_mm": [side / MM for side in rack.section],
        "wires_at_mm": rack.wires / MM,
    }


def _anodes(holders: AnodeHolders) -> Table:
    return _solid("anode-holder", holders.printed) | {
        "anodes": list(holders.plates),
        "strips": list(holders.strips),
        "anode_mm": holders.plate / MM,
        "rim_mm": holders.rim / MM,
        "places_mm": holders.places / MM,
    }


def _shield(shield: ShieldMade) -> Table:
    return _solid("shield", shield.printed) | {
        "rod_mm": shield.rod / MM,
        "rods_mm": shield.rods / MM,
        "off_mm": [off / MM for off in shield.places],
        "window_mm": [side / MM for side in shield.window],
        "thin_over_thick": shield.even,
        "thin_over_thick_before": shield.even_before,
    }


def _thief(thief: ThiefMade, shade: Shade | None) -> Table:
    return _solid("thief", thief.printed) | {
        "rod_mm": thief.rod / MM,
        "rods_mm": thief.rods / MM,
        "wire_mm": thief.wire / MM,
        "wire_length_mm": thief.length / MM,
        "corners_mm": thief.corners / MM,
        "off_mm": [thief.away / MM],
        "thief_share": thief.share,
        "thief_current_A": None if shade is None else shade.thief_current,
        "thin_over_thick": thief.even,
        "thin_over_thick_before": thief.even_before,
    }
