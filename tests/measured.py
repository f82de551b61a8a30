"""Notes what each test compared: `pytest -p measured --measured FILE` writes what tools/verification.py reads.

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

MOST_VALUES = 12  # of one comparison that are noted one by one
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
    """Test function -> what it compared."""

    def __init__(self, path: Path) -> None:
        self.path, self.test = path, ""
        self.found: dict[str, list[dict[str, Any]]] = defaultdict(list)

    def note(self, found: Any, expected: Any, rel: float | None, close: float | None) -> None:
        """rel, close : the tolerance, relative and in the unit of the test"""
        value = off(found, expected)
        if not self.test or value is None:
            return
        kind, worst = value
        if np.size(plain(expected)) == 1 and np.size(plain(found)) > 1:  # one value for all
            expected = np.full(np.shape(found), float(np.ravel(expected)[0]))
        some = {kind: worst, "rel": rel, "abs": close, "values": int(np.size(plain(expected)))}
        if some["values"] <= MOST_VALUES:
            some |= {"expected": listed(expected), "found": listed(found, expected)}
        self.found[self.test].append(some)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_call(self, item: pytest.Item) -> None:
        self.test = f"{Path(item.path).stem}::{getattr(item, 'originalname', item.name)}"

    def pytest_runtest_teardown(self) -> None:
        self.test = ""

    def pytest_sessionfinish(self) -> None:
        self.path.write_text(json.dumps(self.found, indent=1), encoding="utf-8")


def plain(value: Any) -> Any:
    return list(value.values()) if isinstance(value, dict) else value


def listed(value: Any, like: Any = None) -> list[float]:
    """Flat, in the order of `like` where both are tables."""
    if isinstance(value, dict) and isinstance(like, dict):
        value = [value[key] for key in like]
    return [float(one) for one in np.ravel(np.asarray(plain(value), dtype=float))]


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
            default = 1e-6 if self.rel is None and self.abs is None else None
            notes.note(actual, self.expected, self.rel if default is None else default, self.abs)
            inside[0] = True
            try:
                return equal(self, actual)
            finally:
                inside[0] = False

        kind.__eq__ = compare  # type: ignore[method-assign]

    for kind in KINDS:
        watched(kind)
    close = np.testing.assert_allclose

    def allclose(actual: Any, desired: Any, rtol: float = 1e-7, atol: float = 0.0, **kwargs: Any) -> None:
        notes.note(actual, desired, rtol or None, atol or None)
        close(actual, desired, rtol, atol, **kwargs)

    np.testing.assert_allclose = allclose
