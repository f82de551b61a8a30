"""What a solution takes of memory, foretold before it is taken."""

from __future__ import annotations

import subprocess
import sys

import pytest

ALONE = """
import resource, sys
from pathlib import Path
import models
from addon.engine.mesh import inspection
from addon.engine.field import solve
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end

def peak():  # a child starts with its parent's in what getrusage says, so ask Linux for its own
    status = Path("/proc/self/status")
    if status.exists():
        return 1024 * int(next(line for line in status.read_text().splitlines() if "VmHWM" in line).split()[1])
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

foretold = []
estimate = solve.memory_estimate
solve.memory_estimate = lambda panels: foretold.append(estimate(panels)) or foretold[-1]
surface = run_to_end(inspection.inspect(models.part(models.moved(models.sphere(0.02, 3), (0.0, 0.0, 0.1)))))
job = read_job({"effort": {"panels": int(sys.argv[2])}, "tank": eval(sys.argv[1])})
start = peak()
run_to_end(solve.run(surface, job))
print(foretold[0], peak() - start)
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("tank", "panels"),
    [({"shape": "open"}, 12_000), ({"size_mm": [140, 90, 110], "level_mm": 100}, 9_000)],
    ids=["open", "narrow box"],
)
def test_the_estimate_covers_the_peak(tank, panels):
    """Of a whole solution, in a process of its own: never less than the operating system counts, nor half as much again."""
    done = subprocess.run(
        [sys.executable, "-c", ALONE, repr(tank), str(panels)],
        capture_output=True,
        text=True,
        env={"PYTHONPATH": ".:tests", "PATH": ""},
    )
    assert done.returncode == 0, done.stderr
    foretold, taken = map(float, done.stdout.split())
    assert taken <= foretold <= 1.5 * taken
