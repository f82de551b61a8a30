"""The sentences of findings on current, bath and computation: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..chemistry.deposit import duration
from ..findings import Code, Finding, RemedyCode
from ..findings import Quantity as Of
from . import finding_text_bath
from .filled import capital, filled, joined
from .finding_template import Template, name, percent, says, shown, significant
from .finding_text_coat import PLUGGED
from .plan_text import figure, general, point


def _supply(f: Finding) -> str:
    return filled(
        "The supply gives {supply} A but {current} A are wanted: it reaches {density} of {wanted} A/dm2, so the same"
        " thickness takes {time}.",
        supply=general(f.shown(Of.SUPPLY_CURRENT), 3),
        current=general(f.shown(Of.CURRENT), 3),
        density=general(f.shown(Of.DENSITY), 2),
        wanted=general(f.shown(Of.WANTED_DENSITY), 3),
        time=duration(f.quantities[Of.TIME]),
    )


def _coarse(f: Finding) -> str:
    currents = {"current": general(f.shown(Of.CURRENT), 2), "step": general(f.shown(Of.STEP_CURRENT), 2)}
    if Of.LIMIT_CURRENT not in f.quantities:
        return filled(
            "No schedule: {current} A are wanted, less than the supply's smallest step of {step} A. Plate several parts"
            " at once, or take a supply that sets less.",
            **currents,
        )
    return filled(
        "The supply sets its current in steps of {step} A: it gives {given} A where {current} A are wanted, so the same"
        " thickness takes {time}.",
        given=general(f.shown(Of.LIMIT_CURRENT), 2),
        time=duration(f.quantities[Of.TIME]),
        **currents,
    )


def _burnt(f: Finding) -> str:
    """The burnt share of the area, and how far the density exceeds the bath's range."""
    worst = filled("The worst place is {at}.", at=point(f.places[0])) if f.places else ""
    plugged = f.remedy is not None and f.remedy.code == RemedyCode.PLUG_HOLES
    text = filled(
        "{share} % of the plated area gets more current than the bath bears, up to {density} A/dm2 where its range ends"
        " at {limit}: expect burnt edges.",
        share=f"{100 * f.shown(Of.SHARE):.0f}",
        density=general(f.shown(Of.DENSITY), 2),
        limit=general(f.shown(Of.LIMIT_DENSITY), 2),
    )
    return joined([text, worst, PLUGGED if plugged else "Lower the current, or shield them."])


def _volts(f: Finding) -> str:
    limit = general(f.shown(Of.LIMIT_VOLTAGE), 3)
    if Of.CURRENT not in f.quantities:
        return filled(
            "The supply must give {voltage} V, more than its {limit} V. Bring the anodes nearer, or take a supply that"
            " gives more.",
            voltage=general(f.shown(Of.VOLTAGE), 2),
            limit=limit,
        )
    currents = {"given": general(f.shown(Of.LIMIT_CURRENT), 3), "current": general(f.shown(Of.CURRENT), 3)}
    if Of.VOLTAGE not in f.quantities:
        return filled(
            "At its {limit} V the supply drives {given} A; the {current} A asked for would take more. Bring the anodes"
            " nearer, or take a supply that gives more volts.",
            limit=limit,
            **currents,
        )
    return filled(
        "At its {limit} V the supply drives {given} A; the {current} A asked for would take about {voltage} V. Bring"
        " the anodes nearer, or take a supply that gives more volts.",
        limit=limit,
        voltage=general(f.shown(Of.VOLTAGE), 2),
        **currents,
    )


def _outside(template: str) -> Template:
    """A mean density outside the bath's range."""
    return says(
        template,
        density=significant(Of.DENSITY, 3),
        bath=name("bath"),
        low=significant(Of.LOW_DENSITY, 3),
        high=significant(Of.HIGH_DENSITY, 3),
    )


def _below(f: Finding) -> str:
    """A mean density below the bath's range, and what the hands can do about it."""
    text = _outside(
        "{density} A/dm2 is below what the bath '{bath}' is made for ({low} to {high} A/dm2): expect a dull deposit."
    )(f)
    several = f.quantities.get(Of.COUNT, 1.0) > 1
    if f.remedy is None or f.remedy.code != RemedyCode.LARGER_SUPPLY:
        return joined([text, "Raise the current."])
    current = figure(f.remedy.quantities[Of.CURRENT], 2)
    helps = (
        "Plate fewer parts at once, or take a supply of {current} A."
        if several
        else "It takes a supply of {current} A."
    )
    return joined([text, filled(helps, current=current)])


def _on_area(template: str, remedy: str) -> Template:
    """A share of the plated area with a fault, its worst place, and the remedy."""

    def text(f: Finding) -> str:
        worst = filled("The worst place is {at}.", at=point(f.places[0])) if f.places else ""
        helps = PLUGGED if f.remedy is not None and f.remedy.code == RemedyCode.PLUG_HOLES else remedy
        return joined([filled(template, share=f"{100 * f.shown(Of.SHARE):.0f}"), worst, helps])

    return text


