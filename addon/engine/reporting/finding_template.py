"""What the sentences of findings are made from: templates, and the values that fill them."""

from __future__ import annotations

from collections.abc import Callable

from ..findings import Finding, Quantity
from .filled import filled
from .plan_text import figure, general, point
from .words import by_number

DIGITS = 2  # of a quantity in a finding

Template = Callable[[Finding], str]
Value = Callable[[Finding], str]  # one value of a template, in words or figures


def says(template: str, **values: Value) -> Template:
    """A sentence that always has the same form."""
    return lambda f: filled(template, **{name: value(f) for name, value in values.items()})


def counts(quantity: Quantity, single: str, several: str, **values: Value) -> Template:
    """A sentence about one or several, by what a quantity counts; `{count}` is that number."""
    return lambda f: by_number(f.shown(quantity), single, several, **{name: value(f) for name, value in values.items()})


def shown(quantity: Quantity, form: str = "") -> Value:
    """A quantity in its trade unit, with two digits or in a format of its own."""
    return lambda f: format(f.shown(quantity), form) if form else two_digits(f, quantity)


def significant(quantity: Quantity, digits: int) -> Value:
    """A quantity in its trade unit with significant digits, without trailing zeros."""
    return lambda f: general(f.shown(quantity), digits)


def percent(quantity: Quantity, form: str = ".0f", digits: int = 0) -> Value:
    """A share in percent, in a format or with significant digits."""
    return lambda f: general(100 * f.shown(quantity), digits) if digits else format(100 * f.shown(quantity), form)


def name(key: str) -> Value:
    """A name that the finding carries."""
    return lambda f: f.names[key]


def first_place(finding: Finding) -> str:
    """Where the finding is, or its first place of several."""
    return point(finding.places[0])


def two_digits(finding: Finding, quantity: Quantity) -> str:
    """A quantity of a finding in its trade unit."""
    return figure(finding.shown(quantity), DIGITS)
