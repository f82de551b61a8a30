"""Every analysis is kept under all that it reads: what it reads is watched while it runs."""

from __future__ import annotations

import sys
from contextlib import nullcontext, suppress
from dataclasses import is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from addon.engine.field import layouts, rack, room
from addon.engine.helpers import shield, thief, trial
from addon.engine.mesh import inspection
from addon.engine import study as studies
from addon.engine.errors import InputError
from addon.engine.settings.target import PURPOSES
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end
from models import cup, moved, part


pytestmark = pytest.mark.slow


MEETS = {"helpers_field": ("hanger",)}  # a rack bears the parts: with a hanger beside it, it refuses


class Watched:
    """A section of a job that notes which of its fields are asked for."""

    def __init__(self, section: Any, path: str, seen: set[str], changed: dict[str, Any] | None = None) -> None:
        self._section, self._path, self._seen, self._changed = section, path, seen, changed or {}

    def but(self, **changes: Any) -> Watched:
        """What `dataclasses.replace` makes of it: fields that another result decides are not read from the job."""
        return Watched(self._section, self._path, self._seen, {**self._changed, **changes})

    def __getattr__(self, name: str) -> Any:
        if name in self._changed:
            return self._changed[name]
        path = f"{self._path}.{name}".lstrip(".")
        derived = getattr(type(self._section), name, None)
        if isinstance(derived, property):
            return derived.fget(self)
        value = getattr(self._section, name)
        if is_dataclass(value):
            return Watched(value, path, self._seen)
        self._seen.add(path)
        return value


@pytest.fixture(scope="module")
def monkeypatch_module():
    with pytest.MonkeyPatch.context() as patch:
        yield patch


def _replaced(one: Any, **changes: Any) -> Any:
    return one.but(**changes) if isinstance(one, Watched) else replace(one, **changes)


@pytest.fixture(scope="module")
def read(trace, coarse_coat, coarse_field, monkeypatch_module) -> dict[str, set[str]]:
    """Analysis -> the fields of the job that it asked for, on a bell that traps gas; what is only tried, with few panels."""
    job = read_job({"effort": {"rays": 16, "directions": 50, "panels": 500}, "rack": {"suggest": 2}})
    monkeypatch_module.setattr(rack, "TRIAL_PIECES", 600)
    monkeypatch_module.setattr(rack, "TRIED_GAPS_OVER_SIZE", (1.0,))
    monkeypatch_module.setattr(room, "TRIED_DISTANCES", (0.4,))
    monkeypatch_module.setattr(layouts, "DENSITY_FACTORS", (0.5,))
    monkeypatch_module.setattr(shield, "WINDOWS", (0.7,))
    monkeypatch_module.setattr(shield, "PLACES", shield.PLACES[:1])
    monkeypatch_module.setattr(thief, "AWAY", thief.AWAY[:1])
    monkeypatch_module.setattr(
        trial, "ALIKE", -1.0
    )  # a helper that helps nothing is made as well: what reads it is to run
    points, triangles = moved(cup(0.010, 0.020, 0.001, 24, rows=3), turn=np.diag([1, -1, -1]))
    at = points[triangles]
    end = at[:, :, 2] > points[:, 2].max() - 0.34 * np.ptp(points[:, 2])
    outside = (np.linalg.norm(at[:, :, :2], axis=2) > 0.0099) | (at[:, :, 2] > points[:, 2].max() - 1e-6)
    bell = part((points, triangles), masked=(end & outside).all(axis=1))  # its closed end takes a cap
    seen: set[str] = set()
    for name, module in list(sys.modules.items()):
        if name.startswith("addon.engine") and getattr(module, "replace", None) is replace:
            monkeypatch_module.setattr(module, "replace", _replaced)
    study = studies.Study(bell, Watched(job, "", seen), run_to_end(inspection.inspect(bell)))  # type: ignore[arg-type]
    tracer, found = trace(study.surface), {}
    for analysis in studies.ANALYSES:
        seen.clear()
        for left_out in dict.fromkeys((analysis.optional_inputs, ())):  # what these spare it, it reads without them
            with suppress(InputError) if left_out else nullcontext():  # up to the line in which it refuses without them
                result = analysis.run(
                    replace(study, results=study.results.without(*left_out, *MEETS.get(analysis.name, ()))), tracer
                )
                result = run_to_end(result) if hasattr(result, "send") else result
        study = replace(study, results=study.results.added(analysis.name, result))
        if analysis.name == "purpose":
            _every_purpose(analysis, study, tracer)
        found[analysis.name] = set(seen)
    return found


def _every_purpose(analysis: studies.Analysis, study: studies.Study, tracer: Any) -> None:
    """What it reads for each purpose, also where that cannot be met."""
    for kind in PURPOSES:
        job: Any = study.job
        with suppress(InputError):
            analysis.run(replace(study, job=job.but(target=job.target.but(purpose=kind))), tracer)


def sections_of(analysis: studies.Analysis) -> list[str]:
    """What it is kept under; a tank that is given is read from the same fields as one that is assumed."""
    return [section.replace("fixed_tank", "tank") for section in analysis.sections]


@pytest.mark.parametrize("analysis", studies.ANALYSES, ids=lambda analysis: analysis.name)
def test_what_is_read_is_in_the_key(read, analysis):
    known = sections_of(analysis)
    missing = {path for path in read[analysis.name] if not any(path == s or path.startswith(f"{s}.") for s in known)}
    assert not missing


# Read where the job itself says where the copies hang, which this one does not
OF_GIVEN_COPIES = {"rack_holder": {"part.up", "rack.turns"}, "rack_shade": {"part.up", "rack.turns"}}
OF_GIVEN_COPIES["helpers_field"] = {"part.up", "rack.turns", "hanger.rim"}  # the rim where a hanger stands beside


@pytest.mark.parametrize("analysis", studies.ANALYSES, ids=lambda analysis: analysis.name)
def test_nothing_idle_is_in_the_key(read, analysis):
    """A section of which nothing is ever read would make results stale for no reason."""
    idle = {
        s
        for s in sections_of(analysis)
        if not any(path == s or path.startswith(f"{s}.") for path in read[analysis.name])
    }
    assert idle <= OF_GIVEN_COPIES.get(analysis.name, set())
