"""Output files: checked before anything is computed, written to a staging folder beside their places, moved together.

That folder, `.platewright-...`, is locked while its run is alive. The next run that writes there cleans up after a
killed run: complete sets of outputs are moved to their places, others are deleted.
"""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
import time
from collections.abc import Collection, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path

from ..engine import inputs
from ..engine.errors import InputError
from ..engine.filled import filled
from .console import printed
from .stopping import held

try:
    import fcntl
except ImportError:  # on Windows
    fcntl = None  # type: ignore[assignment]  # a module elsewhere

ENDINGS = {
    "report": ".json",
    "plan": ".txt",
    "arrays": ".npz",
    "blend": ".blend",
    "picture": ".png",
    "cut": ".png",
    "turntable": ".png",
    "inset": ".stl",
    "vented": ".stl",
    "hanger": ".stl",
    "plugs": ".stl",
    "masks": ".stl",
    "rack": ".stl",
    "anode-holder": ".stl",
    "shield": ".stl",
    "thief": ".stl",
    "workshop": ".html",
    "sheet": ".pdf .svg .png",  # any of these
    "still": ".png",
}
TEXTS = ("report", "plan")  # may have any ending, and may go to standard output
STANDARD = "-"  # in place of a file name: standard output
PREFIX = ".platewright-"  # of the folder that outputs are made in
READY = "ready"  # the folder in it that holds them when all are complete, by their names
TAIL_BYTES = 64  # of the end of a file, where it shows whether it is whole
# How a file begins and what is near its end if all of it is there. PNG: an empty last chunk (its specification,
# 11.2.5); .blend: packed, the foot of the seek table (zstd seekable format 0.1.0), else the name of its last block
WHOLE = {
    ".pdf": [(b"%PDF", b"%%EOF")],
    ".png": [(b"\x89PNG", b"IEND\xaeB`\x82")],
    ".blend": [(b"\x28\xb5\x2f\xfd", b"\xb1\xea\x92\x8f"), (b"BLEN", b"ENDB")],
}
MAX_AGE_S = 86400.0  # s, age from which a folder that cannot be locked counts as left over


def pattern(option: str, value: str) -> str:
    """The file name that an option was given; in a folder, a name after job and option: `FOLDER/{name}-report.json`."""
    if not os.path.isdir(value):
        return value
    return os.path.join(value, f"{{name}}-{option}{ENDINGS[option].split()[0]}")


class Claims:
    """Which files a call reads and writes, so that no job of it spoils what another reads or has written."""

    def __init__(self, read: Mapping[Path, Collection[Path]]) -> None:
        """read : job -> the files that it reads"""
        self._read: dict[object, Path] = {}
        self._written: dict[object, Path] = {}
        for job, paths in read.items():
            for path in paths:
                self._read |= dict.fromkeys(_identity(path), job)

    def check(self, job: Path, targets: Mapping[str, Path]) -> None:
        """Claim the outputs of a job. Raises InputError, naming option and file, where one could not be written in the
        end, or must not be."""
        own: dict[object, str] = {}
        for option, path in targets.items():
            where = f"--{option} {path}"
            if option not in TEXTS and path.suffix.lower() not in ENDINGS[option].split():
                raise InputError(
                    filled(
                        "{path}: the name must end in {known}", path=where, known=" or ".join(ENDINGS[option].split())
                    )
                )
            try:
                inputs.check_name(path)
            except InputError as fault:
                raise InputError(filled("--{label} {fault}", label=option, fault=fault)) from None
            same = _identity(path)
            reader = next((self._read[identity] for identity in same if identity in self._read), None)
            writer = next((self._written[identity] for identity in same if identity in self._written), None)
            if reader is not None:
                whom = "this job" if reader == job else str(reader)
                raise InputError(
                    filled("{path}: this file is read by {whom}; choose another name", path=where, whom=whom)
                )
            if writer is not None:
                raise InputError(
                    filled("{path}: {name} writes there as well; choose another name", path=where, name=writer)
                )
            if any(identity in own for identity in same):
                raise InputError(
                    filled(
                        "{path}: this file is --{label} already; choose another name", path=where, label=own[same[-1]]
                    )
                )
            own |= dict.fromkeys(same, option)
            if str(path) != STANDARD:
                _writable(path, where)
        self._written |= dict.fromkeys(own, job)


def _identity(path: Path) -> list[object]:
    """The identity of a file under any name: its inode, and its path without links."""
    name = os.path.normcase(os.path.realpath(path))
    try:
        status = os.stat(path)
    except (OSError, ValueError):
        return [name]
    return [(status.st_dev, status.st_ino), name]


def _writable(path: Path, where: str) -> None:
    """Raises InputError where no file can be put there."""
    remedy = "choose a folder that is there and that you may write to"
    try:
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            raise InputError(filled("{path}: this is a folder; name a file in it", path=where))
        if not stat.S_ISREG(mode):
            raise InputError(
                filled(
                    "{path}: this is {kind}, no file; write - for standard output", path=where, kind=inputs.kind(mode)
                )
            )
        if not os.access(path, os.W_OK):
            raise InputError(filled("{path}: the file is write-protected; choose another name", path=where))
    except FileNotFoundError:
        pass
    except (OSError, ValueError) as error:
        raise _cannot_write(where, error, remedy) from None
    try:
        with _stage(Path(os.path.realpath(path)).parent):
            pass
    except OSError as error:
        raise _cannot_write(where, error, remedy) from None


