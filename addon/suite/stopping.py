"""Interrupting a call: Ctrl-C, a closed terminal and SIGTERM all raise KeyboardInterrupt, once.

Blender's own handlers, and those that Python starts with, would leave files behind or print a traceback.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

SIGNALS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]

_holds = 0  # blocks under way that must come to their end
_waiting = False  # whether a signal came meanwhile


@contextmanager
def heeded() -> Iterator[None]:
    """Within it, those signals raise KeyboardInterrupt; the previous handlers are restored afterwards."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Python delivers signals to its main thread only
        return
    before = [(signal_number, signal.getsignal(signal_number)) for signal_number in SIGNALS]
    for signal_number, handler in before:
        if handler is not signal.SIG_IGN:  # as under nohup
            signal.signal(signal_number, _stop)
    try:
        yield
    finally:
        for signal_number, handler in before:
            signal.signal(signal_number, signal.SIG_DFL if handler is None else handler)


@contextmanager
def held() -> Iterator[None]:
    """Within it a signal waits until the block has ended: between the first and the last file of a job."""
    global _holds, _waiting
    _holds += 1
    try:
        yield
    finally:
        _holds -= 1
        if _waiting and not _holds:
            _waiting = False
            raise KeyboardInterrupt


def _stop(*_: Any) -> None:
    global _waiting
    if _holds:
        _waiting = True
    else:
        raise KeyboardInterrupt
