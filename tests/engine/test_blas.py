"""The number of BLAS threads while small products are made."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from addon.engine.linalg import blas


def test_one_thread_inside_and_as_before_outside() -> None:
    """numpy's wheels bring OpenBLAS: inside it has one thread, afterwards as many as before, even on an error."""
    control = blas.thread_control()
    assert control is not None
    count, _ = control
    before = count()
    with pytest.raises(RuntimeError), blas.one_thread():
        assert count() == 1
        raise RuntimeError
    assert count() == before


def test_without_openblas_nothing_is_set(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A numpy that brings no OpenBLAS, as in an empty folder: the body runs, its error passes, no thread is taken away."""
    count, put = blas.thread_control() or pytest.fail("this numpy should bring OpenBLAS")
    before = count()
    put(2)
    monkeypatch.setattr(np, "__file__", str(tmp_path / "__init__.py"))
    blas.thread_control.cache_clear()
    try:
        with pytest.raises(RuntimeError), blas.one_thread():
            assert count() == 2
            raise RuntimeError
    finally:
        monkeypatch.undo()
        blas.thread_control.cache_clear()
        put(before)
