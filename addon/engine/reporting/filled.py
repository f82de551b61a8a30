"""Texts that remember what they were made of, so that they can be told in another language as a whole.

In English each is the string that it shows; `language.told` makes the other one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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


class Sentence(str):
    """A text with a capital, and a stop where one was asked for. text : without them; stop : "." or "" """

    text: str
    stop: str


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


def sentence(text: str) -> Sentence:
    """A sentence of the plan: a capital and a stop. A name in front of a colon, of a file or a key, stays as it is."""
    return _cased(text, ".")


def capital(text: str) -> Sentence:
    """A text with a capital, as `sentence` sets it, and no stop."""
    return _cased(text, "")


def _cased(text: str, stop: str) -> Sentence:
    made = Sentence(_begun(text) + ("" if text.endswith(".") else stop))
    made.text, made.stop = text, stop
    return made


def _begun(text: str) -> str:
    first = text.split(" ", 1)[0]
    named = first.endswith(":") or "." in first.rstrip(".") or "_" in first
    return text if named else text[:1].upper() + text[1:]
