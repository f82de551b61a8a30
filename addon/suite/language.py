"""The screen in the user's language, through Blender's own translation.

Blender translates labels, buttons and tooltips by itself; sentences are filled templates, which are translated whole.
"""

from __future__ import annotations

import bpy

from ..engine.reporting import language, plan_text
from ..engine.settings.job import SECTIONS
from ..engine.settings.schema import specs

LOCALES = {"de": ("de_DE", "de")}  # what Blender calls a language, by the name of its file
OWN = "Platewright"  # a context of our own: in Blender's dictionaries "Current" and "Plastic" mean something else
CONTEXTS = ("*", "Operator", OWN)  # of labels and tooltips, of what stands on buttons, of our own names
SMALL_WORDS = {"a", "about", "at", "by", "for", "in", "of", "on", "per", "the", "to"}


def title_case(label: str) -> str:
    """Title case, as Blender writes labels: "Layer height" -> "Layer Height"."""
    return " ".join(word if word in SMALL_WORDS else word[:1].upper() + word[1:] for word in label.split(" "))


LABELS = {  # key of a setting in a job file -> what the panels call it
    f"{section}.{spec.key}": title_case(spec.label)
    for section, (_, kind, _) in SECTIONS.items()
    for spec in specs(kind).values()
    if spec.label
}


def localized(text: str) -> str:
    """A text in the language of the interface, with its number format, symbols for units, and labels for settings.
    Text that is in no dictionary stays English."""
    screen = language.Language("screen", lambda original: looked_up(original, OWN), written().numerals, _label)
    return plan_text.typeset(language.translated(text, screen))


def _label(key: str) -> str:
    """The label of a setting in the panels; its key if it has none."""
    return looked_up(LABELS[key], OWN) if key in LABELS else key


def looked_up(text: str, context: str) -> str:
    """A text in the language of the interface, as Blender's dictionaries have it."""
    return bpy.app.translations.pgettext_iface(text, context)


def written() -> language.Language:
    """The language of written documents: that of the interface, where there is a dictionary for it."""
    locale = locale_in_use()
    return language.of(next((name for name, locales in LOCALES.items() if locale in locales), language.ENGLISH.name))


def locale_in_use() -> str:
    """Blender's locale of the interface; "" where it is not translated."""
    return bpy.app.translations.locale if bpy.context.preferences.view.use_translate_interface else ""


def register() -> None:
    catalogs: dict[str, dict[tuple[str, str], str]] = {}
    for name, locales in LOCALES.items():
        entries = {(context, english): own for context in CONTEXTS for english, own in language.words(name).items()}
        catalogs |= dict.fromkeys(locales, entries)
    bpy.app.translations.register(__name__, catalogs)


def unregister() -> None:
    bpy.app.translations.unregister(__name__)
