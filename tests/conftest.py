"""Shared fixtures, and the import paths of every test: the repository root and this folder."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parent):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

if TYPE_CHECKING:
    from addon.engine.mesh.surface import Surface

    from tracers import EmbreeTracer


@pytest.fixture(scope="session")
def trace() -> Callable[[Surface], EmbreeTracer]:
    """A TracerMaker of embree, in place of the host's ray caster."""
    from tracers import EmbreeTracer

    return EmbreeTracer
