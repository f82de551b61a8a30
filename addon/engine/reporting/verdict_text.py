"""The verdict in words: a line for each thing to change, and the fix that the tool offers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from numpy.typing import ArrayLike

from ..chemistry.deposit import duration
from ..findings import Code, Finding, RemedyCode
from ..findings import Quantity as Of
from ..units import A_PER_DM2, CM2, GRAM, HOUR, ZERO_CELSIUS
from ..verdict.fixes import Fix, FixCode
from ..verdict.judge import Verdict
from . import headline_text, words
from .filled import capital, filled
from .finding_template import two_digits
from .plan_text import figure
from .words import by_number

DIGITS = 2
MIN_REPORTED_GAIN_ML = 0.05
NOTHING = "Nothing to change"


def headline(finding: Finding) -> str:
    """What is wrong, in a few words: "13 mL of trapped gas leave 26 cm2 bare". The whole sentence is
    `finding_text.text`."""
    return _HEADLINES[finding.code](finding)


def with_headlines(table: Mapping[str, Any], findings: Sequence[Finding]) -> dict[str, Any]:
    """A report with headlines added to its findings, to word changes. found : those of the report"""
    rows = [{**row, "headline": headline(finding)} for row, finding in zip(table["findings"], findings, strict=True)]
    return {**table, "findings": rows}


def change(fix: Fix) -> str:
    """The label of a fix's button: "Use 3 Wires"."""
    return _CHANGES[fix.code](fix)


def direction(up: ArrayLike) -> str:
    """A hanging direction without its degrees: "On Its Back"."""
    return words.hanging_way(up)


def figures(verdict: Verdict) -> list[tuple[str, str]]:
    """The four figures, each with its unit; a dash for what is not computed."""
    time = "-" if verdict.time is None else duration(verdict.time)
    return [
        ("Current", _figure_text(verdict.current, 1.0, "A")),
        ("Time", time),
        ("Weight Gain", _figure_text(verdict.weight_gain, GRAM, "g")),
        ("Bare Visible Area", _figure_text(verdict.bare_area, CM2, "cm2")),
    ]


def row(verdict: Verdict) -> dict[str, Any]:
    """The verdict as the report has it; keys in docs/headless.md."""
    return {
        "wrong_scale": verdict.gate is not None,
        "changes": [finding.code.value for finding in verdict.changes],
        "more": verdict.more,
        "current_A": verdict.current,
        "time_h": None if verdict.time is None else verdict.time / HOUR,
        "weight_gain_g": None if verdict.weight_gain is None else verdict.weight_gain / GRAM,
        "bare_visible_cm2": None if verdict.bare_area is None else verdict.bare_area / CM2,
    }


def _figure_text(value: float | None, unit: float, name: str) -> str:
    return "-" if value is None else f"{figure(value / unit, DIGITS)} {name}"


def _length(millimeters: float) -> str:
    return f"{figure(millimeters / 1e3, DIGITS)} m" if millimeters >= 1e3 else f"{figure(millimeters, DIGITS)} mm"


def _share(finding: Finding) -> str:
    return figure(100 * finding.shown(Of.SHARE), DIGITS)


