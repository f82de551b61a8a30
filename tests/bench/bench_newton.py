"""Newton's method and GMRES in the tank: how many steps and products a solution takes, and what it costs.

A solution is that of one level (the coarse one and then the fine one), with Tafel kinetics at 2 A/dm2. Parts: the demo
part, a scan with holes closed, an open shell without thickness; coats of 0.01 to 200 ohm a square, one wire on top.
Each row has a process of its own, whose peak memory is taken.

python tests/bench/bench_newton.py [PANELS ...]     3000 and 12000 where none are given; 50000 and 200000 take minutes
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[k] / more) for k, more in ((1, ""), (2, ""), (2, "docs/demo"))]

from addon.engine.errors import InputError
from addon.engine.field import equations, newton
from addon.engine.field.solve import solved
from addon.engine.mesh import inspection
from addon.engine.mesh.part import Part
from addon.engine.mesh.surface import Surface
from addon.engine.progress import Progress, run_to_end
from addon.engine.settings.job import read_job

import cells
import models

COATS_OHM_SQ = (0.01, 0.5, 10.0, 200.0)
TANK = {"size_mm": [300, 200, 250], "level_mm": 220}
CASES = [("finial", 0.0), ("bunny", 0.0), ("shell", 0.0), *(("finial", ohms) for ohms in COATS_OHM_SQ)]


@dataclass
class Counts:
    """What the solver of one process did, a solution at a time: Newton steps and GMRES iterations each took."""

    iterations: list[list[int]]

    @classmethod
    def watching(cls) -> Counts:
        """Put counters round the solver."""
        counts, solve, gmres = cls([]), newton.solve, equations.gmres

        def counted_gmres(*arguments, **options) -> Progress[object]:  # type: ignore[no-untyped-def]
            found = yield from gmres(*arguments, **options)
            counts.iterations[-1].append(found.iterations)
            return found

        def counted_solve(*arguments, **options) -> Progress[object]:  # type: ignore[no-untyped-def]
            counts.iterations.append([])
            return (yield from solve(*arguments, **options))

        equations.gmres = counted_gmres
        for module in ("coupling", "solve"):
            sys.modules[f"addon.engine.field.{module}"].solve = counted_solve  # type: ignore[attr-defined]
        return counts


def surface(name: str) -> Surface:
    if name == "finial":
        from finial import finial

        corners = finial().reshape(-1, 3) * 1e-3
        points, place = np.unique(corners, axis=0, return_inverse=True)
        part = Part.of(name, points.astype(float), place.reshape(-1, 3).astype(np.int32))
    elif name == "bunny":
        from scans import mended_bunny

        part = Part.of(name, *mended_bunny())
    else:  # a bell without thickness, open below
        angle = np.linspace(0.0, 0.7 * np.pi, 41)
        profile = 0.025 * np.stack([np.sin(angle), -np.cos(angle)], axis=1)
        profile[0, 0] = 0.0
        part = Part.of(name, *models.moved(models.lathe(profile, 96), turn=np.diag([1.0, -1.0, -1.0])))
    return run_to_end(inspection.inspect(part))


def measured(name: str, ohms: float, panels: int) -> dict[str, object]:
    """In a process of its own: one field."""
    part = surface(name)
    drop = cells.even_coat(part, ohms) if ohms else None
    counts = Counts.watching()
    job = read_job({"tank": TANK, "effort": {"panels": panels}})
    busy = time.process_time()
    found: dict[str, object] = {}
    try:
        state = run_to_end(solved(part, job, wire_drop=drop)).state
        found = {"n": len(state.j), "residual": state.residual, "volts": state.voltage, "products": state.products}
    except InputError as fault:
        found = {"failed": str(fault)}
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    return {**found, "iterations": counts.iterations, "busy": time.process_time() - busy, "peak": peak}


def row(name: str, ohms: float, panels: int) -> str:
    """One line of the table."""
    arguments = ("one", name, str(ohms), str(panels))
    done = subprocess.run([sys.executable, __file__, *arguments], capture_output=True, text=True, timeout=1800)
    if done.returncode:
        sys.exit(done.stderr)
    found = json.loads(done.stdout.splitlines()[-1])
    steps = "; ".join(f"{len(its)} steps, {sum(its)} it, at most {max(its, default=0)}" for its in found["iterations"])
    head = f"  {name:7} {ohms:7.4g} {panels:7d}"
    cost = f"{found['busy']:6.1f} s {found['peak']:5.0f} MB"
    if "failed" in found:
        return f"{head} FAILED {found['failed']} ({steps}) {cost}"
    return f"{head} {found['residual']:8.1e} {found['products']:5d} {cost}  {found['volts']:.5f} V  {steps}"


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["one", name, ohms, panels]:
            print(json.dumps(measured(name, float(ohms), int(panels))))
        case counts:
            print("  part    ohm/sq  panels residual products, processor, peak; steps and iterations of each level")
            for number in map(int, counts or ("3000", "12000")):
                for case in CASES:
                    print(row(*case, number), flush=True)
