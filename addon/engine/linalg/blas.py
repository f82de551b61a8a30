"""Linear algebra in one thread, for code that makes many small products.

OpenBLAS splits even small products over all processors and waits for the slowest: beside another busy program that
made products twenty times slower, and on an idle machine it gained nothing. Between products its idle threads keep
polling: a quarter of a whole plan's processor time.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TypeVar

import numpy as np

from ..progress import Progress

T = TypeVar("T")

# where numpy's wheels keep their library: Linux and Windows beside the package, macOS inside it
_FOLDERS = ("../numpy.libs", ".libs", ".dylibs")
_NAMES = ("scipy_openblas_{}64_", "scipy_openblas_{}", "openblas_{}64_", "openblas_{}")


@contextmanager
def one_thread() -> Iterator[None]:
    """Run the body with OpenBLAS in one thread, if numpy has an OpenBLAS."""
    control = thread_control()
    if control is None:
        yield
        return
    get_threads, set_threads = control
    before = get_threads()
    set_threads(1)
    try:
        yield
    finally:
        set_threads(before)


def in_one_thread(steps: Progress[T]) -> Progress[T]:
    """The same steps, each with OpenBLAS in one thread; between them, in the caller's hands, as it was."""
    while True:
        with one_thread():
            try:
                step = next(steps)
            except StopIteration as end:
                return end.value
        yield step


@cache
def thread_control() -> tuple[Callable[[], int], Callable[[int], None]] | None:
    """The functions that read and set the number of threads of numpy's own OpenBLAS; None without one."""
    home = Path(np.__file__).parent
    for file in (f for folder in _FOLDERS for f in sorted((home / folder).glob("*openblas*"))):
        try:
            library = ctypes.CDLL(str(file))
        except OSError:
            continue
        for name in _NAMES:
            get_threads = getattr(library, name.format("get_num_threads"), None)
            set_threads = getattr(library, name.format("set_num_threads"), None)
            if get_threads and set_threads:
                return get_threads, set_threads
    return None
