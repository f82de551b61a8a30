"""Every text that the screen can show, read from the source and from what is registered: for the test of the dictionaries."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bpy

ADDON = Path(__file__).resolve().parents[1] / "addon"
FOLDERS = ("operators", "panels", "preview", "draw")
FILES = ("session.py", "workshop.py", "figures.py", "scene/racks.py", "scene/stage.py", "scene/vented.py")
SENTENCES = "engine/reporting/verdict_text.py"
LETTERS = re.compile(r"[^\W\d_]{3,}")
TEXT_ARGUMENTS = {"label", "operator", "prop", "menu", "popover", "progress"}
TABLES = {"TITLES", "STEPS", "TOOLTIPS", "DESCRIPTIONS", "COLUMNS", "NOTHING", "STALE", "KINDS"}  # of texts


def is_word(text: str) -> bool:
    """Whether there is something to translate: more than a figure, a unit or a sign."""
    return bool(LETTERS.search(re.sub(r"\{\w+\}", "", text)))


def of_source() -> dict[str, str]:
    """Text -> where it stands, of what the code says on the screen."""
    files = [path for folder in FOLDERS for path in sorted((ADDON / "suite" / folder).glob("*.py"))]
    files += [ADDON / "suite" / name for name in FILES] + [ADDON / SENTENCES]
    found: dict[str, str] = {}
    for path in files:
        for text, line in _texts(ast.parse(path.read_text(encoding="utf-8")), path.name == "verdict_text.py"):
            if is_word(text):
                found.setdefault(text, f"{path.relative_to(ADDON)}:{line}")
    return found


def glued() -> list[str]:
    """Where a sentence of the screen is put together, in place of a template that is filled."""
    files = [path for folder in ("operators", "panels") for path in sorted((ADDON / "suite" / folder).glob("*.py"))]
    out = []
    for path in files:
        for node in _calls(ast.parse(path.read_text(encoding="utf-8"))):
            out += [f"{path.relative_to(ADDON)}:{node.lineno}: {ast.unparse(one)}" for one in _joined_texts(node)]
            for argument in _spoken(node):
                words = [v.value for v in getattr(argument, "values", ()) if isinstance(v, ast.Constant)]
                if isinstance(argument, ast.JoinedStr) and is_word(" ".join(map(str, words))):
                    out.append(f"{path.relative_to(ADDON)}:{argument.lineno}: {ast.unparse(argument)}")
    return out


def _joined_texts(node: ast.Call) -> Iterator[ast.expr]:
    """Values of a template that are texts put in a row, which no dictionary knows; figures and told texts are none."""
    for value in (one.value for one in node.keywords if _name(node) == "filled"):
        if isinstance(value, ast.Call) and isinstance(value.func, ast.Attribute) and value.func.attr == "join":
            item = getattr(value.args[0], "elt", value.args[0])
            if not isinstance(item, ast.JoinedStr) and not (isinstance(item, ast.Call) and _name(item) == "localized"):
                yield value


def _calls(tree: ast.AST) -> Iterator[ast.Call]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def _name(node: ast.Call) -> str:
    called = node.func
    return called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")


def _spoken(node: ast.Call) -> list[ast.expr]:
    """The arguments of a call that are read by a person."""
    name = _name(node)
    if name in TEXT_ARGUMENTS:
        return [one.value for one in node.keywords if one.arg == "text"]
    if name == "say":
        return node.args[1:2]
    if name in ("report", "poll_message_set"):
        return node.args[-1:]
    if name == "show_button":
        return node.args[2:3]
    if name == "by_number":
        return node.args[1:3]
    if name == "filled":  # the values as well: a word chosen among two
        chosen = [one.value for one in node.keywords if isinstance(one.value, ast.IfExp)]
        return node.args[:1] + chosen
    return node.args[:1] if name in ("localized", "InputError") else []


def _texts(tree: ast.AST, whole: bool) -> Iterator[tuple[str, int]]:
    """whole : take every branch of the tables of sentences as well"""
    for node in _calls(tree):
        for argument in _spoken(node):
            yield from _constants(argument)
        if _name(node) == "facts":
            for row in ast.walk(node):
                if isinstance(row, ast.Tuple) and row.elts:
                    yield from _constants(row.elts[0])
    for node in ast.walk(tree):
        yield from _table(node)
    for node in ast.walk(tree) if whole else ():
        if isinstance(node, ast.Lambda):
            yield from _constants(node.body, deep=False)


def _table(node: ast.AST) -> Iterator[tuple[str, int]]:
    """The texts of a table that is read on the screen; its keys are names."""
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    value: Any = getattr(node, "value", None)
    if value is None or not any(isinstance(one, ast.Name) and one.id in TABLES for one in targets):
        return
    parts = value.values if isinstance(value, ast.Dict) else [value]
    if isinstance(value, ast.Tuple | ast.List):
        parts = [one.elts[0] if isinstance(one, ast.Tuple) else one for one in value.elts]
    for part in parts:
        yield from _constants(part)


def _constants(node: ast.expr, deep: bool = True) -> Iterator[tuple[str, int]]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value, node.lineno
    elif isinstance(node, ast.IfExp):
        yield from _constants(node.body, deep)
        yield from _constants(node.orelse, deep)
    elif isinstance(node, ast.BoolOp) and deep:
        for one in node.values:
            yield from _constants(one)


def of_registered(classes: list[Any], groups: list[Any]) -> dict[str, str]:
    """Text -> whose, of labels and tooltips that Blender knows."""
    found: dict[str, str] = {}
    for cls in classes:
        where = cls.__name__
        for text in (getattr(cls, "bl_label", ""), (cls.__doc__ or "").strip()):
            found.setdefault(text, where)
        if issubclass(cls, bpy.types.Operator):
            own = getattr(bpy.ops.platewright, cls.bl_idname.partition(".")[2]).get_rna_type()
            for text, of in _properties(own, hidden=False):
                found.setdefault(text, f"{where}.{of}")
    for group in groups:
        for text, of in _properties(group.bl_rna):
            found.setdefault(text, f"{group.__name__}.{of}")
    return {text: where for text, where in found.items() if is_word(text)}


def _properties(rna: Any, hidden: bool = True) -> Iterator[tuple[str, str]]:
    for prop in rna.properties:
        if (
            prop.identifier in ("rna_type", "name")
            or prop.type in ("POINTER", "COLLECTION")
            or (prop.is_hidden and not hidden)
        ):
            continue
        label = prop.name.partition(" (")[0]
        if label != prop.identifier:
            yield label, prop.identifier
            yield prop.description, prop.identifier
        for item in getattr(prop, "enum_items", ()):
            yield item.name, prop.identifier
            yield item.description, prop.identifier
