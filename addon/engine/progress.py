"""Long work as a generator of steps, so that one code serves a script and a live window."""

from __future__ import annotations

from collections.abc import Generator
from typing import NamedTuple, TypeAlias, TypeVar

T = TypeVar("T")


class Step(NamedTuple):
    """Progress of the work (0..1) and its description for the user."""

    fraction: float
    sentence: str


Progress: TypeAlias = Generator[Step, None, T]


def run_to_end(steps: Progress[T]) -> T:
    """Run steps to their end without showing them, and return their result."""
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value


def subrange(low: float, high: float, steps: Progress[T]) -> Progress[T]:
    """The same steps, their fractions squeezed into low..high of a longer work."""
    while True:
        try:
            fraction, sentence = next(steps)
        except StopIteration as end:
            return end.value
        yield Step(low + (high - low) * fraction, sentence)
