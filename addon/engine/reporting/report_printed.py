"""What the report tells of the helpers that stand in the tank: rack, anode holders, shields, thief."""

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
    """Those that there are."""
    found = []
    if results.rack_holder is not None:
        found.append(_rack(results.rack_holder) | shade_of(results.rack_shade))
    if results.anode_holder is not None:
        found.append(_anodes(results.anode_holder) | shade_of(results.anode_holder_shade))
    if results.shield is not None:
        found.append(_shield(results.shield) | shade_of(results.shield_shade))
    if results.thief is not None:
        found.append(_thief(results.thief, results.thief_shade) | shade_of(results.thief_shade))
    return found


def _solid(kind: str, made: Printed) -> Table:
    return {
        "kind": kind,
        "file": None,
        "axes": "tank",
        "bodies": made.bodies,
        "bounds_mm": made.bounds / MM,
        "volume_cm3": made.volume / CM3,
        "mass_g": made.mass / GRAM,
        "plastic": made.plastic,
        "print_up": made.flat,
        "clearance_mm": made.clearance / MM,
        "wire_clearance_mm": made.wire_clearance / MM if np.isfinite(made.wire_clearance) else None,
        "sway_mm": None if made.sway is None else made.sway / MM,
        "floats": made.floats,
        "gas_mL": made.gas / ML,
    }


def _rack(found: RackMade) -> Table:
    return _solid("rack", found.made) | {
        "rod_mm": found.rod / MM,
        "rods_mm": found.rods / MM,
        "copies": found.copies,
        "rows": found.rows,
        "pitch_mm": None if found.pitch is None else found.pitch / MM,
        "section_mm": [side / MM for side in found.section],
        "wires_at_mm": found.wires / MM,
    }


def _anodes(found: AnodeHolders) -> Table:
    return _solid("anode-holder", found.made) | {
        "anodes": list(found.plates),
        "strips": list(found.strips),
        "anode_mm": found.plate / MM,
        "rim_mm": found.rim / MM,
        "places_mm": found.places / MM,
    }


def _shield(found: ShieldMade) -> Table:
    return _solid("shield", found.made) | {
        "rod_mm": found.rod / MM,
        "rods_mm": found.rods / MM,
        "off_mm": [off / MM for off in found.places],
        "window_mm": [side / MM for side in found.window],
        "thin_over_thick": found.even,
        "thin_over_thick_before": found.even_before,
    }


def _thief(found: ThiefMade, shade: Shade | None) -> Table:
    return _solid("thief", found.made) | {
        "rod_mm": found.rod / MM,
        "rods_mm": found.rods / MM,
        "wire_mm": found.wire / MM,
        "wire_length_mm": found.length / MM,
        "corners_mm": found.corners / MM,
        "off_mm": [found.away / MM],
        "thief_share": found.share,
        "thief_current_A": None if shade is None else shade.thief_current,
        "thin_over_thick": found.even,
        "thin_over_thick_before": found.even_before,
    }
