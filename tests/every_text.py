"""Findings, reasons and what capture leaves out, in every form that their sentences have; and templates in the source."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from itertools import product
from pathlib import Path

from addon.engine import errors
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
    Code.MESH_OPEN: ((Quantity.MASS,),),
    Code.MESH_NON_MANIFOLD: ((Quantity.MASS,),),
    Code.SUPPLY_VOLTAGE_TOO_SMALL: ((Quantity.CURRENT,), (Quantity.VOLTAGE,)),
    Code.FIELD_UNSURE: ((Quantity.ERROR,),),
}
NAMES: tuple[dict[str, str], ...] = (
    {"encloses": "no volume", "at_the_end": "floats", "side": "inside", "held": "warmth", "plastics": "", "baths": ""},
    {"encloses": "a volume", "at_the_end": "sinks", "side": "off", "held": "burning", "plastics": "P 2, P 3"},
    {"plastics": "P 2", "baths": ""},
    {"plastics": "", "baths": "B 3"},
)
COMMON = {
    "made_in": "inches",
    "read_as": "millimeters",
    "plastic": "P 1",
    "bath": "B 1",
    "baths": "B 1, B 2",
    "coat": "C 1",
    "anode": "A 1",
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
    Remedy(RemedyCode.BETTER_COAT, VENT, names={"coats": "C 1, C 2, C 3"}),
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
    for why in Why:
        kinds = ("curve", "meta", "mesh") if why == Why.NO_FACES else ("light",) if why == Why.NO_SURFACE else ("", "x")
        for detail in kinds:
            yield Skipped(why, "O 1", detail, "O 2", 3, 100)


ADDON = Path(errors.__file__).parents[1]
WORD = re.compile(r"[^\W\d_]{3,}")
OF_THE_PLAN = (
    "plan",
    "workshop",
    "instructions",
)  # files of reporting/ whose templates are heard as plans are rendered
# Calls whose arguments, from one on, are texts that somebody reads: up to how many
TEXTS = {
    "filled": (0, 1),
    "by_number": (1, 3),
    "says": (0, 1),
    "counts": (1, 3),
    "InputError": (0, 1),
    "NotSolvedError": (0, 1),
    "Step": (1, 2),
}


def has_words(text: str) -> bool:
    """Whether there is something to translate: more than a figure, a unit or a sign."""
    return bool(WORD.search(re.sub(r"\{\w+\}", "", text)))


def templates() -> dict[str, str]:
    """Text -> file and line, of everything that the add-on fills in, raises as a fault of input, or tells of its work."""
    found: dict[str, str] = {}
    for path in sorted(ADDON.rglob("*.py")):
        if path.parent.name == "reporting" and path.name.startswith(OF_THE_PLAN):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        named = {
            node.targets[0].id: node.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                low, high = TEXTS.get(getattr(node.func, "id", ""), (0, 0))
                for argument in node.args[low:high]:
                    for text in _texts(argument, named):
                        found.setdefault(text, f"{path.relative_to(ADDON)}:{node.lineno}")
    return {text: where for text, where in found.items() if has_words(text)}


def _texts(node: ast.expr, named: dict[str, ast.expr]) -> Iterator[str]:
    """The texts that an expression may give: itself, both of an if, each of an or, what a name stands for."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body, named)
        yield from _texts(node.orelse, named)
    elif isinstance(node, ast.BoolOp):
        for one in node.values:
            yield from _texts(one, named)
    elif isinstance(node, ast.Name) and node.id in named:
        yield from _texts(named[node.id], {})