def _dull(f: Finding) -> str:
    """The dull share of the area, its worst place, and the remedy."""
    code = None if f.remedy is None else f.remedy.code
    if code == RemedyCode.RAISE_DENSITY:
        helps = "Raise the current density to {density} A/dm2."
    elif code == RemedyCode.LARGER_SUPPLY:
        helps = "It takes a supply of {current} A: {density} A/dm2."
    else:
        helps = (
            "More current would burn other places. Hang a small anode into a hollow, hang the others further away or on"
            " more sides, or shield the edges."
        )
    figures = {} if f.remedy is None else f.remedy.quantities
    share = filled(
        "{share} % of the plated area gets less than {low} A/dm2, the low end of the bath's range: expect dull metal"
        " there.",
        share=f"{100 * f.shown(Of.SHARE):.0f}",
        low=general(f.shown(Of.LOW_DENSITY), 3),
    )
    worst = filled("The worst place is {at}.", at=point(f.places[0])) if f.places else ""
    needed = (
        {
            "density": general(Of.DENSITY.shown(figures[Of.DENSITY]), 2),
            "current": general(Of.CURRENT.shown(figures[Of.CURRENT]), 2),
        }
        if code in (RemedyCode.RAISE_DENSITY, RemedyCode.LARGER_SUPPLY)
        else {}
    )
    return joined([share, worst, filled(helps, **needed)])


def _anode(f: Finding) -> str:
    several = f.quantities.get(Of.COUNT, 1.0) > 1
    density, limit = (general(f.shown(quantity), 2) for quantity in (Of.DENSITY, Of.LIMIT_DENSITY))
    if density == limit:  # equal in two digits, but above the limit
        density = general(f.shown(Of.DENSITY), 3)
    return filled(
        "{count} anodes give up to {density} A/dm2, above their limit of {limit}: use larger ones or less current."
        if several
        else "{anode} gives {density} A/dm2, above its limit of {limit}: use a larger anode or less current.",
        anode=capital(f.names["anode"]),
        count=f"{f.quantities.get(Of.COUNT, 1.0):.0f}",
        density=density,
        limit=limit,
    )


def _unsure(f: Finding) -> str:
    if Of.ERROR not in f.quantities:
        return filled("The accuracy of the current distribution is unknown: set a finer quality ({effort.panels}).")
    return filled(
        "The current distribution is accurate to {error} % only: set a finer quality ({effort.panels}).",
        error=f"{100 * f.shown(Of.ERROR):.0f}",
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.SUPPLY_TOO_SMALL: _supply,
    Code.SUPPLY_TOO_COARSE: _coarse,
    Code.SUPPLY_VOLTAGE_TOO_SMALL: _volts,
    Code.DRAW_TOO_LARGE: says(
        "Parts and thieves draw {current} A, more than the supply's {supply} A.",
        current=significant(Of.CURRENT, 3),
        supply=significant(Of.SUPPLY_CURRENT, 3),
    ),
    Code.BELOW_WINDOW: _below,
    Code.ABOVE_WINDOW: _outside(
        "{density} A/dm2 is above what the bath '{bath}' is made for ({low} to {high} A/dm2): expect burnt, powdery"
        " edges. Lower the current."
    ),
    Code.NEAR_LIMITING: says(
        "{density} A/dm2 is more than half of the limiting density ({limit} A/dm2): stir, or lower the current.",
        density=significant(Of.DENSITY, 3),
        limit=significant(Of.LIMIT_DENSITY, 3),
    ),
    Code.ALMOST_BARE: _on_area(
        "{share} % of the plated area stays almost bare: little current reaches it.",
        "Open it up or plug it, or bring an anode nearer.",
    ),
    Code.DULL: _dull,
    Code.BURNT: _burnt,
    Code.THINNEST_NEVER: says("The thinnest place gets no deposit, however long you plate."),
    Code.INSIDE_SHELL: says(
        "{share} % of the surface lies inside another shell of the part: no current reaches it.",
        share=percent(Of.SHARE, ".1f"),
    ),
    Code.OPEN_SHEET: says(
        "The map takes {share} % of the surface as open sheets, with liquid and one potential on both sides.",
        share=percent(Of.SHARE, digits=2),
    ),
    Code.ANODE_OVERLOADED: _anode,
    Code.HELD_VOLTAGE_OFF: says(
        "At the held {voltage} V the mean density is {density} A/dm2, not the wanted {wanted}: that takes another"
        " voltage.",
        voltage=significant(Of.VOLTAGE, 3),
        density=significant(Of.DENSITY, 3),
        wanted=significant(Of.WANTED_DENSITY, 3),
    ),
    Code.RACK_GAP_UNTRIED: says(
        "Copies {gap} mm apart were not tried: {reason}.", gap=shown(Of.GAP, ".0f"), reason=name("reason")
    ),
    Code.BATH_TEMPERATURE: finding_text_bath.temperature,
    Code.ACID_RESTRICTED: finding_text_bath.acid,
    Code.BATH_SATURATED: finding_text_bath.saturated,
    Code.PLATES_FAR_APART: says(
        "The plates are further apart than they are wide: current bulges out beside them and the conductivity comes out"
        " too high, unless they fill the vessel from wall to wall."
    ),
    Code.READINGS_NEGATIVE: says("The line does not point to a positive voltage at no current: check the readings."),
    Code.READINGS_SCATTER: says(
        "The readings scatter about the line by more than 10 %: read more settings, further apart."
    ),
    Code.NOT_CONVERGED: says(
        "The current distribution did not settle (residual {residual}): take it as a hint.",
        residual=shown(Of.RESIDUAL, ".0e"),
    ),
    Code.FIELD_UNSURE: _unsure,
    Code.PANELS_REDUCED: says(
        "{effort.panels}: {wanted} panels do not fit into memory: they would take {memory} GB, and half"
        " of the memory is kept free; {panels} are used.",
        wanted=shown(Of.WANTED_PANELS, ".0f"),
        memory=significant(Of.MEMORY, 2),
        panels=shown(Of.PANELS, ".0f"),
    ),
    Code.FIELD_WITHOUT_COAT: says(
        "Without contacts the current distribution is calculated as if the coat lost nothing: find wire"
        " positions first."
    ),
    Code.NOT_COMPUTED: says("{result}: not computed: {reason}", result=name("result"), reason=name("reason")),
}
