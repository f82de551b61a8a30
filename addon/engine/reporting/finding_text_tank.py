"""The sentences of findings on coat, current, bath and computation: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..chemistry.deposit import duration
from ..findings import Code, Finding, RemedyCode
from ..findings import Quantity as Of
from . import words
from .finding_text_part import Template, counted
from .plan_text import figure, point

PLUGGED = "Plugs keep bath and current out of there."
MIN_SCORCHING_RISE_K = 100.0  # a rise beyond which the figure says no more than the word


def _plastic(f: Finding) -> str:
    fit, cool = f.names["plastics"], f.names["baths"]
    helps = [f"print it in {_or(fit)}"] * bool(fit) + [f"take the bath {_or(cool)}"] * bool(cool)
    return (
        f"{f.names['plastic']} softens at {f.shown(Of.SOFTENS):.0f} C and the bath '{f.names['bath']}' is at"
        f" {f.shown(Of.TEMPERATURE):.0f} C: less than {f.shown(Of.RISE):.0f} K are left, and the print will bend. Do"
        f" not plate it so; {', or '.join(helps) or 'plate cooler'}."
    )


def _or(names: str) -> str:
    several = names.split(", ")
    return " or ".join([", ".join(several[:-1]), several[-1]]) if len(several) > 1 else names


def _hot(f: Finding) -> str:
    rise = f.shown(Of.RISE)
    warm = "scorched" if rise > MIN_SCORCHING_RISE_K else f"about {rise:.0f} K warmer than the bath"
    full, soft = figure(f.shown(Of.CURRENT)), f"{f.names['plastic']} softens at {f.shown(Of.SOFTENS):.0f} C"
    return (
        f"At the wanted {full} A the bare coat at the wire would be {warm}, and {soft}: no more than"
        f" {figure(f.shown(Of.LIMIT_CURRENT), 2)} A before metal has grown there."
    )


def _poor(f: Finding) -> str:
    if Of.SHEET_RESISTANCE in f.quantities:
        return _refused(f)
    if Of.SHARE in f.quantities:
        return (
            f"{100 * f.shown(Of.SHARE):.0f} % of the current would crowd at the wire, at up to"
            f" {f.shown(Of.DENSITY):.2g} A/dm2 where the bath bears {f.shown(Of.LIMIT_DENSITY):.3g}: no metal grows so."
            " Take a coat that conducts better, more wires, or far less current at the start."
        )
    return (
        f"At the wanted current the bare coat loses up to {f.shown(Of.VOLTAGE):.2g} V, and no four wires bring that"
        f" under {f.shown(Of.LIMIT_VOLTAGE):.2g} V: start low and raise the current in steps, as listed, or take a"
        f" coat that conducts better."
    )


def _refused(f: Finding) -> str:
    """A coat on which there is no start."""
    names = f.remedy.names.get("coats", "") if f.remedy is not None else ""
    better = f" Take {names.replace(', ', ' or ')}." if names else " Take a metal part, or a coat that conducts better."
    coat = f"{f.names['coat']} at {f.shown(Of.SHEET_RESISTANCE):.2g} ohm per square"
    if Of.STEP_CURRENT in f.quantities:
        least = f"{1000 * f.shown(Of.CURRENT):.2g} mA, less than the supply's {1000 * f.shown(Of.STEP_CURRENT):.2g} mA"
        return f"No schedule: on {coat} the first current must stay under {least}.{better}"
    if Of.LIMIT_TIME in f.quantities:
        when = f"after {f.shown(Of.TIME):.2g} h" if Of.TIME in f.quantities else "never"
        limit = f"it lasts about {f.shown(Of.LIMIT_TIME):.2g} h"
        return f"No schedule: on {coat} metal covers half of the part {when}, and in the bath {limit}.{better}"
    most = f.shown(Of.LIMIT_SHEET_RESISTANCE)
    return f"No schedule: {coat} conducts too little; above {most:.0f} no number of wires covers a part.{better}"


def _borne(f: Finding) -> str:
    """The current that a coat bears beside the one that is wanted, and what it would take."""
    why = "the plastic would soften" if f.names["held"] == "warmth" else "the place that gets most would burn"
    flows = f"{f.shown(Of.LIMIT_CURRENT):.3g} A"
    said = f"Of the {f.shown(Of.CURRENT):.3g} A that are wanted the part bears {flows}: with more {why}."
    metal = f.shown(Of.METAL_CURRENT)
    if metal < f.shown(Of.CURRENT):
        return (
            f"{said} All of metal it would bear {metal:.2g} A: want {f.shown(Of.DENSITY):.2g} A/dm2, or move the anodes"
            " away from that place or shield it."
        )
    return f"{said} More takes a coat that conducts better or more wires; or want {f.shown(Of.DENSITY):.2g} A/dm2."


def _few(f: Finding) -> str:
    used = counted(f.shown(Of.WIRES), "wire")
    return (
        f"With {used} the bare coat loses up to {f.shown(Of.VOLTAGE):.2g} V at the wanted current. Use"
        f" {f.shown(Of.NEEDED_WIRES):.0f} wires to stay under {f.shown(Of.LIMIT_VOLTAGE):.2g} V."
    )


def _unwired(f: Finding) -> str:
    count = f.shown(Of.COUNT)
    subject = "One separate piece of coat has" if count == 1 else f"{count:.0f} separate pieces of coat have"
    said = f"{subject} no wire and will get no metal, {figure(f.shown(Of.AREA), 2)} cm2 in all"
    places = [f"{words.told(where)} at {point(at)}" for at, where in zip(f.places, f.locations, strict=True)]
    if places and count > len(places):
        places.append(f"{count - len(places):.0f} more")
    where = f": {words.listed(places)}" if places else ""
    if f.remedy is not None and f.remedy.code == RemedyCode.JOIN_PIECES:
        return f"{said}{where}. Join them to the part in the model, or delete them, before you print it."
    return f"{said}{where}. Give each a wire, or mask it."


def _bare(f: Finding) -> str:
    where = words.listed([words.told(one) for one in f.locations])
    said = f"{f.shown(Of.AREA):.2g} cm2 stays bare even after the whole time, {where}"
    if f.remedy is not None and f.remedy.code == RemedyCode.PLUG_HOLES:
        return f"{said}. {PLUGGED}"
    return f"{said}: bring an anode or a wire nearer, or plug or mask that place."


def _zinc(f: Finding) -> str:
    return (
        f"{f.names['coat']}: in an acid copper bath copper takes the place of its zinc without current (common"
        " practice, no source). The part starts covered, but that film is loose, and some"
        f" {f.shown(Of.MASS):.2g} g of zinc go into the bath, more where acid reaches bare zinc, and spoil it in time:"
        " put a paint over it that the acid does not attack, and test a scrap piece first."
    )


def _supply(f: Finding) -> str:
    return (
        f"The supply gives {f.shown(Of.SUPPLY_CURRENT):.3g} A but {f.shown(Of.CURRENT):.3g} A are wanted: it reaches"
        f" {f.shown(Of.DENSITY):.2g} of {f.shown(Of.WANTED_DENSITY):.3g} A/dm2, so the same thickness takes"
        f" {duration(f.quantities[Of.TIME])}."
    )


def _volts(f: Finding) -> str:
    limit = f"{f.shown(Of.LIMIT_VOLTAGE):.3g} V"
    if Of.CURRENT not in f.quantities:
        said = f"The supply must give {f.shown(Of.VOLTAGE):.2g} V, more than its {limit}."
        return f"{said} Bring the anodes nearer, or take a supply that gives more."
    needed = f"take about {f.shown(Of.VOLTAGE):.2g} V" if Of.VOLTAGE in f.quantities else "take more"
    return (
        f"At its {limit} the supply drives {f.shown(Of.LIMIT_CURRENT):.3g} A; the {f.shown(Of.CURRENT):.3g} A asked for"
        f" would {needed}. Bring the anodes nearer, or take a supply that gives more volts."
    )


def _window(f: Finding) -> str:
    return f"({f.shown(Of.LOW_DENSITY):.3g} to {f.shown(Of.HIGH_DENSITY):.3g} A/dm2)"


def _outside(side: str, effect: str, remedy: str) -> Template:
    """A mean density outside the bath's range."""
    return lambda f: (
        f"{f.shown(Of.DENSITY):.3g} A/dm2 is {side} what the bath '{f.names['bath']}' is made for {_window(f)}: expect"
        f" {effect}. {remedy}"
    )


