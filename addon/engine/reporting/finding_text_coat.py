"""The sentences of findings on plastic, coat and wires: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code, Finding, RemedyCode
from ..findings import Quantity as Of
from . import words
from .filled import filled, joined
from .finding_template import Template, counts, name, says, shown, significant
from .plan_text import figure, general, point

PLUGGED = "Plugs keep bath and current out of there."
SAME_LIMIT_RATIO = 1.05  # ratio of the limits of bare and covered coat: uncertainty of either
MIN_SCORCHING_RISE_K = 100.0  # K, rise above which the sentence says "scorched" instead of a figure


def _plastic(f: Finding) -> str:
    text = filled(
        "{plastic} softens at {softens} C and the bath '{bath}' is at {temperature} C: the margin is"
        " less than {rise} K, and the print will bend.",
        plastic=f.names["plastic"],
        bath=f.names["bath"],
        softens=f"{f.shown(Of.SOFTENS):.0f}",
        temperature=f"{f.shown(Of.TEMPERATURE):.0f}",
        rise=f"{f.shown(Of.RISE):.0f}",
    )
    plastics, baths = words.any_of(f.names["plastics"].split(", ")), words.any_of(words.baths(f.names["baths"]))
    if plastics and baths:
        return joined(
            [
                text,
                filled(
                    "Do not plate it like this; print it in {plastics}, or use the bath {baths}.",
                    plastics=plastics,
                    baths=baths,
                ),
            ]
        )
    if plastics:
        return joined([text, filled("Do not plate it like this; print it in {plastics}.", plastics=plastics)])
    if baths:
        return joined([text, filled("Do not plate it like this; use the bath {baths}.", baths=baths)])
    return joined([text, "Do not plate it like this; use a cooler bath."])


def _hot(f: Finding) -> str:
    rise = f.shown(Of.RISE)
    figures = {
        "current": figure(f.shown(Of.CURRENT)),
        "plastic": f.names["plastic"],
        "softens": f"{f.shown(Of.SOFTENS):.0f}",
        "limit": figure(f.shown(Of.LIMIT_CURRENT), 2),
    }
    if rise > MIN_SCORCHING_RISE_K:
        return filled(
            "At the wanted {current} A the bare coat at the wire would be scorched, and {plastic} softens at {softens}"
            " C: no more than {limit} A before metal has grown there.",
            **figures,
        )
    return filled(
        "At the wanted {current} A the bare coat at the wire would be about {rise} K warmer than the bath, and"
        " {plastic} softens at {softens} C: no more than {limit} A before metal has grown there.",
        rise=f"{rise:.0f}",
        **figures,
    )


def _poor(f: Finding) -> str:
    if Of.SHEET_RESISTANCE in f.quantities:
        return joined([_refused(f), _better(f)])
    if Of.SHARE in f.quantities:
        return filled(
            "{share} % of the current would crowd at the wire, at up to {density} A/dm2 where the bath"
            " allows {limit}: no sound metal grows there. Use a coat that conducts better, more wires, or"
            " far less current at the start.",
            share=f"{100 * f.shown(Of.SHARE):.0f}",
            density=general(f.shown(Of.DENSITY), 2),
            limit=general(f.shown(Of.LIMIT_DENSITY), 3),
        )
    return filled(
        "At the full current the bare coat loses up to {voltage} V, and even four wires do not bring"
        " that under {limit} V: start low and raise the current in steps, as listed, or use a coat"
        " that conducts better.",
        voltage=general(f.shown(Of.VOLTAGE), 2),
        limit=general(f.shown(Of.LIMIT_VOLTAGE), 2),
    )


def _better(f: Finding) -> str:
    """What to use instead of a coat without a possible start."""
    names = f.remedy.names.get("coats", "") if f.remedy is not None else ""
    if not names:
        return "Use a metal part, or a coat that conducts better."
    return filled("Take {coats}.", coats=words.any_of(names.split(", ")))


def _refused(f: Finding) -> str:
    """Why there is no start on a coat."""
    coat = {"coat": f.names["coat"], "resistance": figure(f.shown(Of.SHEET_RESISTANCE), 2)}
    if Of.STEP_CURRENT in f.quantities:
        return filled(
            "No schedule: on {coat} at {resistance} ohm per square the first current must stay under {current} mA, less"
            " than the supply's {step} mA.",
            current=general(1000 * f.shown(Of.CURRENT), 2),
            step=general(1000 * f.shown(Of.STEP_CURRENT), 2),
            **coat,
        )
    if Of.LIMIT_TIME in f.quantities:
        lasts = general(f.shown(Of.LIMIT_TIME), 2)
        if Of.TIME not in f.quantities:
            return filled(
                "No schedule: on {coat} at {resistance} ohm per square metal never covers half of the part,"
                " and in the bath the coat lasts about {lasts} h.",
                lasts=lasts,
                **coat,
            )
        return filled(
            "No schedule: on {coat} at {resistance} ohm per square metal covers half of the part after"
            " {time} h, and in the bath the coat lasts about {lasts} h.",
            time=general(f.shown(Of.TIME), 2),
            lasts=lasts,
            **coat,
        )
    return filled(
        "No schedule: {coat} at {resistance} ohm per square conducts too little; above {limit} no number of wires"
        " covers a part.",
        limit=f"{f.shown(Of.LIMIT_SHEET_RESISTANCE):.0f}",
        **coat,
    )


def _borne(f: Finding) -> str:
    """The current that a coat bears against the wanted one, and what would raise it."""
    currents = {"current": figure(f.shown(Of.CURRENT)), "limit": figure(f.shown(Of.LIMIT_CURRENT))}
    if f.names["held"] == "warmth":
        text = filled(
            "Of the wanted {current} A the part takes {limit} A: with more the plastic would soften.",
            **currents,
        )
    else:
        text = filled(
            "Of the wanted {current} A the part takes {limit} A: with more the place that gets most would burn.",
            **currents,
        )
    metal, density = f.shown(Of.METAL_CURRENT), general(f.shown(Of.DENSITY), 2)
    if metal < SAME_LIMIT_RATIO * f.shown(Of.LIMIT_CURRENT):
        helps = filled(
            "Fully covered with metal it would take no more: set {density} A/dm2, or move the anodes away from that"
            " place, or shield it.",
            density=density,
        )
    elif metal < f.shown(Of.CURRENT):
        helps = filled(
            "Even fully covered with metal it would take {metal} A at most: set {density} A/dm2, or move"
            " the anodes away from that place, or shield it.",
            metal=general(metal, 2),
            density=density,
        )
    else:
        helps = filled(
            "For more, use a coat that conducts better or more wires; or set {density} A/dm2.", density=density
        )
    return joined([text, helps])


def _unwired(f: Finding) -> str:
    count, area = f.shown(Of.COUNT), figure(f.shown(Of.AREA), 2)
    places: list[str] = [
        filled("{place} at {at}", place=words.place_name(where), at=point(at))
        for at, where in zip(f.places, f.locations, strict=True)
    ]
    if places and count > len(places):
        places.append(filled("{count} more", count=f"{count - len(places):.0f}"))
    if places and count == 1:
        text = filled(
            "One separate piece of coat has no wire and will get no metal, {area} cm2 in all: {places}.",
            area=area,
            places=words.listed(places),
        )
    elif count == 1:
        text = filled("One separate piece of coat has no wire and will get no metal, {area} cm2 in all.", area=area)
    elif places:
        text = filled(
            "{count} separate pieces of coat have no wire and will get no metal, {area} cm2 in all: {places}.",
            count=f"{count:.0f}",
            area=area,
            places=words.listed(places),
        )
    else:
        text = filled(
            "{count} separate pieces of coat have no wire and will get no metal, {area} cm2 in all.",
            count=f"{count:.0f}",
            area=area,
        )
    if f.remedy is not None and f.remedy.code == RemedyCode.JOIN_PIECES:
        return joined([text, "Join them to the part in the model, or delete them, before you print it."])
    return joined([text, "Give each a wire, or mask it."])


def _bare(f: Finding) -> str:
    where = {
        "area": general(f.shown(Of.AREA), 2),
        "places": words.listed([words.place_name(location) for location in f.locations]),
    }
    if f.remedy is not None and f.remedy.code == RemedyCode.PLUG_HOLES:
        return joined([filled("{area} cm2 stays bare even after the whole time, {places}.", **where), PLUGGED])
    return filled(
        "{area} cm2 stays bare even after the whole time, {places}: bring an anode or a wire nearer, or plug or mask"
        " that place.",
        **where,
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.PLASTIC_SOFT: _plastic,
    Code.COAT_HOT: _hot,
    Code.CONTACT_HOT_IN_AIR: says(
        "Keep the wire's contact under the liquid while current flows: in air it gets far hotter."
    ),
    Code.COAT_TOO_POOR: _poor,
    Code.COAT_LIMITS_CURRENT: _borne,
    Code.WIRES_TOO_FEW: counts(
        Of.WIRES,
        "With {count} wire the bare coat loses up to {voltage} V at the full current. Use {needed} wires to stay"
        " under {limit} V.",
        "With {count} wires the bare coat loses up to {voltage} V at the full current. Use {needed} wires to stay"
        " under {limit} V.",
        voltage=significant(Of.VOLTAGE, 2),
        needed=shown(Of.NEEDED_WIRES, ".0f"),
        limit=significant(Of.LIMIT_VOLTAGE, 2),
    ),
    Code.COAT_UNWIRED: _unwired,
    Code.COAT_STAYS_BARE: _bare,
    Code.ZINC_DISPLACED: says(
        "{coat}: in an acid copper bath copper takes the place of its zinc without current (common practice, no"
        " source). The part starts covered, but that film is loose, and some {mass} g of zinc go into the bath,"
        " more where acid reaches bare zinc, and spoil it in time: put a paint over it that the acid does not"
        " attack, and test a scrap piece first.",
        coat=name("coat"),
        mass=significant(Of.MASS, 2),
    ),
    Code.COAT_WITHOUT_TANK: says(
        "The coat is computed without the tank, so its start is an estimate: {reason}", reason=name("reason")
    ),
}