_HEADLINES: Mapping[Code, Callable[[Finding], str]] = {
    **headline_text.HEADLINES,
    Code.WRONG_SCALE: lambda f: filled("The part is {length} long: wrong unit?", length=_length(f.shown(Of.LENGTH))),
    Code.MESH_OPEN: lambda f: by_number(
        f.shown(Of.COUNT), "The mesh has {count} open edge", "The mesh has {count} open edges"
    ),
    Code.MESH_NON_MANIFOLD: lambda f: by_number(
        f.shown(Of.COUNT), "{count} edge with more than two faces", "{count} edges with more than two faces"
    ),
    Code.SHELLS_ENCLOSED: lambda f: by_number(
        f.shown(Of.SHELLS), "{count} shell sealed inside the part", "{count} shells sealed inside the part"
    ),
    Code.BODIES_APART: lambda f: filled("{count} bodies that do not touch", count=f"{f.shown(Of.COUNT):.0f}"),
    Code.SHELLS_OVERLAP: lambda f: "Bodies run into each other: join them",
    Code.GAS_TRAPPED: lambda f: filled(
        "{volume} mL of trapped gas leave {area} cm2 bare", volume=two_digits(f, Of.VOLUME), area=two_digits(f, Of.AREA)
    ),
    Code.LIQUID_HELD: lambda f: filled("The part carries {volume} mL of bath out", volume=two_digits(f, Of.VOLUME)),
    Code.BETTER_WAY_UP: lambda f: (
        filled("Another hanging position traps {volume} mL less gas", volume=two_digits(f, Of.GAS_GAIN))
        if f.shown(Of.GAS_GAIN) >= MIN_REPORTED_GAIN_ML
        else "Another hanging position is better"
    ),
    Code.OPENINGS_NARROW: lambda f: by_number(
        f.shown(Of.COUNT),
        "{count} narrow opening may not fill with bath",
        "{count} narrow openings may not fill with bath",
    ),
    Code.FLOATS: lambda f: filled("The print floats: {mass} g too light", mass=two_digits(f, Of.MASS)),
    Code.GAS_LIFTS: lambda f: filled("Trapped gas lifts the part by {mass} g", mass=two_digits(f, Of.MASS)),
    Code.GAS_SWINGS: lambda f: filled(
        "Trapped gas swings the part by {swing} degrees", swing=f"{f.shown(Of.SWING):.0f}"
    ),
    Code.WIRE_OFF_PART: lambda f: filled("A wire is {distance} mm off the part", distance=two_digits(f, Of.DISTANCE)),
    Code.PLASTIC_SOFT: lambda f: filled(
        "{plastic} softens in a bath of {temperature} C",
        plastic=f.names["plastic"],
        temperature=f"{f.shown(Of.TEMPERATURE):.0f}",
    ),
    Code.COAT_TOO_POOR: lambda f: "The coat conducts too poorly: choose a better one",
    Code.COAT_LIMITS_CURRENT: lambda f: filled(
        "The part takes {limit} of the wanted {current} A",
        limit=two_digits(f, Of.LIMIT_CURRENT),
        current=two_digits(f, Of.CURRENT),
    ),
    Code.WIRES_TOO_FEW: lambda f: by_number(
        f.shown(Of.WIRES),
        "{count} wire used, {needed} needed",
        "{count} wires used, {needed} needed",
        needed=f"{f.shown(Of.NEEDED_WIRES):.0f}",
    ),
    Code.COAT_UNWIRED: lambda f: (
        by_number(
            f.shown(Of.COUNT),
            "{count} loose piece: join or delete before you print",
            "{count} loose pieces: join or delete before you print",
        )
        if f.remedy is not None and f.remedy.code == RemedyCode.JOIN_PIECES
        else by_number(
            f.shown(Of.COUNT), "{count} piece of coat without a wire", "{count} pieces of coat without a wire"
        )
    ),
    Code.COAT_STAYS_BARE: lambda f: filled("{area} cm2 never gets metal", area=two_digits(f, Of.AREA)),
    Code.ZINC_DISPLACED: lambda f: "The bath dissolves the coat's zinc",
    Code.SUPPLY_TOO_SMALL: lambda f: filled(
        "The supply gives {given} of {current} A",
        given=two_digits(f, Of.SUPPLY_CURRENT),
        current=two_digits(f, Of.CURRENT),
    ),
    Code.SUPPLY_TOO_COARSE: lambda f: filled(
        "The supply cannot set {current} A: its step is {step} A",
        current=two_digits(f, Of.CURRENT),
        step=two_digits(f, Of.STEP_CURRENT),
    ),
    Code.SUPPLY_VOLTAGE_TOO_SMALL: lambda f: (
        filled(
            "{voltage} V needed, the supply gives {limit} V",
            voltage=two_digits(f, Of.VOLTAGE),
            limit=two_digits(f, Of.LIMIT_VOLTAGE),
        )
        if Of.VOLTAGE in f.quantities
        else filled("{limit} V of the supply are not enough", limit=two_digits(f, Of.LIMIT_VOLTAGE))
    ),
    Code.DRAW_TOO_LARGE: lambda f: filled(
        "{current} A needed, the supply gives {given} A",
        current=two_digits(f, Of.CURRENT),
        given=two_digits(f, Of.SUPPLY_CURRENT),
    ),
    Code.BELOW_WINDOW: lambda f: filled(
        "{density} A/dm2 is too low for this bath: dull metal", density=two_digits(f, Of.DENSITY)
    ),
    Code.ABOVE_WINDOW: lambda f: filled(
        "{density} A/dm2 is too high for this bath: burnt edges", density=two_digits(f, Of.DENSITY)
    ),
    Code.NEAR_LIMITING: lambda f: filled(
        "{density} A/dm2 is near the limit of this bath", density=two_digits(f, Of.DENSITY)
    ),
    Code.ALMOST_BARE: lambda f: filled("{share} % of the area gets hardly any metal", share=_share(f)),
    Code.DULL: lambda f: filled("{share} % of the area will be dull", share=_share(f)),
    Code.BURNT: lambda f: filled("{share} % of the area will burn", share=_share(f)),
    Code.THINNEST_NEVER: lambda f: "The thinnest spot never gets any metal",
    Code.ANODE_OVERLOADED: lambda f: (
        filled("{count} anodes are too small", count=f"{f.shown(Of.COUNT):.0f}")
        if f.quantities.get(Of.COUNT, 1.0) > 1
        else filled("{anode} is too small", anode=capital(f.names["anode"]))
    ),
    Code.BATH_TEMPERATURE: lambda f: filled(
        "The bath is at {temperature} C, outside its range", temperature=f"{f.shown(Of.TEMPERATURE):.0f}"
    ),
    Code.BATH_SATURATED: lambda f: "The bath holds more salt than stays dissolved",
    Code.NOT_CONVERGED: lambda f: "The thickness is only a hint: it did not settle",
    Code.FIELD_UNSURE: lambda f: (
        filled("Thickness is accurate only to {error} %", error=f"{100 * f.shown(Of.ERROR):.0f}")
        if Of.ERROR in f.quantities
        else "How accurate the thickness is, is not known"
    ),
    Code.NOT_COMPUTED: lambda f: f.names["reason"],
}

