"""Shared fixtures, and the import paths of every test: the repository root and this folder."""

from __future__ import annotations

import atexit
import contextlib
import ctypes
import gc
import importlib
import json
import os
import sys
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

# Each file is compiled once, not once a process, whatever the shell says: a third of the time to collect, and of each Blender.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parent):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

if TYPE_CHECKING:
    from addon.engine.mesh.surface import Surface

    from tracers import EmbreeTracer


sessions: list[pytest.Session] = []


def pytest_sessionstart(session: pytest.Session) -> None:
    sessions.append(session)


@atexit.register  # first of all, so that it is called last
def end_at_once() -> None:
    """Blender's module ends what it began when nothing refers to it any more. A test leaves references, and then the
    process waits in a destructor of Blender's for a thread that nobody has stopped: for ever, or, as a worker, ten seconds."""
    if sessions and "bpy" in sys.modules:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(int(sessions[-1].exitstatus))


MB = 2**20
MALLOC_OPTIONS = {-1: 512 * MB, -2: 64 * MB, -3: 32 * MB}  # mallopt(3): M_TRIM_THRESHOLD, M_TOP_PAD, M_MMAP_THRESHOLD

TOGETHER = {  # files that share what is expensive, by the name of what they share: one worker takes them all
    "test_golden": "demo",
    "test_inside_shell": "demo",
    "test_sheet": "demo",
    "test_still": "demo",
}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What shares most goes first, then what takes long, so that what two workers end with is short."""
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: (item.path.stem not in TOGETHER, item.path not in slow))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """A file goes to one worker, with those it shares with, whatever `--dist` says: the groups of xdist 3.8 are names that it
    adds to a test's own, and pytest 9.2 lets nobody add to that, so that each test went to any worker."""
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            stem = Path(nodeid.split("::", 1)[0]).stem
            return TOGETHER.get(stem, stem)

    return ByFile(config, log)


def pytest_collection_finish() -> None:
    """What was imported and collected stays: nobody need look through it for garbage again and again, nor a hundred times a
    second through what a test makes. The C library keeps what a solution frees for the next one, where it can be told so."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    if sys.platform == "linux":
        with contextlib.suppress(AttributeError):  # another C library than GNU's
            for option, size in MALLOC_OPTIONS.items():
                ctypes.CDLL(None).mallopt(option, size)


@pytest.fixture(scope="session")
def trace() -> Callable[[Surface], EmbreeTracer]:
    """A TracerMaker of embree, in place of the host's ray caster."""
    from tracers import EmbreeTracer

    return EmbreeTracer


@pytest.fixture(scope="module")
def coarse_coat() -> Iterator[None]:
    """The coat of a third of the triangles, and its coarse copies of a third of the patches, in a module that does not hang on
    their number: a third of the time."""
    from addon.engine.coat import contact, sheet, wired

    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sheet.build.__kwdefaults__, "triangles", 6000)
        patch.setattr(contact, "RANKING_PATCHES", 500)
        patch.setattr(wired, "SOLUTION_PATCHES", 300)
        yield


@pytest.fixture(scope="module")
def coarse_field() -> Iterator[dict[str, Any]]:
    """The finer level of a field is the coarse one again, panels, operators and all, and a cut has a third of the points, in a
    module that does not hang on what a field is worth: half the time."""
    from addon.engine.field import lattice

    solve = importlib.import_module("addon.engine.field.solve")
    lay, cell = solve.lay, solve._cell
    laid: list[Any] = []  # of the last tank: its arrangement, the panels, their cell

    def once(surface: Any, arrangement: Any, *rest: Any, **more: Any) -> Generator[Any, None, Any]:
        if not (laid and laid[0] is arrangement):
            laid[:] = arrangement, (yield from lay(surface, arrangement, *rest, **more))
        return laid[1]

    def made(panels: Any, job: Any) -> Generator[Any, None, Any]:
        if len(laid) < 3 or laid[1] is not panels:
            laid[2:] = [(yield from cell(panels, job))]
        return laid[2]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(solve, "lay", once)
        patch.setattr(solve, "_cell", made)
        patch.setattr(lattice, "FINE_CELLS", 20)
        patch.setattr(lattice, "COARSE_CELLS", 50)
        yield {"lay": lay, "_cell": cell}


@pytest.fixture
def both_levels(coarse_field: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """A field of two levels all the same, in one test of such a module."""
    for name, own in coarse_field.items():
        monkeypatch.setattr(importlib.import_module("addon.engine.field.solve"), name, own)


@pytest.fixture(scope="session")
def report_schema() -> dict[str, Any]:
    """The published JSON Schema of the report."""
    return json.loads((HERE.parent / "docs" / "report.schema.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="session", autouse=True)
def _every_report_keeps_its_schema(report_schema: dict[str, Any]) -> Iterator[None]:
    """Whatever report a test builds in this process is validated before the test sees it."""
    from jsonschema import Draft202012Validator

    from addon.engine.reporting import report

    validator, build = Draft202012Validator(report_schema), report.build

    def validated(*args: Any, **kwargs: Any) -> dict[str, Any]:
        table = build(*args, **kwargs)
        faults = [f"{fault.json_path}: {fault.message}" for fault in validator.iter_errors(table)]
        assert not faults, faults[:10]
        return table

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(report, "build", validated)
        yield
