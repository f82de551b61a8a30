"""Sentences in another language: each template is translated as a whole, then its values are translated and filled in.

A language is its dictionaries, data/languages/NAME.toml and NAME.*.toml: English -> translation. Missing entries stay
English.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

from ..errors import InputError
from ..settings.tables import DATA, toml
from .filled import Filled, Joined, Keyed, SettingKey, Shaped, put_in

FOLDER = DATA / "languages"
NAMES = ("name", "path", "label")  # values that are never translated
_SEPARATOR = re.compile(r"(?<=\d)(?:,(?=\d{3}(?!\d))|\.(?=\d)|, (?=-?\d))")  # in "1,240", "4.5" and "(4.5, -12) mm"
_WITH_A_COMMA = {",": ".", ".": ",", ", ": "; "}


def _same(text: str) -> str:
    return text


@dataclass(frozen=True)
class Language:
    """name : as its file's, "en" for the language of the templates
    look_up : a template or word -> the language's own, or itself; numerals : a value -> its figures as it sets them
    setting : the key of a setting in a job file -> what to call it; the panels show labels, what is written has keys
    """

    name: str
    look_up: Callable[[str], str] = _same
    numerals: Callable[[str], str] = _same
    setting: Callable[[str], str] = _same


ENGLISH = Language("en")


def translated(text: str, language: Language) -> str:
    """A text in a language. Text that is in no dictionary stays unchanged."""
    if isinstance(text, Filled):
        values = {
            name: value if _is_a_name(name, value) else translated(value, language)
            for name, value in text.values.items()
        }
        return put_in(language.look_up(text.template), values)
    if isinstance(text, Joined):
        return text.by.join(translated(part, language) for part in text.parts)
    if isinstance(text, Shaped):
        return text.shape(translated(text.text, language))
    if isinstance(text, SettingKey):
        return text.under(language.setting)
    if isinstance(text, Keyed):
        own = language.look_up(text.key)
        return str(text) if own == text.key else own
    own = language.look_up(text)
    return language.numerals(text) if own == text else own


def _is_a_name(placeholder: str, value: str) -> bool:
    """Whether a value is a name given by the user; filled texts and setting keys are ours."""
    return placeholder.removesuffix("_2") in NAMES and not isinstance(value, Filled | SettingKey)


def decimal_comma(text: str) -> str:
    """Figures with a decimal comma: "(4.5, 12) mm" -> "(4,5; 12) mm", "1,240" -> "1.240"."""
    return _SEPARATOR.sub(lambda match: _WITH_A_COMMA[match[0]], text)


NUMERALS = {"de": decimal_comma}


def of(name: str) -> Language:
    """A language by its name, "en" or one that has a dictionary. Raises InputError for another one."""
    if name == ENGLISH.name:
        return ENGLISH
    if name not in names():
        raise InputError(f"there is no language {name!r}; choose one of {', '.join(names())}")
    known = words(name)
    return Language(name, lambda text: known.get(text, text), NUMERALS.get(name, _same))


@cache
def names() -> tuple[str, ...]:
    """The languages that there are, English first."""
    return (ENGLISH.name, *sorted({path.name.split(".", 1)[0] for path in FOLDER.glob("*.toml")}))


@cache
def words(name: str) -> Mapping[str, str]:
    """The dictionary English -> translation, from all files of the language. Raises InputError where two of them have
    the same text."""
    entries: dict[str, str] = {}
    for path in sorted([*FOLDER.glob(f"{name}.toml"), *FOLDER.glob(f"{name}.*.toml")]):
        own = toml(path)
        twice = entries.keys() & own.keys()
        if twice:
            raise InputError(f"{path}: {min(twice)!r} stands in another file too; delete one of them")
        entries |= own
    return entries
