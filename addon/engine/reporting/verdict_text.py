"""The verdict in words: a line for each thing to change, and what the tool can do against it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from numpy.typing import ArrayLike

from ..chemistry.deposit import duration
from ..findings import Code, Finding
from ..findings import Quantity as Of
from ..units import A_PER_DM2, CM2, GRAM, HOUR, ZERO_CELSIUS
from ..verdict.fixes import Fix, FixCode
from ..verdict.judge import Verdict
from . import finding_text, words
from .finding_text_part import counted
from .plan_text import figure

DIGITS = 2
MIN_TOLD_GAIN_ML = 0.05
NOTHING = "Nothing to change"


def headline(finding: Finding) -> str:
    """What is wrong, in a few words: "13 mL of trapped gas leave 26 cm2 bare". The whole sentence is
    `finding_text.text`."""
    make = _HEADLINES.get(finding.code)
    return make(finding) if make is not None else _first_sentence(finding_text.text(finding))


def change(fix: Fix) -> str:
    """What a button does: "Use 3 Wires"."""
    return _CHANGES[fix.code](fix)


def direction(up: ArrayLike) -> str:
    """A hanging direction without its degrees: "On Its Back"."""
    return words.hanging_direction(up).partition(" (")[0]


def figures(found: Verdict) -> list[tuple[str, str]]:
    """The four figures, each with its unit; a dash for what is not computed."""
    time = "-" if found.time is None else duration(found.time)
    return [
        ("Current", _told(found.current, 1.0, "A")),
        ("Time", time),
        ("Weight Gain", _told(found.weight_gain, GRAM, "g")),
        ("Bare Visible Area", _told(found.bare_area, CM2, "cm2")),
    ]


def row(found: Verdict) -> dict[str, Any]:
    """The verdict as the report has it; keys in docs/headless.md."""
    return {
        "wrong_scale": found.gate is not None,
        "changes": [one.code.value for one in found.changes],
        "more": found.more,
        "current_A": found.current,
        "time_h": None if found.time is None else found.time / HOUR,
        "weight_gain_g": None if found.weight_gain is None else found.weight_gain / GRAM,
        "bare_visible_cm2": None if found.bare_area is None else found.bare_area / CM2,
    }


def _told(value: float | None, unit: float, name: str) -> str:
    return "-" if value is None else f"{figure(value / unit, DIGITS)} {name}"


def _first_sentence(text: str) -> str:
    """Up to the first full stop or colon that ends a statement."""
    ends = [at for at in (text.find(". "), text.find(": ")) if at > 0]
    return text[: min(ends)] if ends else text.removesuffix(".")


def _length(millimeters: float) -> str:
    return f"{figure(millimeters / 1e3, DIGITS)} m" if millimeters >= 1e3 else f"{figure(millimeters, DIGITS)} mm"


def _two(finding: Finding, quantity: Of) -> str:
    return figure(finding.shown(quantity), DIGITS)


def _share(finding: Finding) -> str:
    return figure(100 * finding.shown(Of.SHARE), DIGITS)


_HEADLINES: Mapping[Code, Callable[[Finding], str]] = {
    Code.WRONG_SCALE: lambda f: f"The part is {_length(f.shown(Of.LENGTH))} long: wrong unit?",
    Code.MESH_OPEN: lambda f: f"The mesh has {counted(f.shown(Of.COUNT), 'open edge')}",
    Code.MESH_NON_MANIFOLD: lambda f: f"{counted(f.shown(Of.COUNT), 'edge')} with more than two faces",
    Code.SHELLS_ENCLOSED: lambda f: f"{counted(f.shown(Of.SHELLS), 'shell')} sealed inside the part",
    Code.SHELLS_OVERLAP: lambda f: "Bodies run into each other: join them",
    Code.GAS_TRAPPED: lambda f: f"{_two(f, Of.VOLUME)} mL of trapped gas leave {_two(f, Of.AREA)} cm2 bare",
    Code.LIQUID_HELD: lambda f: f"The part carries {_two(f, Of.VOLUME)} mL of bath out",
    Code.BETTER_WAY_UP: lambda f: (
        f"Another hanging position traps {_two(f, Of.GAS_GAIN)} mL less gas"
        if f.shown(Of.GAS_GAIN) >= MIN_TOLD_GAIN_ML
        else "Another hanging position is better"
    ),
    Code.OPENINGS_NARROW: lambda f: f"{counted(f.shown(Of.COUNT), 'narrow opening')} may not fill with bath",
    Code.FLOATS: lambda f: f"The print floats: {_two(f, Of.MASS)} g too light",
    Code.GAS_LIFTS: lambda f: f"Trapped gas lifts the part by {_two(f, Of.MASS)} g",
    Code.GAS_SWINGS: lambda f: f"Trapped gas swings the part by {f.shown(Of.SWING):.0f} degrees",
    Code.WIRE_OFF_PART: lambda f: f"A wire is {_two(f, Of.DISTANCE)} mm off the part",
    Code.PLASTIC_SOFT: lambda f: f"{f.names['plastic']} softens in a bath of {f.shown(Of.TEMPERATURE):.0f} C",
    Code.COAT_TOO_POOR: lambda f: "The coat conducts too poorly: choose a better one",
    Code.WIRES_TOO_FEW: lambda f: f"{counted(f.shown(Of.WIRES), 'wire')} used, {f.shown(Of.NEEDED_WIRES):.0f} needed",
    Code.COAT_UNWIRED: lambda f: f"{counted(f.shown(Of.COUNT), 'piece')} of coat without a wire",
    Code.COAT_STAYS_BARE: lambda f: f"{_two(f, Of.AREA)} cm2 never gets metal",
    Code.ZINC_DISPLACED: lambda f: "The bath dissolves the coat's zinc",
    Code.SUPPLY_TOO_SMALL: lambda f: f"The supply gives {_two(f, Of.SUPPLY_CURRENT)} of {_two(f, Of.CURRENT)} A",
    Code.SUPPLY_VOLTAGE_TOO_SMALL: lambda f: (
        f"{_two(f, Of.VOLTAGE)} V needed, the supply gives {_two(f, Of.LIMIT_VOLTAGE)} V"
    ),
    Code.DRAW_TOO_LARGE: lambda f: f"{_two(f, Of.CURRENT)} A needed, the supply gives {_two(f, Of.SUPPLY_CURRENT)} A",
    Code.BELOW_WINDOW: lambda f: f"{_two(f, Of.DENSITY)} A/dm2 is too low for this bath: dull metal",
    Code.ABOVE_WINDOW: lambda f: f"{_two(f, Of.DENSITY)} A/dm2 is too high for this bath: burnt edges",
    Code.NEAR_LIMITING: lambda f: f"{_two(f, Of.DENSITY)} A/dm2 is near the limit of this bath",
    Code.ALMOST_BARE: lambda f: f"{_share(f)} % of the area gets hardly any metal",
    Code.BURNT: lambda f: f"{_share(f)} % of the area will burn",
    Code.THINNEST_NEVER: lambda f: "The thinnest spot never gets any metal",
    Code.ANODE_OVERLOADED: lambda f: f"{f.names['anode'][:1].upper()}{f.names['anode'][1:]} is too small",
    Code.BATH_TEMPERATURE: lambda f: f"The bath is at {f.shown(Of.TEMPERATURE):.0f} C, outside its range",
    Code.BATH_SATURATED: lambda f: "The bath holds more salt than stays dissolved",
    Code.NOT_CONVERGED: lambda f: "The thickness is only a hint: it did not settle",
    Code.FIELD_UNSURE: lambda f: (
        f"Thickness is accurate only to {100 * f.shown(Of.ERROR):.0f} %"
        if Of.ERROR in f.quantities
        else "How accurate the thickness is, is not known"
    ),
    Code.NOT_COMPUTED: lambda f: f.names["reason"],
}

_CHANGES: Mapping[FixCode, Callable[[Fix], str]] = {
    FixCode.SCALE_IMPORT: lambda fix: f"Scale Part by {fix.value:.4g}",
    FixCode.USE_HANGING: lambda fix: f"Hang {direction(fix.up)}" if fix.up else "Hang Otherwise",
    FixCode.MARK_HOLES: lambda fix: "Mark Holes",
    FixCode.SET_WIRES: lambda fix: f"Use {counted(fix.value, 'Wire')}",
    FixCode.SET_DENSITY: lambda fix: f"Set {figure(fix.value / A_PER_DM2, DIGITS)} A/dm2",
    FixCode.SET_INFILL: lambda fix: f"Set Infill {100 * fix.value:.0f} %",
    FixCode.SET_PLASTIC: lambda fix: f"Print in {fix.name}",
    FixCode.SET_TEMPERATURE: lambda fix: f"Set {fix.value - ZERO_CELSIUS:.0f} C",
    FixCode.SET_PANELS: lambda fix: "Set Quality Fine",
    FixCode.ENLARGE_TANK: lambda fix: "Enlarge Tank",
}
