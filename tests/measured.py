"""Notes how far each comparison of a test was off: `pytest -p measured --measured FILE` writes what tools/verification.py reads.

Comparisons are those with pytest.approx and numpy's assert_allclose. Off is |found - expected| over the largest |expected|
of the comparison; where nothing but zero is expected, it is the difference itself, in the unit of the test.
"""

from __future__ import annotations

import json
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np
import pytest

KINDS = {type(pytest.approx(value)) for value in (1.0, [1.0], np.ones(1), {"a": 1.0})}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--measured", metavar="FILE", help="where to note how far comparisons were off")


def off(found: Any, expected: Any) -> tuple[str, float] | None:
    """("relative", the largest difference over the largest expected value), or ("absolute", the difference) where that is
    zero; None for what is no number."""
    try:
        if isinstance(expected, dict):
            found, expected = [found[key] for key in expected], list(expected.values())
        a, b = np.asarray(found, dtype=float), np.asarray(expected, dtype=float)
        difference = np.abs(a - b)
    except (TypeError, ValueError, KeyError):
        return None
    finite = np.isfinite(difference)
    if not finite.any():
        return None
    largest = float(np.abs(b[np.isfinite(b)]).max(initial=0.0))
    worst = float(difference[finite].max())
    return ("relative", worst / largest) if largest > 0 else ("absolute", worst)


class Notes:
    """Test function -> how far its comparisons were off."""

    def __init__(self, path: Path) -> None:
        self.path, self.test = path, ""
        self.found: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))

    def note(self, found: Any, expected: Any) -> None:
        value = off(found, expected)
        if self.test and value is not None:
            self.found[self.test][value[0]].append(value[1])

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_call(self, item: pytest.Item) -> None:
        self.test = f"{Path(item.path).stem}::{getattr(item, 'originalname', item.name)}"

    def pytest_runtest_teardown(self) -> None:
        self.test = ""

    def pytest_sessionfinish(self) -> None:
        worst = {test: {kind: max(values) for kind, values in kinds.items()} for test, kinds in self.found.items()}
        self.path.write_text(json.dumps(worst, indent=1), encoding="utf-8")


def pytest_configure(config: pytest.Config) -> None:
    path = config.getoption("--measured")
    if not path:
        return
    notes = Notes(Path(path))
    config.pluginmanager.register(notes)
    inside = [False]  # a sequence compares its items by approx again: only the whole counts

    def watched(kind: type) -> None:
        equal = kind.__eq__

        def compare(self: Any, actual: Any) -> bool:
            if inside[0]:
                return equal(self, actual)
            notes.note(actual, self.expected)
            inside[0] = True
            try:
                return equal(self, actual)
            finally:
                inside[0] = False

        kind.__eq__ = compare  # type: ignore[method-assign]

    for kind in KINDS:
        watched(kind)
    close = np.testing.assert_allclose

    def allclose(actual: Any, desired: Any, *args: Any, **kwargs: Any) -> None:
        notes.note(actual, desired)
        close(actual, desired, *args, **kwargs)

    np.testing.assert_allclose = allclose
