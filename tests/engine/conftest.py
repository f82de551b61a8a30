"""Fixtures of the engine's tests."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest


@pytest.fixture(autouse=True, scope="module")
def _no_floating_point_error_goes_unseen() -> Iterator[None]:
    """An overflow, a division by zero or an invalid value in the engine fails the test; underflow to zero is right."""
    with np.errstate(all="raise", under="ignore"):
        yield


@pytest.fixture
def coarse_coat(monkeypatch: pytest.MonkeyPatch) -> None:
    """Coarse copies of the coat with a third of the patches, for what does not hang on their number: a third of the time."""
    from addon.engine.coat import contact, wired

    monkeypatch.setattr(contact, "PATCHES", 500)
    monkeypatch.setattr(wired, "PATCHES", 300)
