"""The screen in the user's language, through Blender's own translation.

Labels, buttons and tooltips Blender translates by itself; sentences are filled templates, which are translated whole.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

import bpy

from ..engine.reporting.filled import Filled

FOLDER = Path(__file__).resolve().parents[1] / "data" / "languages"
LOCALES = {"de": ("de_DE", "de")}  # what Blender calls a language, by the name of its file
NAMES = ("name", "path", "label")  # values that are nobody's to translate
CONTEXTS = ("*", "Operator")  # of labels and tooltips, and of what stands on buttons


def said(text: str) -> str:
    """A text in the language of the interface; one that the dictionaries do not have stays as it is."""
    if isinstance(text, Filled):
        values = {name: value if name in NAMES else said(value) for name, value in text.values.items()}
        return looked_up(text.template, CONTEXTS[0]).format(**values)
    return looked_up(text, CONTEXTS[0])


def looked_up(text: str, context: str) -> str:
    """A text in the language of the interface, as Blender's dictionaries have it."""
    return bpy.app.translations.pgettext_iface(text, context)


@cache
def words(language: str) -> dict[str, str]:
    """English -> the language's own, of everything on the screen."""
    return tomllib.loads((FOLDER / f"{language}.toml").read_text(encoding="utf-8"))


def register() -> None:
    found: dict[str, dict[tuple[str, str], str]] = {}
    for language, locales in LOCALES.items():
        entries = {(context, english): own for context in CONTEXTS for english, own in words(language).items()}
        found |= dict.fromkeys(locales, entries)
    bpy.app.translations.register(__name__, found)


def unregister() -> None:
    bpy.app.translations.unregister(__name__)
