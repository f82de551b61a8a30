"""The report's sections on hanging: ways up, what holds the part, and where wires touch it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..hanging.balance import MIN_PULL_SHARE
from ..units import CM2, GRAM, ML, MM, UM
from . import reason_text, words

if TYPE_CHECKING:
    from ..coat.contact import Contacts
    from ..hanging.result import Hanging
    from ..hanging.suggestion import Suggestion
    from ..study import Study

Table = dict[str, Any]


HOLDS = ("rigid hook", "one wire", "two wires", "three wires")


def contacts(result: Contacts, _study: Study) -> list[Table]:
    """The key `contacts`."""
    return [
        {
            "point_mm": contact.point / MM,
            "normal": contact.normal,
            "drop_V": contact.drop,
            "hidden": contact.hidden,
            "place": words.place_name(contact.place),
            "reasons": reason_text.texts(contact.reasons),
        }
        for contact in result.ranked
    ]


def hanging(result: Hanging, _study: Study) -> Table:
    """The key `hanging`."""
    body, start = result.body, result.start
    return {
        "mass_g": None if body is None else body.mass / GRAM,
        "deposit_g": result.deposit / GRAM,
        "displaced_mL": None if body is None else body.displaced / ML,
        "net_g": None if start is None else start.net / GRAM,
        "floats": None if start is None else start.floats,
        "ballast_g": result.ballast / GRAM,
        "pull_g": None if start is None or body is None else MIN_PULL_SHARE * body.mass / GRAM,
        "rigid_wire_mm": None if result.rigid_wire is None else result.rigid_wire / MM,
        "bearing_wire_mm": None if result.bearing_wire is None else result.bearing_wire / MM,
        "balance_mm": None if start is None else start.point / MM,
        "settles_up": result.settles_up,
        "net_end_g": None if result.end is None else result.end.net / GRAM,
        "sinks_at_g": None if result.sinks is None else result.sinks / GRAM,
        "sinks_at_um": None if result.sinks_thickness is None else result.sinks_thickness / UM,
        "net_gas_full_g": None if result.full is None else result.full.net / GRAM,
        "swing_deg": None if result.swing is None else np.degrees(result.swing),
        "recommended_up": result.suggestions[0].up if result.suggestions else None,
        "fill_up": result.fill_up,
        "suggestions": [_suggestion(suggestion) for suggestion in result.suggestions],
        "as_set": None if result.as_set is None else _suggestion(result.as_set),
        "pair": None
        if result.pair is None
        else {
            "pays": result.pair.pays,
            "gain_cm2": result.pair.gain / CM2,
            "first_up": result.pair.first.up,
            "second_up": result.pair.second.up,
            "missed_cm2": result.pair.missed / CM2,
        },
        "swept_triangles": result.swept,
        "sampling_error_share": result.sampling_error,
    }


def _held_by(suggestion: Suggestion) -> str | None:
    if suggestion.hold is None:
        return None
    return "ballast" if suggestion.hold.tether else HOLDS[suggestion.hold.wires]


def _suggestion(suggestion: Suggestion) -> Table:
    return {
        "up": suggestion.up,
        "euler_deg": np.degrees(suggestion.euler),
        "trapped_mL": suggestion.trapped / ML,
        "level_underside_cm2": suggestion.underside / CM2,
        "held_mL": suggestion.held / ML,
        "fits": suggestion.fits,
        "front": suggestion.best,
        "contact_mm": None if suggestion.contact is None else suggestion.contact / MM,
        "hold": _held_by(suggestion),
        "contacts_mm": [] if suggestion.hold is None else suggestion.hold.points / MM,
        "show_faces_to_anodes": suggestion.facing,
        "net_gas_full_g": None if suggestion.net_full is None else suggestion.net_full / GRAM,
        "swing_deg": None if suggestion.swing is None else np.degrees(suggestion.swing),
        "cost": suggestion.cost,
        "turn_deg": np.degrees(suggestion.turn),
        "spoilt_show_cm2": suggestion.visible_spoilt / CM2,
        "spoilt_thin_cm2": None if suggestion.thin_spoilt is None else suggestion.thin_spoilt / CM2,
        "reasons": reason_text.texts(suggestion.reasons),
    }
