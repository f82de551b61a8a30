"""Findings, reasons and what capture leaves out, in every form that their sentences have."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from addon.engine.findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity
from addon.engine.geometry.location import Location
from addon.engine.mesh.skipped import Skipped, Why
from addon.engine.reasons import Reason, ReasonCode

PLACES = ((0.012, -0.0035, 0.04), (0.0, 0.01, 0.02), (0.0, 0.0, 0.0))
# What a sentence does without; of what stands on one line together
ABSENT: dict[Code, tuple[tuple[Quantity, ...], ...]] = {
    Code.COAT_TOO_POOR: (
        (Quantity.SHEET_RESISTANCE,),
        (Quantity.SHEET_RESISTANCE, Quantity.SHARE),
        (Quantity.STEP_CURRENT,),
        (Quantity.STEP_CURRENT, Quantity.TIME),
        (Quantity.STEP_CURRENT, Quantity.LIMIT_TIME),
    ),
    Code.SUPPLY_VOLTAGE_TOO_SMALL: ((Quantity.CURRENT,), (Quantity.VOLTAGE,)),
    Code.FIELD_UNSURE: ((Quantity.ERROR,),),
}
NAMES: tuple[dict[str, str], ...] = (
    {"encloses": "no volume", "at_the_end": "floats", "side": "inside", "held": "warmth", "plastics": "", "baths": ""},
    {"encloses": "a volume", "at_the_end": "sinks", "side": "off", "held": "burning", "plastics": "PETG, ABS"},
    {"plastics": "PETG", "baths": ""},
    {"plastics": "", "baths": "bath Z"},
)
COMMON = {
    "made_in": "inches",
    "read_as": "millimeters",
    "plastic": "PLA",
    "bath": "bath X",
    "baths": "bath X, bath Y",
    "coat": "coat X",
    "anode": "anode 1",
    "purpose": "look",
    "limit": "thin places",
    "result": "field",
    "reason": "R 1",
    "object": "O 1",
    "encloses": "a volume",
    "at_the_end": "sinks",
    "side": "off",
    "held": "warmth",
}
VENT = {Quantity.DIAMETER: 0.003, Quantity.LEFT: 1e-6, Quantity.UP_X: 0.0, Quantity.UP_Y: 0.6, Quantity.UP_Z: 0.8}
REMEDIES = (
    Remedy(RemedyCode.VENT, VENT, PLACES),
    Remedy(RemedyCode.VENT, VENT | {Quantity.LEFT: 0.0}, PLACES[:1]),
    Remedy(RemedyCode.DRAIN, VENT, PLACES[:1]),
    Remedy(RemedyCode.SHAKE, VENT),
    Remedy(RemedyCode.PLUG_HOLES, VENT),
    Remedy(RemedyCode.JOIN_PIECES, VENT),
    Remedy(RemedyCode.BETTER_COAT, VENT, names={"coats": "coat X, coat Y, coat Z"}),
)
SIDE = Location(3, "", None, 0.004, 0.03, 0.05)


def locations() -> Iterator[Location | None]:
    yield None
    for faces, side, (below, above) in product(("", "up", "down", "in"), (None, 0, 5), ((0.0, 0.05), (0.03, 0.004))):
        yield Location(side, faces, None, below, above, 0.05)
        yield Location(side, faces, None, above, below, 0.05)
    yield Location(None, "", 2, 0.004, 0.03, 0.05)


def findings() -> Iterator[Finding]:
    """Every code with one, two or many of what it counts, with and without what it may lack, with each remedy."""
    for code, (level, low), names, remedy in product(Code, ((1.0, 3.0), (2.0, 1.0), (9.0, -1.0)), NAMES, REMEDIES):
        for absent in ((), *ABSENT.get(code, ())):
            yield _finding(code, level, low, absent, names, remedy)


def _finding(
    code: Code, level: float, low: float, absent: tuple[Quantity, ...], names: dict[str, str], remedy: Remedy
) -> Finding:
    """level : of every quantity in its unit; low : of those whose sign or zero makes another sentence"""
    count = {one: one.unit * level + one.zero for one in Quantity if one not in absent}
    few = {one: one.unit * low + one.zero for one in (Quantity.METAL_CURRENT, Quantity.AREA_GAIN)}
    none = {Quantity.BALLAST: max(low, 0.0), Quantity.SHELLS: max(level - 1, 0.0), Quantity.WALLS: level * 1e-6}
    walls = {Quantity.WALLS: 1.0} if low > 0 else {}
    share = {Quantity.SHARE: 0.3} if Quantity.SHARE in count else {}
    places = PLACES if level > 1 else ()
    if code in (Code.GAP_CLOSES, Code.BORE_CLOSES, Code.WALL_THIN, Code.OPENINGS_NARROW, Code.WIRE_OFF_PART):
        places = PLACES
    return Finding(
        code,
        Severity.COSTS,
        count | few | none | walls | share,
        COMMON | {"why": Why.HIDDEN.value} | names,
        places,
        tuple(SIDE for _ in places),
        remedy=remedy,
    )


def reasons() -> Iterator[Reason]:
    """Every reason, with figures above and below zero."""
    for code, sign, count in product(ReasonCode, (1.0, -1.0), (1, 2, 3)):
        yield Reason(code, {one: sign * 2.0 * one.unit for one in Quantity}, PLACES[:count])


def skipped() -> Iterator[Skipped]:
    """Everything that capture leaves out, with each detail that it may have."""
    for why, detail in product(Why, ("", "curve", "meta", "mesh", "light", "location")):
        yield Skipped(why, "O 1", detail, "O 2", 3, 100)
