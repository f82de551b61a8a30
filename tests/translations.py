"""Which texts the engine has, and which of them a language lacks: read off the source, and heard while a plan is rendered."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

from addon.engine.reporting import checklist, language
from addon.engine.reporting.language import ENGLISH, Language, decimal_comma
from addon.engine.reporting.plan import Plan

FIGURE = re.compile(r"\d+(?:[.,]\d+)*")
ENGINE = Path(language.__file__).parents[1]
UNITS = "ohm|min|mil|gal|ABS|ASA|PLA|PETG|MHz|mol"  # of three letters or more, the same in every language; and plastics
WORD = re.compile(rf"\b(?!(?:{UNITS})\b)[^\W\d_]{{3,}}")


def has_words(text: str) -> bool:
    """Whether there is something to translate: a word of three letters or more outside of braces."""
    return bool(WORD.search(re.sub(r"\{\w+\}", "", text)))


def of_instructions() -> set[str]:
    """Every sentence of the tables of instructions."""
    return {
        text for _, table in checklist.TABLES for row in table for text in (row.value.text, row.value.check) if text
    }


def of_source(pattern: str) -> dict[str, str]:
    """Template -> file and line, of every `filled(...)` in the files of the engine that match."""
    found: dict[str, str] = {}
    for path in sorted(ENGINE.glob(pattern)):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        named: dict[str, list[ast.expr]] = {}
        for name, value in _assigned(tree):
            named.setdefault(name, []).append(value)
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "filled" and call.args:
                for text in _texts(call.args[0], named):
                    found[text] = f"{path.name}:{call.lineno}"
    return found


def _assigned(tree: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    """Name -> what is assigned to it, anywhere in a module: names of templates stand once."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            yield node.targets[0].id, node.value
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value is not None:
            yield node.target.id, node.value


def _texts(node: ast.expr, named: dict[str, list[ast.expr]]) -> Iterator[str]:
    """The texts that an expression may give: itself, both of an if, every value of a table."""
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str):
            yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body, named)
        yield from _texts(node.orelse, named)
    elif isinstance(node, ast.Name):
        for value in named.get(node.id, ()):
            yield from _texts(value, {**named, node.id: []})
    elif isinstance(node, ast.Subscript):
        yield from _texts(node.value, named)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "get":
        yield from _texts(node.func.value, named)
    elif isinstance(node, ast.Dict):
        for value in node.values:
            yield from _texts(value, named)


def listening(name: str) -> tuple[Language, set[str]]:
    """A language that notes what it is asked for and does not have: words only, figures and units aside."""
    known, lacking = language.words(name), set[str]()

    def look_up(text: str) -> str:
        if text not in known and has_words(text):
            lacking.add(text)
        return known.get(text, text)

    return Language(name, look_up, language.NUMERALS[name]), lacking


def other_figures(made: Plan, other: Language) -> list[str]:
    """The lines of a plan whose figures are not the same in both languages, whatever the order of the words."""
    sections = [*made.pages, made.steps, *made.appendix]
    lines = [line for section in sections for line in section.lines]
    return [
        line.in_language(ENGLISH)
        for line in lines
        if _figures(line.in_language(ENGLISH), decimal_comma) != _figures(line.in_language(other))
    ]


def _figures(text: str, shown: Callable[[str], str] = str) -> Counter[str]:
    return Counter(shown(one) for one in FIGURE.findall(text))
