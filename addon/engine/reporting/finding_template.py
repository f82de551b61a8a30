"""What the sentences of findings share: the form of a template, and a quantity with two digits."""

from __future__ import annotations

from collections.abc import Callable

from ..findings import Finding, Quantity
from .plan_text import figure

DIGITS = 2  # of a quantity in a finding

Template = Callable[[Finding], str]


def two_digits(finding: Finding, quantity: Quantity) -> str:
    """A quantity of a finding in its trade unit."""
    return figure(finding.shown(quantity), DIGITS)
