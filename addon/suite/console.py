"""Standard error of the command line: a line for each warning and fault, and the progress of the work."""

from __future__ import annotations

import os
import shutil
import sys
import time
from typing import TypeVar

from ..engine.errors import InputError, one_line
from ..engine.filled import filled
from ..engine.progress import Progress
from .figures import work_text

T = TypeVar("T")

NAME = "platewright"
PATIENCE_S = 1.0  # s; shorter work shows no progress
REDRAW_S = 0.2  # between two states of the line on a terminal
MAX_PROGRESS_LINES = 10  # of a whole call, where they stay


class Gauge:
    """The progress of a call: on a terminal one line that is overwritten, elsewhere a few lines that stay."""

    def __init__(self, jobs: int) -> None:
        self._jobs, self._done, self._lines = jobs, 0, 0
        self._start = self._drawn = time.monotonic()

    def next(self) -> None:
        """Count one more job as done."""
        self._done += 1

    def run(self, steps: Progress[T], name: str) -> T:
        """Run a job's steps to the end and show their progress."""
        try:
            while True:
                fraction, sentence = next(steps)
                self._tell(name, fraction, sentence)
        except StopIteration as end:
            return end.value
        finally:
            clear()

    def _tell(self, name: str, fraction: float, sentence: str) -> None:
        now = time.monotonic()
        if now - self._start < PATIENCE_S:
            return
        several = f" ({self._done + 1} of {self._jobs})" if self._jobs > 1 else ""
        doing = work_text(sentence)
        line = f"{name}{several}: {100 * fraction:.0f} %, {doing[:1].lower()}{doing[1:]}"
        if sys.stderr.isatty():
            if now - self._drawn >= REDRAW_S:
                self._drawn = now
                redraw(line)
        elif self._lines < MAX_PROGRESS_LINES * (self._done + fraction) / self._jobs:
            self._lines = int(MAX_PROGRESS_LINES * (self._done + fraction) / self._jobs) + 1
            say(line)


def say(line: str) -> None:
    """Print one line, whatever the text contains."""
    clear()
    _write(f"{NAME}: {one_line(line)}\n")


def tell(fault: InputError) -> int:
    """Print what is wrong. Returns the exit status."""
    say(f"error: {fault}")
    return 2


_under_way = False  # whether a line on the terminal is to be written over


def clear() -> None:
    """Clear the progress line."""
    global _under_way
    if _under_way:
        _under_way = False
        _write("\r\x1b[K")


def redraw(line: str) -> None:
    """Overwrite the progress line, cut to the terminal's width."""
    global _under_way
    _under_way = True
    width = shutil.get_terminal_size().columns - 1
    _write(f"\r\x1b[K{f'{NAME}: {one_line(line)}'[:width]}")


def _write(text: str) -> None:
    try:
        sys.stderr.write(text)
        sys.stderr.flush()
    except OSError:
        pass  # standard error is closed


def printed(text: str) -> None:
    """Write to standard output. Raises InputError if the reader has closed it."""
    try:
        sys.stdout.flush()
        data = text.encode("utf-8", "backslashreplace")
        stream = getattr(sys.stdout, "buffer", None)
        if stream is None:
            sys.stdout.write(data.decode())
        else:
            stream.write(data)
        sys.stdout.flush()
    except OSError as error:
        _drop()
        raise InputError(filled("standard output: {reason}; nothing was written", reason=error.strerror)) from None


def _drop() -> None:
    """Redirect standard output to the null device; otherwise Python flushes it at exit and prints a traceback."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