_CHANGES: Mapping[FixCode, Callable[[Fix], str]] = {
    FixCode.SCALE_IMPORT: lambda fix: filled("Scale Part by {factor}", factor=f"{fix.value:.4g}"),
    FixCode.USE_HANGING: lambda fix: (
        filled("Hang {direction}", direction=direction(fix.up)) if fix.up else "Hang Otherwise"
    ),
    FixCode.MARK_HOLES: lambda fix: "Mark Holes",
    FixCode.MAKE_PLUGS: lambda fix: "Make Plugs",
    FixCode.SET_WIRES: lambda fix: by_number(fix.value, "Use {count} Wire", "Use {count} Wires"),
    FixCode.SET_COAT: lambda fix: filled("Coat with {coat}", coat=fix.name),
    FixCode.SET_DENSITY: lambda fix: filled("Set {density} A/dm2", density=figure(fix.value / A_PER_DM2, DIGITS)),
    FixCode.SET_INFILL: lambda fix: filled("Set Infill {infill} %", infill=f"{100 * fix.value:.0f}"),
    FixCode.SET_PLASTIC: lambda fix: filled("Print in {name}", name=fix.name),
    FixCode.SET_TEMPERATURE: lambda fix: filled("Set {temperature} C", temperature=f"{fix.value - ZERO_CELSIUS:.0f}"),
    FixCode.SET_PANELS: lambda fix: "Set Quality Fine",
    FixCode.ENLARGE_TANK: lambda fix: "Enlarge Tank",
    FixCode.TRY_LAYOUTS: lambda fix: "Try Layouts",
}
