"""The sentences of findings on gas and liquid, and on the way up: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code, Finding, RemedyCode
from ..findings import Quantity as Of
from ..trapping.bores import NEGLIGIBLE_VOLUME_M3
from .filled import filled, joined
from .finding_template import Template, counts, first_place, says, shown, two_digits
from .plan_text import figure, point
from .words import listed


def _gas(f: Finding) -> str:
    trapped = filled(
        "{volume} mL of gas stay under the part and leave {area} cm2 bare.",
        volume=two_digits(f, Of.VOLUME),
        area=two_digits(f, Of.AREA),
    )
    if f.remedy is None or f.remedy.code != RemedyCode.VENT:
        return joined([trapped, "Shake or tilt it out under the liquid, or hang the part another way."])
    left = f.remedy.quantities.get(Of.LEFT, 0.0)
    if left < NEGLIGIBLE_VOLUME_M3:
        return joined([trapped, filled("Dip it tilted, hang it another way, or cut {vent}.", vent=_vent(f))])
    helps = filled(
        "Dip it tilted, hang it another way, or cut {vent}, which leaves {left} mL.",
        vent=_vent(f),
        left=figure(Of.LEFT.shown(left), 2),
    )
    return joined([trapped, helps])


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
    text = filled("Lifted, the part carries {volume} mL of bath out in its hollows.", volume=two_digits(f, Of.VOLUME))
    if f.remedy is None or f.remedy.code != RemedyCode.DRAIN:
        return joined([text, "Tip it empty over the tank."])
    helps = filled(
        "Cut a drain of {diameter} mm at {at}, or tip it empty over the tank.",
        diameter=figure(Of.DIAMETER.shown(f.remedy.quantities[Of.DIAMETER]), 2),
        at=point(f.remedy.places[0]),
    )
    return joined([text, helps])


def _better(f: Finding) -> str:
    """What another way up would gain and cost."""
    gains: list[str] = []
    costs: list[str] = []
    for quantity, least, template in (
        (Of.GAS_GAIN, 0.05, "{figure} mL of gas"),
        (Of.AREA_GAIN, 0.1, "{figure} cm2 in gas or under bubbles"),
        (Of.HELD_GAIN, 0.05, "{figure} mL of bath carried out in hollows"),
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


TEMPLATES: Mapping[Code, Template] = {
    Code.GAS_TRAPPED: _gas,
    Code.LIQUID_HELD: _held,
    Code.BUBBLE_PRONE: says(
        "Bubbles cling to {area} cm2 of nearly level undersides, which turn out matt or pitted. Shake it now and then.",
        area=shown(Of.AREA),
    ),
    Code.OPENINGS_NARROW: counts(
        Of.COUNT,
        "{count} opening is so narrow that bath may not enter, {width} mm wide and {depth} mm deep at {at}: the inside"
        " will hardly plate. Widen or plug it.",
        "{count} openings are so narrow that bath may not enter, {width} mm wide and {depth} mm deep at {at}: the"
        " inside will hardly plate. Widen or plug it.",
        width=shown(Of.WIDTH),
        depth=shown(Of.DEPTH),
        at=first_place,
    ),
    Code.TRAPPING_OVERLAP: says(
        "Bodies touch or overlap: gas and liquid that only several of them together hold are missed."
        " Join the bodies into one (boolean union), then check again."
    ),
    Code.TRAPPING_PATCHED: says(
        "Gas and held liquid are computed as if each hole in the surface were closed by a flat patch, with the solid"
        " behind it."
    ),
    Code.BETTER_WAY_UP: _better,
}
