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
