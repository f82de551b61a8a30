"""Texts that remember what they were made of, so that they can be translated as a whole.

In English each is the string that it shows; `reporting.language.translated` makes the translation.
"""

from __future__ import annotations

import string
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any


class Filled(str):
    """Text made of a template and its values: in English itself, and for a translation what it was made of.

    template : a name in braces for each value, and the key of a setting in braces, "{tank.level_mm}"
    values : name -> text, some of them filled themselves, and each key of a setting as a `SettingKey`
    """

    template: str
    values: Mapping[str, str]


class Joined(str):
    """Whole texts one after the other. parts : of any of these kinds; by : what stands between, no word"""

    parts: tuple[str, ...]
    by: str


class Shaped(str):
    """A text whose first letter or last stop is changed once it is translated. shape : what does that"""

    text: str
    shape: Callable[[str], str]


class Keyed(str):
    """A word with its own dictionary key: capitalized, or with its context, because one English word may be several
    in another language. key : that key"""

    key: str


class SettingKey(str):
    """A setting, by its key in a job file: "tank.level_mm". The panels show its label instead (`suite.language`).

    key : section and key; source : the file or scene that it stands in, which is shown in front of it, or ""
    """

    key: str
    source: str

    def under(self, name: Callable[[str], str]) -> str:
        """The setting under another name, with its source in front. name : key -> what to call it"""
        return f"{self.source}: {name(self.key)}" if self.source else name(self.key)


class _Template(string.Formatter):
    """A template whose placeholders are names as they stand: "tank.level_mm" is one name, not an attribute."""

    def get_field(self, field_name: str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> tuple[Any, str]:
        return kwargs[field_name], field_name


_TEMPLATE = _Template()


def filled(template: str, **values: object) -> Filled:
    """Fill a template: filled("{volume} mL of trapped gas", volume="13"). Raises KeyError where a value is missing.

    The keys of settings need no value: filled("lower {tank.level_mm}").
    """
    texts = {name: value if isinstance(value, str) else str(value) for name, value in values.items()}
    texts |= {key: setting(key) for key in settings_in(template)}
    text = Filled(put_in(template, texts))
    text.template, text.values = template, MappingProxyType(texts)
    return text


def joined(parts: Iterable[str], by: str = " ") -> Joined:
    """Sentences one after the other, or the items of a row; never the pieces of one sentence."""
    nonempty = tuple(part for part in parts if part)
    text = Joined(by.join(nonempty))
    text.parts, text.by = nonempty, by
    return text


def sentence(text: str) -> Shaped:
    """A sentence of the plan: a capital and a stop. A name in front of a colon, of a file or a key, stays as it is."""
    return _shaped(text, _sentence)


def capital(text: str) -> Shaped:
    """A text with a capital, as `sentence` sets it."""
    return _shaped(text, _begun)


def unstopped(text: str) -> Shaped:
    """A sentence without its stop, to stand in another one."""
    return _shaped(text, _unstopped)


def put_in(template: str, values: Mapping[str, str]) -> str:
    """A template with its values. values : placeholder -> text; one that lacks raises KeyError."""
    return _TEMPLATE.vformat(template, (), values)


@cache
def settings_in(template: str) -> tuple[str, ...]:
    """The keys of settings that a template names: its placeholders with a dot."""
    return tuple(name for _, name, _, _ in string.Formatter().parse(template) if name and "." in name)


def setting(key: str, source: str = "") -> SettingKey:
    """A setting by its key, and the file that sets it."""
    text = SettingKey(f"{source}: {key}" if source else key)
    text.key, text.source = key, source
    return text


def inside(where: str, key: str) -> str:
    """The place of a key inside a section, or inside whatever else `where` names."""
    return setting(f"{where.key}.{key}", where.source) if isinstance(where, SettingKey) else f"{where}.{key}"


def item(where: str, index: int) -> str:
    """The place of one item of a list."""
    return setting(f"{where.key}[{index}]", where.source) if isinstance(where, SettingKey) else f"{where}[{index}]"


def keyed(text: str, key: str) -> Keyed:
    """A word with the key that dictionaries have it under."""
    word = Keyed(text)
    word.key = key
    return word


def _shaped(text: str, shape: Callable[[str], str]) -> Shaped:
    shaped = Shaped(shape(text))
    shaped.text, shaped.shape = text, shape
    return shaped


def _sentence(text: str) -> str:
    return _begun(text) + ("" if text.endswith(".") else ".")


def _unstopped(text: str) -> str:
    return text.rstrip(".")


def _begun(text: str) -> str:
    first = text.split(" ", 1)[0]
    named = first.endswith(":") or "." in first.rstrip(".") or "_" in first
    return text if named else text[:1].upper() + text[1:]
