"""Input checks: every file that a job names is checked here before it is read."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from .errors import InputError
from .filled import filled

MAX_TEXT_BYTES = 4_000_000  # bytes of a job file or a table: a larger file is something else by mistake
KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISSOCK, "a socket"),
)


def size(path: Path, max_bytes: int, remedy: str) -> int:
    """Bytes of a file that can be read. Raises InputError, without reading, where it is not there, no regular file, or
    larger than max_bytes, which `remedy` helps against."""
    check_name(path)
    try:
        status = os.stat(path)
        if stat.S_ISREG(status.st_mode):
            with open(path, "rb"):
                pass
    except (OSError, ValueError) as error:
        raise InputError(
            filled("{path}: {reason}; check the name and your rights to it", path=path, reason=reason(error))
        ) from None
    if not stat.S_ISREG(status.st_mode):
        raise InputError(
            filled("{path}: this is {kind}, no file; choose another", path=path, kind=kind(status.st_mode))
        )
    if status.st_size > max_bytes:
        raise InputError(
            filled(
                "{path}: {size} MB are more than {most}; {remedy}",
                path=path,
                size=f"{status.st_size / 1e6:.0f}",
                most=f"{max_bytes / 1e6:.0f}",
                remedy=remedy,
            )
        )
    return status.st_size


def read(path: Path) -> bytes:
    """The content of a job file or a table. Raises InputError as `size` does."""
    size(path, MAX_TEXT_BYTES, "is it a job file or a table?")
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(
            filled("{path}: {reason}; check the name and your rights to it", path=path, reason=reason(error))
        ) from None


def check_name(path: Path) -> None:
    """Raises InputError where a name is no text, which neither Blender nor a report could hold."""
    try:
        os.fspath(path).encode()
    except UnicodeEncodeError:
        raise InputError(filled("{path}: its name is not UTF-8 text; rename it", path=path)) from None


def kind(mode: int) -> str:
    """The kind of something that is not a regular file. mode : as in os.stat"""
    return next((words for is_kind, words in KINDS if is_kind(mode)), "something special")


def reason(error: Exception) -> str:
    """The system's reason for a file error, in a few words."""
    return getattr(error, "strerror", None) or str(error)