def _cannot_write(where: str, error: Exception, remedy: str) -> InputError:
    return InputError(
        filled(
            "{path}: cannot write there ({reason}); {remedy}", path=where, reason=inputs.reason(error), remedy=remedy
        )
    )


@contextmanager
def together(targets: Mapping[str, Path]) -> Iterator[dict[str, Path]]:
    """Files to write to, one an option. All go to their places when the block ends well, else none does.

    The report is moved last, so that a process waiting for it finds all others. Raises InputError where the disk does
    not take them.
    """
    places = {option: Path(os.path.realpath(path)) for option, path in targets.items() if str(path) != STANDARD}
    places = dict(sorted(places.items(), key=lambda item: item[0] == "report"))
    try:
        with ExitStack() as stages:
            stage = {folder: stages.enter_context(_stage(folder)) for folder in {p.parent for p in places.values()}}
            staged = {option: stage[place.parent] / f"{option}{place.suffix}" for option, place in places.items()}
            for option in targets.keys() - places.keys():
                folder = stages.enter_context(tempfile.TemporaryDirectory(prefix=PREFIX.strip(".")))
                staged[option] = Path(folder) / option
            yield staged
            for option, path in staged.items():
                _check_written(path, f"--{option} {targets[option]}")
            for option in targets.keys() - places.keys():
                printed(staged[option].read_text(encoding="utf-8"))
            with held():
                _place({staged[option]: place for option, place in places.items()})
    except OSError as error:
        where = ", ".join(f"--{option} {path}" for option, path in targets.items())
        raise InputError(
            filled("{path}: cannot be written: {reason}; is the disk full?", path=where, reason=inputs.reason(error))
        ) from None


@contextmanager
def _stage(folder: Path) -> Iterator[Path]:
    """A staging folder in this one, removed at the end; leftovers of dead runs are cleaned up first."""
    sweep(folder)
    path = lock = None
    try:
        with held():
            path = Path(tempfile.mkdtemp(prefix=PREFIX, dir=folder))
            lock = _locked(path)
        yield path
    finally:
        with held():
            if path is not None:
                shutil.rmtree(path, ignore_errors=True)
            if lock is not None:
                os.close(lock)


def sweep(folder: Path) -> None:
    """Clean up what killed runs have left in a folder."""
    for path in folder.glob(f"{PREFIX}*"):
        lock = None
        try:
            status = path.lstat()
            if not stat.S_ISDIR(status.st_mode) or (fcntl is not None and status.st_uid != os.getuid()):
                continue
            lock = _locked(path)
            if lock is not None or time.time() - status.st_mtime > MAX_AGE_S:
                for ready in path.glob(f"{READY}/*"):
                    os.replace(ready, folder / ready.name)
                shutil.rmtree(path, ignore_errors=True)
        except OSError:
            continue  # its run is alive, or the folder cannot be changed
        finally:
            if lock is not None:
                os.close(lock)


def _locked(path: Path) -> int | None:
    """A lock on a folder, which ends with its process; None where the system has none. Raises BlockingIOError where
    another process has it."""
    if fcntl is None:
        return None
    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        raise
    except OSError:
        os.close(handle)
        return None
    return handle


def _check_written(path: Path, where: str) -> None:
    """Wait until a file is on the disk. Raises InputError where it is not whole, of which Blender says nothing."""
    with open(path, "rb") as file:
        os.fsync(file.fileno())
        head = file.read(4)
        file.seek(max(0, os.path.getsize(path) - TAIL_BYTES))
        tail = file.read()
    ends = WHOLE.get(path.suffix.lower())
    if not head or (ends is not None and not any(head == begin and end in tail for begin, end in ends)):
        raise InputError(filled("{path}: not all of it could be written; is the disk full?", path=where))


def _place(moves: Mapping[Path, Path]) -> None:
    """Move complete files to their places. Where one cannot go, the others go back, and what was there before stays."""
    for stage in {path.parent for path in moves}:
        (stage / "filled").mkdir()
    for path, place in moves.items():
        os.replace(path, path.parent / "filled" / place.name)
    for stage in {path.parent for path in moves}:
        os.replace(stage / "filled", stage / READY)
    before: dict[Path, Path | None] = {}
    try:
        for path, place in moves.items():
            old = path.parent / f"old-{path.name}"
            before[place] = _copied(place, old) if place.exists() else None
            os.replace(path.parent / READY / place.name, place)
    except OSError:
        for place, was in before.items():
            if was is not None:
                os.replace(was, place)
            else:
                place.unlink(missing_ok=True)
        raise


def _copied(path: Path, copy: Path) -> Path:
    """A hard link to the file, or a copy where the disk has none."""
    try:
        os.link(path, copy)
    except OSError:
        shutil.copy2(path, copy)
    return copy
