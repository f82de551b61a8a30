"""A sentence that remembers its template, so that it can be told in another language as a whole."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType


class Filled(str):
    """Text made of a template and its values: in English itself, and for a translation what it was made of.

    template : with a name in braces for each value; values : name -> text, some of them templates that were filled too
    """

    template: str
    values: Mapping[str, str]


def filled(template: str, **values: object) -> Filled:
    """Fill a template: filled("{volume} mL of trapped gas", volume="13")."""
    texts = {name: value if isinstance(value, str) else str(value) for name, value in values.items()}
    made = Filled(template.format(**texts))
    made.template, made.values = template, MappingProxyType(texts)
    return made
