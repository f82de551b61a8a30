"""A study of a few analyses, for the verdict's tests, and the bell that many of them look at."""

from __future__ import annotations

import numpy as np

from addon.engine import study as studies
from addon.engine.findings import Code, Finding, Quantity, Severity
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job

from models import cup, moved, part

QUICK = {"effort": {"rays": 16, "directions": 50, "panels": 600}, "part": {"hang": "as set"}}
RADIUS, DEPTH = 0.010, 0.020  # m, of the bell's hollow
BELL = moved(cup(RADIUS, DEPTH, 0.001, rows=4), turn=np.diag([1, -1, -1]))  # it opens downwards


def walked(model, trace, table=QUICK, only=("gas", "drainage", "deposit"), **how):
    return run_to_end(studies.run(part(model), read_job(table), trace, only=only, **how))


def finding(code: Code, severity: Severity = Severity.SPOILS, share: float = 0.0, **quantities: float) -> Finding:
    return Finding(code, severity, {Quantity[key]: value for key, value in quantities.items()}, spoilt_share=share)


def codes(findings) -> list[Code]:
    return [one.code for one in findings]
