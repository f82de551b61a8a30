"""The number of BLAS threads while small products are made."""

from __future__ import annotations

import pytest

from addon.engine.linalg import blas


def test_one_thread_inside_and_as_before_outside() -> None:
    """numpy's wheels bring OpenBLAS: inside it has one thread, afterwards as many as before, even on an error."""
    control = blas._control()
    assert control is not None
    count, _ = control
    before = count()
    with pytest.raises(RuntimeError), blas.one_thread():
        assert count() == 1
        raise RuntimeError
    assert count() == before


def test_without_openblas_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(blas, "_control", lambda: None)
    with blas.one_thread():
        pass