def _on_area(what: str, remedy: str) -> Template:
    """A share of the plated area that fares badly, and its worst place."""

    def told(f: Finding) -> str:
        at = f" The worst place is {point(f.places[0])}." if f.places else ""
        mend = PLUGGED if f.remedy is not None and f.remedy.code == RemedyCode.PLUG_HOLES else remedy
        return f"{100 * f.shown(Of.SHARE):.0f} % of the plated area {what}.{at} {mend}"

    return told


def _anode(f: Finding) -> str:
    name = f.names["anode"]
    return (
        f"{name[:1].upper()}{name[1:]} gives {f.shown(Of.DENSITY):.2g} A/dm2, above its limit of"
        f" {f.shown(Of.LIMIT_DENSITY):.2g}: take a larger anode or less current."
    )


def _held(f: Finding) -> str:
    return (
        f"At the held {f.shown(Of.VOLTAGE):.3g} V the mean density is {f.shown(Of.DENSITY):.3g} A/dm2, not the wanted"
        f" {f.shown(Of.WANTED_DENSITY):.3g}; time and current of the deposit are those of the wanted one."
    )


def _acid(f: Finding) -> str:
    bought, finished, limit = 100 * f.shown(Of.BOUGHT_SHARE), 100 * f.shown(Of.SHARE), 15.0
    what = [f"the {bought:.0f} % acid that you buy"] * (bought > limit)
    what += [f"the finished bath ({finished:.1f} % acid)"] * (finished > limit)
    helps = "Mix it from acid of 15 % or less."
    if finished > limit:
        helps = f"These baths stay below: {f.names['baths']}." if f.names["baths"] else "Take a bath with less acid."
    return (
        "EU: private persons may not buy, bring in, have or use sulfuric acid above 15 % by weight without a license"
        f" (Regulation (EU) 2019/1148). That covers {words.listed(what)}. {helps} Look up your own country's rules."
    )


