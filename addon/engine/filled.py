"""Texts that remember what they were made of, so that they can be told in another language as a whole.

In English each is the string that it shows; `reporting.language.told` makes the other one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType


class Filled(str):
    """Text made of a template and its values: in English itself, and for a translation what it was made of.

    template : with a name in braces for each value; values : name -> text, some of them templates that were filled too
    """

    template: str
    values: Mapping[str, str]


class Joined(str):
    """Whole texts one after the other. parts : of any of these kinds; by : what stands between, no word"""

    parts: tuple[str, ...]
    by: str


class Shaped(str):
    """A text whose first letter or last stop is changed once it is told. shape : what does that"""

    text: str
    shape: Callable[[str], str]


class Keyed(str):
    """A word that stands in the dictionaries under another key: with its capital, or with where it is said, for a word
    that is one in English may be several elsewhere. key : that key"""

    key: str


def filled(template: str, **values: object) -> Filled:
    """Fill a template: filled("{volume} mL of trapped gas", volume="13"). Raises KeyError where a value is missing."""
    texts = {name: value if isinstance(value, str) else str(value) for name, value in values.items()}
    made = Filled(template.format_map(texts))
    made.template, made.values = template, MappingProxyType(texts)
    return made


def joined(parts: Iterable[str], by: str = " ") -> Joined:
    """Sentences one after the other, or the items of a row; never the pieces of one sentence."""
    kept = tuple(part for part in parts if part)
    made = Joined(by.join(kept))
    made.parts, made.by = kept, by
    return made


def sentence(text: str) -> Shaped:
    """A sentence of the plan: a capital and a stop. A name in front of a colon, of a file or a key, stays as it is."""
    return _shaped(text, _sentence)


def capital(text: str) -> Shaped:
    """A text with a capital, as `sentence` sets it."""
    return _shaped(text, _begun)


def unstopped(text: str) -> Shaped:
    """A sentence without its stop, to stand in another one."""
    return _shaped(text, _unstopped)


def keyed(text: str, key: str) -> Keyed:
    """A word with the key that dictionaries have it under."""
    made = Keyed(text)
    made.key = key
    return made


def _shaped(text: str, shape: Callable[[str], str]) -> Shaped:
    made = Shaped(shape(text))
    made.text, made.shape = text, shape
    return made


def _sentence(text: str) -> str:
    return _begun(text) + ("" if text.endswith(".") else ".")


def _unstopped(text: str) -> str:
    return text.rstrip(".")


def _begun(text: str) -> str:
    first = text.split(" ", 1)[0]
    named = first.endswith(":") or "." in first.rstrip(".") or "_" in first
    return text if named else text[:1].upper() + text[1:]
