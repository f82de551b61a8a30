"""Places on the part in a sentence: a pocket of gas, a pool, a narrow opening, a place for the wire."""

from __future__ import annotations

from ...engine.coat.contact import Contact
from ...engine.reporting import reason_text, words
from ...engine.reporting.filled import filled, joined
from ...engine.trapping.bores import NEGLIGIBLE_VOLUME_M3
from ...engine.trapping.gas import Pool
from ...engine.trapping.narrow import Opening
from ...engine.trapping.pockets import Pocket
from ...engine.units import CM2, MM
from ..figures import figure, milliliters


def pocket_words(pocket: Pocket) -> str:
    """A gas pocket in a sentence."""
    sentence = filled(
        "Gas pocket: {volume} over {area}.", volume=milliliters(pocket.volume), area=figure(pocket.area / CM2, "cm2")
    )
    return joined([sentence, _hole(pocket, "A vent of {diameter} at its top leaves {volume} of it")])


def pool_words(pool: Pool) -> str:
    """A pool in a sentence."""
    sentence = filled("Carries {volume} of bath out when the part is lifted.", volume=milliliters(pool.volume))
    return joined([sentence, _hole(pool, "A drain of {diameter} at its lowest point leaves {volume} of it")])


def _hole(place: Pocket | Pool, template: str) -> str:
    best = place.hole
    if best is None or place.volume < NEGLIGIBLE_VOLUME_M3:
        return "Shake or tip it out"
    return filled(template, diameter=figure(best.diameter / MM, "mm"), volume=milliliters(best.remaining))


def opening_words(opening: Opening) -> str:
    """A narrow opening in a sentence."""
    return filled(
        "A {kind} {width} wide and {depth} deep: it may keep its gas and stay bare. Widen it, fill it or mask it",
        kind=opening.kind,
        width=figure(opening.width / MM, "mm"),
        depth=figure(opening.depth / MM, "mm"),
    )


def contact_words(contact: Contact) -> str:
    """A place for the wire in a sentence."""
    where = filled("Wire: {place}.", place=words.place_name(contact.place))
    return joined([where, joined(reason_text.texts(contact.reasons), "; ")])