def _saturated(f: Finding) -> str:
    return (
        f"The bath '{f.names['bath']}' holds {100 * f.shown(Of.SATURATION):.0f} % of the salt that stays dissolved at"
        f" {f.shown(Of.TEMPERATURE):.0f} C: crystals fall out. Use less salt or less acid, or keep it warmer."
    )


def _temperature(f: Finding) -> str:
    return (
        f"The bath is at {f.shown(Of.TEMPERATURE):.0f} C; it works well from {f.shown(Of.LOW_TEMPERATURE):.0f} to"
        f" {f.shown(Of.HIGH_TEMPERATURE):.0f} C. Bring it there first."
    )


def _panels(f: Finding) -> str:
    return (
        f"effort.panels: {f.shown(Of.WANTED_PANELS):.0f} panels do not fit into memory: they would take"
        f" {f.shown(Of.MEMORY):.2g} GB, and half of what there is is kept for others; {f.shown(Of.PANELS):.0f} are"
        " used."
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.PLASTIC_SOFT: _plastic,
    Code.COAT_HOT: _hot,
    Code.CONTACT_HOT_IN_AIR: lambda f: (
        "Keep the wire's contact under the liquid while current flows: in air it gets far hotter."
    ),
    Code.COAT_TOO_POOR: _poor,
    Code.COAT_LIMITS_CURRENT: _borne,
    Code.WIRES_TOO_FEW: _few,
    Code.COAT_UNWIRED: _unwired,
    Code.COAT_STAYS_BARE: _bare,
    Code.ZINC_DISPLACED: _zinc,
    Code.COAT_WITHOUT_TANK: lambda f: (
        f"The coat is reckoned without the tank, so its start is an estimate: {f.names['reason']}"
    ),
    Code.SUPPLY_TOO_SMALL: _supply,
    Code.SUPPLY_VOLTAGE_TOO_SMALL: _volts,
    Code.DRAW_TOO_LARGE: lambda f: (
        f"Parts and thieves draw {f.shown(Of.CURRENT):.3g} A, more than the supply's {f.shown(Of.SUPPLY_CURRENT):.3g}"
        f" A."
    ),
    Code.BELOW_WINDOW: _outside("below", "a dull deposit", "Raise the current, or plate fewer parts at once."),
    Code.ABOVE_WINDOW: _outside("above", "burnt, powdery edges", "Lower the current."),
    Code.NEAR_LIMITING: lambda f: (
        f"{f.shown(Of.DENSITY):.3g} A/dm2 is more than half of the limiting density ({f.shown(Of.LIMIT_DENSITY):.3g}"
        " A/dm2): stir, or lower the current."
    ),
    Code.ALMOST_BARE: _on_area(
        "stays next to bare: little current reaches it",
        "Open it up or plug it, or bring an anode nearer.",
    ),
    Code.BURNT: _on_area(
        "gets more current than the bath bears: expect burnt edges", "Lower the current, or shield them."
    ),
    Code.THINNEST_NEVER: lambda f: "The thinnest place gets no deposit, however long you plate.",
    Code.INSIDE_SHELL: lambda f: (
        f"{100 * f.shown(Of.SHARE):.1f} % of the surface lies inside another shell of the part: no current reaches it."
    ),
    Code.OPEN_SHEET: lambda f: (
        "The surface is open: it is taken as a sheet with liquid, and one potential, on both sides."
    ),
    Code.ANODE_OVERLOADED: _anode,
    Code.HELD_VOLTAGE_OFF: _held,
    Code.RACK_GAP_UNTRIED: lambda f: f"Copies {f.shown(Of.GAP):.0f} mm apart were not tried: {f.names['reason']}.",
    Code.BATH_TEMPERATURE: _temperature,
    Code.ACID_RESTRICTED: _acid,
    Code.BATH_SATURATED: _saturated,
    Code.PLATES_FAR_APART: lambda f: (
        "The plates are further apart than they are wide: current bulges out beside them and the conductivity comes out"
        " too high, unless they fill the vessel from wall to wall."
    ),
    Code.READINGS_NEGATIVE: lambda f: (
        "The line does not point to a positive voltage at no current: check the readings."
    ),
    Code.READINGS_SCATTER: lambda f: (
        "The readings scatter about the line by more than 10 %: read more settings, further apart."
    ),
    Code.NOT_CONVERGED: lambda f: (
        f"The current distribution did not settle (residual {f.shown(Of.RESIDUAL):.0e}): take it as a hint."
    ),
    Code.FIELD_UNSURE: lambda f: (
        f"The current distribution is sure to {100 * f.shown(Of.ERROR):.0f} % only: raise effort.panels."
        if Of.ERROR in f.quantities
        else "How sure the current distribution is, is not known: raise effort.panels."
    ),
    Code.PANELS_REDUCED: _panels,
    Code.FIELD_WITHOUT_COAT: lambda f: (
        "Without contacts the current distribution is calculated as if the coat lost nothing: find wire"
        " positions first."
    ),
    Code.NOT_COMPUTED: lambda f: f"{f.names['result']}: not computed: {f.names['reason']}",
}
