"""The sentences of findings on weight, floating and holding: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code, Finding
from ..findings import Quantity as Of
from .filled import filled, joined, sentence
from .finding_template import Template, says, shown, two_digits
from .plan_text import point


def _floats(f: Finding) -> str:
    light, thick = two_digits(f, Of.MASS), two_digits(f, Of.THICKNESS)
    if f.names["at_the_end"] == "floats":
        text = filled(
            "The print floats: {mass} g too light; it sinks from {thickness} um of deposit, more than is"
            " wanted, so it floats to the end.",
            mass=light,
            thickness=thick,
        )
    else:
        text = filled(
            "The print floats: {mass} g too light; it sinks from {thickness} um of deposit, before the end.",
            mass=light,
            thickness=thick,
        )
    ballast = f.shown(Of.BALLAST)
    if Of.DIAMETER not in f.quantities:
        heavy = (
            "No wire that hands bend holds it down: tie {mass} g of copper below it, lacquered, or print it heavier."
        )
        return joined([text, filled(heavy, mass=two_digits(f, Of.BALLAST))]) if ballast > 0 else text
    wire = filled(
        "Hold it on a rigid copper wire of {diameter} mm or more: it then needs no ballast.",
        diameter=two_digits(f, Of.DIAMETER),
    )
    if ballast <= 0:
        return joined([text, wire])
    flexible = filled("On a flexible wire it needs {mass} g of copper, lacquered.", mass=two_digits(f, Of.BALLAST))
    return joined([text, wire, flexible])


def _weight_unknown(f: Finding) -> str:
    reason = f.names["reason"]
    if not f.shown(Of.MASS) > 0:
        sinks = "It sinks all the same: its walls alone are heavier than the bath that it displaces, holes closed."
        return joined([sentence(reason), sinks])
    floats = filled("It may float, by {mass} g at most.", mass=two_digits(f, Of.MASS))
    if Of.DIAMETER not in f.quantities:
        return joined([sentence(reason), floats, "Try it in water, sealed, and tie copper below it until it sinks."])
    wire = filled("Hold it on a rigid copper wire of {diameter} mm or more.", diameter=two_digits(f, Of.DIAMETER))
    return joined([sentence(reason), floats, wire])


def _off_part(f: Finding) -> str:
    at = point(f.places[0]).removesuffix(" mm").replace("(", "[").replace(")", "]")
    distance = f"{f.shown(Of.DISTANCE):.1f}"
    if f.names["side"] == "inside":
        return filled(
            "{wire.point_mm}: {label} lies {distance} mm inside the part, where no wire touches it; give a point on its"
            " surface, or leave it out and take a suggestion.",
            label=at,
            distance=distance,
        )
    return filled(
        "{wire.point_mm}: {label} lies {distance} mm off the part, where no wire touches it; give a point on its"
        " surface, or leave it out and take a suggestion.",
        label=at,
        distance=distance,
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.FLOATS: _floats,
    Code.GAS_LIFTS: says(
        "With its gas pockets full the part floats up, {mass} g too light: vent it first.", mass=shown(Of.MASS, ".1f")
    ),
    Code.GAS_SWINGS: says(
        "Gas in its pockets swings the part by {swing} degrees on its wire until it is vented.",
        swing=shown(Of.SWING, ".0f"),
    ),
    Code.INFILL_AIR: says(
        "The infill holds {volume} mL of air. Where wall or coat leak, bath creeps in, up to {mass} g: seal the print,"
        " weigh it before and after.",
        volume=shown(Of.VOLUME),
        mass=shown(Of.MASS),
    ),
    Code.VOID_AIR: says(
        "Sealed voids in the model hold {volume} mL of air; flooded through a vent and a drain they"
        " would pull {mass} g more, and need rinsing out.",
        volume=shown(Of.VOLUME, ".1f"),
        mass=shown(Of.MASS, ".1f"),
    ),
    Code.WALLS_MEET: says(
        "{part.walls_mm}: walls of {walls} mm meet everywhere inside, so the print counts as solid; check the value"
        " if it is not meant to be.",
        walls=shown(Of.WALLS, "g"),
    ),
    Code.WEIGHT_UNKNOWN: _weight_unknown,
    Code.WIRE_OFF_PART: _off_part,
}
