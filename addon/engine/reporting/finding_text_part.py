"""The sentences of findings on gas and liquid, on sizes, and on hanging: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code, Finding, RemedyCode
from ..findings import Quantity as Of
from ..trapping.bores import NEGLIGIBLE_VOLUME_M3
from ..units import MM, UM
from .filled import filled, joined, sentence
from .finding_text_mesh import Template
from .plan_text import figure, point
from .words import by_number, listed


def _two(f: Finding, quantity: Of) -> str:
    return figure(f.shown(quantity), 2)


def _gas(f: Finding) -> str:
    stays = filled(
        "{volume} mL of gas stay under the part and leave {area} cm2 bare.",
        volume=_two(f, Of.VOLUME),
        area=_two(f, Of.AREA),
    )
    if f.remedy is None or f.remedy.code != RemedyCode.VENT:
        return joined([stays, "Shake or tilt it out under the liquid, or hang the part another way."])
    left = f.remedy.quantities.get(Of.LEFT, 0.0)
    if left < NEGLIGIBLE_VOLUME_M3:
        return joined([stays, filled("Dip it tilted, hang it another way, or cut {vent}.", vent=_vent(f))])
    helps = filled(
        "Dip it tilted, hang it another way, or cut {vent}, which leaves {left} mL.",
        vent=_vent(f),
        left=figure(Of.LEFT.shown(left), 2),
    )
    return joined([stays, helps])


def _vent(f: Finding) -> str:
    """The vents that help, in words."""
    assert f.remedy is not None
    more = len(f.remedy.places) - 1
    if f.shown(Of.COUNT) > 1:
        alone = "a vent of {diameter} mm through the largest pocket at {at}"
        several = "a vent of {diameter} mm through the largest pocket at {at} and at {more} more"
    else:
        alone, several = "a vent of {diameter} mm at {at}", "a vent of {diameter} mm at {at} and at {more} more"
    diameter = figure(Of.DIAMETER.shown(f.remedy.quantities[Of.DIAMETER]), 2)
    at = point(f.remedy.places[0])
    return filled(several, diameter=diameter, at=at, more=more) if more else filled(alone, diameter=diameter, at=at)


def _held(f: Finding) -> str:
    said = filled("The part carries {volume} mL of bath out when it is lifted.", volume=_two(f, Of.VOLUME))
    if f.remedy is None or f.remedy.code != RemedyCode.DRAIN:
        return joined([said, "Tip it empty over the tank."])
    helps = filled(
        "Cut a drain of {diameter} mm at {at}, or tip it empty over the tank.",
        diameter=figure(Of.DIAMETER.shown(f.remedy.quantities[Of.DIAMETER]), 2),
        at=point(f.remedy.places[0]),
    )
    return joined([said, helps])


def _bubbles(f: Finding) -> str:
    return filled(
        "Bubbles cling to {area} cm2 of nearly level undersides, which turn out matt or pitted. Shake it now and then.",
        area=_two(f, Of.AREA),
    )


def _better(f: Finding) -> str:
    """What another way up would gain and cost."""
    gains: list[str] = []
    costs: list[str] = []
    for quantity, least, template in (
        (Of.GAS_GAIN, 0.05, "{figure} mL of gas"),
        (Of.AREA_GAIN, 0.1, "{figure} cm2 in gas or under bubbles"),
        (Of.HELD_GAIN, 0.05, "{figure} mL of bath carried out"),
    ):
        gain = f.shown(quantity)
        if abs(gain) >= least:
            (gains if gain > 0 else costs).append(filled(template, figure=figure(abs(gain), 2)))
    assert f.remedy is not None
    up = ", ".join(f"{round(f.remedy.quantities[axis], 2) + 0.0:g}" for axis in (Of.UP_X, Of.UP_Y, Of.UP_Z))
    gained, cost = listed(gains), listed(costs)
    if gains and costs:
        return filled(
            "Another position would save {gains}, at the price of {costs}: with the model's ({up}) up.",
            gains=gained,
            costs=cost,
            up=up,
        )
    if gains:
        return filled("Another position would save {gains}: with the model's ({up}) up.", gains=gained, up=up)
    if costs:
        return filled(
            "Another position would be easier to hold, at the price of {costs}: with the model's ({up}) up.",
            costs=cost,
            up=up,
        )
    return filled("Another position would be easier to hold: with the model's ({up}) up.", up=up)


def _narrow(f: Finding) -> str:
    return by_number(
        f.shown(Of.COUNT),
        "{count} opening is so narrow that bath may not enter, {width} mm wide and {depth} mm deep at {at}: the inside"
        " will hardly plate. Widen or plug it.",
        "{count} openings are so narrow that bath may not enter, {width} mm wide and {depth} mm deep at {at}: the"
        " inside will hardly plate. Widen or plug it.",
        width=_two(f, Of.WIDTH),
        depth=_two(f, Of.DEPTH),
        at=point(f.places[0]),
    )


def _gap_closes(f: Finding) -> str:
    return filled(
        "A gap of {gap} mm at {at} closes: coat and deposit of both sides are {layers} mm, on {area} cm2. Widen it in"
        " the model, or mask it.",
        gap=_two(f, Of.GAP),
        at=point(f.places[0]),
        layers=figure(f.shown(Of.THICKNESS) * UM / MM, 2),
        area=_two(f, Of.AREA),
    )


def _bore_closes(f: Finding) -> str:
    return by_number(
        f.shown(Of.COUNT),
        "{count} bore closes, the first of {diameter} mm at {at}: coat and deposit are up to"
        " {thickness} um all around. Model it wider, plug it, or drill it afterwards.",
        "{count} bores close, the first of {diameter} mm at {at}: coat and deposit are up to"
        " {thickness} um all around. Model it wider, plug it, or drill it afterwards.",
        diameter=_two(f, Of.DIAMETER),
        at=point(f.places[0]),
        thickness=_two(f, Of.THICKNESS),
    )


def _wall_thin(f: Finding) -> str:
    left = f.shown(Of.WALLS) - f.shown(Of.THICKNESS) * UM / MM
    told = {
        "area": _two(f, Of.AREA),
        "wall": _two(f, Of.WALLS),
        "at": point(f.places[0]),
        "least": _two(f, Of.WIDTH),
    }
    if left > 0:
        return filled(
            "In a print-size copy walls get too thin to print on {area} cm2: of {wall} mm at {at} {left} mm are left,"
            " less than one line of {least} mm. Thicken the model there, or print it as it is and let it grow.",
            left=figure(left, 2),
            **told,
        )
    return filled(
        "In a print-size copy walls get too thin to print on {area} cm2: of {wall} mm at {at} nothing is left, less"
        " than one line of {least} mm. Thicken the model there, or print it as it is and let it grow.",
        **told,
    )


def _purpose_thin(f: Finding) -> str:
    return filled(
        "For its purpose, {purpose}, {thickness} um are too thin: set the thickness to {needed} um (limited by"
        " {limit}).",
        purpose=f.names["purpose"],
        thickness=_two(f, Of.THICKNESS),
        needed=_two(f, Of.NEEDED_THICKNESS),
        limit=f.names["limit"],
    )


def _floats(f: Finding) -> str:
    light, thick = _two(f, Of.MASS), _two(f, Of.THICKNESS)
    if f.names["at_the_end"] == "floats":
        said = filled(
            "The print floats: {mass} g too light; it sinks from {thickness} um of deposit, more than is"
            " wanted, so it floats to the end.",
            mass=light,
            thickness=thick,
        )
    else:
        said = filled(
            "The print floats: {mass} g too light; it sinks from {thickness} um of deposit, before the end.",
            mass=light,
            thickness=thick,
        )
    ballast = f.shown(Of.BALLAST)
    if Of.DIAMETER not in f.quantities:
        heavy = (
            "No wire that hands bend holds it down: tie {mass} g of copper below it, lacquered, or print it heavier."
        )
        return joined([said, filled(heavy, mass=_two(f, Of.BALLAST))]) if ballast > 0 else said
    wire = filled(
        "Hold it on a rigid copper wire of {diameter} mm or more: it then needs no ballast.",
        diameter=_two(f, Of.DIAMETER),
    )
    if ballast <= 0:
        return joined([said, wire])
    flexible = filled("On a flexible wire it needs {mass} g of copper, lacquered.", mass=_two(f, Of.BALLAST))
    return joined([said, wire, flexible])


def _weight_unknown(f: Finding) -> str:
    reason = f.names["reason"]
    if not f.shown(Of.MASS) > 0:
        return reason
    floats = filled("It may float, by {mass} g at most.", mass=_two(f, Of.MASS))
    if Of.DIAMETER not in f.quantities:
        return joined([sentence(reason), floats, "Try it in water, sealed, and tie copper below it until it sinks."])
    wire = filled("Hold it on a rigid copper wire of {diameter} mm or more.", diameter=_two(f, Of.DIAMETER))
    return joined([sentence(reason), floats, wire])


def _infill(f: Finding) -> str:
    return filled(
        "The infill holds {volume} mL of air. Where wall or coat leak, bath creeps in, up to {mass} g: seal the print,"
        " weigh it before and after.",
        volume=f"{f.shown(Of.VOLUME):.1f}",
        mass=f"{f.shown(Of.MASS):.0f}",
    )


def _void(f: Finding) -> str:
    return filled(
        "Sealed voids in the model hold {volume} mL of air; flooded through a vent and a drain they"
        " would pull {mass} g more, and need rinsing out.",
        volume=f"{f.shown(Of.VOLUME):.1f}",
        mass=f"{f.shown(Of.MASS):.1f}",
    )


def _walls(f: Finding) -> str:
    return filled(
        "{part.walls_mm}: walls of {walls} mm meet everywhere inside, so the print counts as solid; check the value"
        " if it is not meant to be.",
        walls=f"{f.shown(Of.WALLS):g}",
    )


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


def _gas_lifts(f: Finding) -> str:
    return filled(
        "With its gas pockets full the part floats up, {mass} g too light: vent it first.",
        mass=f"{f.shown(Of.MASS):.1f}",
    )


def _gas_swings(f: Finding) -> str:
    return filled(
        "Gas in its pockets swings the part by {swing} degrees on its wire until it is vented.",
        swing=f"{f.shown(Of.SWING):.0f}",
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.GAP_CLOSES: _gap_closes,
    Code.BORE_CLOSES: _bore_closes,
    Code.WALL_THIN: _wall_thin,
    Code.PURPOSE_THIN: _purpose_thin,
    Code.GAS_TRAPPED: _gas,
    Code.LIQUID_HELD: _held,
    Code.BUBBLE_PRONE: _bubbles,
    Code.OPENINGS_NARROW: _narrow,
    Code.TRAPPING_OVERLAP: lambda f: (
        "Bodies touch or overlap: gas and liquid that only several of them together hold are missed."
        " Join the bodies into one (boolean union), then check again."
    ),
    Code.TRAPPING_PATCHED: lambda f: (
        "Gas and held liquid are computed as if each hole in the surface were closed by a flat patch, with the solid"
        " behind it."
    ),
    Code.BETTER_WAY_UP: _better,
    Code.FLOATS: _floats,
    Code.GAS_LIFTS: _gas_lifts,
    Code.GAS_SWINGS: _gas_swings,
    Code.INFILL_AIR: _infill,
    Code.VOID_AIR: _void,
    Code.WALLS_MEET: _walls,
    Code.WEIGHT_UNKNOWN: _weight_unknown,
    Code.WIRE_OFF_PART: _off_part,
}
