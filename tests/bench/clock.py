"""What every benchmark needs: the import paths of the repository and of the tests, and a clock."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

sys.path[:0] = [str(Path(__file__).parents[k]) for k in (1, 2)]

T = TypeVar("T")


def timed(run: Callable[[], T], repeat: int = 3) -> tuple[float, T]:
    """Shortest of some runs, in seconds, and the last result."""
    best = float("inf")
    for _ in range(repeat):
        start = time.perf_counter()
        result = run()
        best = min(best, time.perf_counter() - start)
    return best, result
