"""Blender talks on standard output of its own accord; what a script reads from us must be ours alone."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout


@contextmanager
def quiet() -> Iterator[None]:
    """Keep what Blender prints off the terminal: what comes from C, and what comes through Python."""
    _flush()
    originals = [os.dup(stream) for stream in (1, 2)]
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        try:
            for stream in (1, 2):
                os.dup2(nowhere.fileno(), stream)
            yield
        finally:
            _flush()
            for stream, before in zip((1, 2), originals, strict=True):
                os.dup2(before, stream)
                os.close(before)


def _flush() -> None:
    """Python's streams and those of C, which Blender prints to."""
    sys.stdout.flush()
    sys.stderr.flush()
    ctypes.CDLL("ucrtbase" if os.name == "nt" else None).fflush(None)
