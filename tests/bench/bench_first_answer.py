"""The first answer: area, current, time, gas and liquid as the part stands, from triangles to results.

There is no peer for the whole of it: bench_mesh and bench_gas have one for each half. The aim is a second at 100,000
triangles and one and a half at a million, of a dented ring and of a damaged scan in loose triangles, as STL has them,
whose corners are joined first.
"""

from __future__ import annotations

import tracemalloc

import numpy as np
from clock import timed
from bench_whole_plan import sized, soiled
from scans import bunny
from tracers import EmbreeTracer

from addon.engine import study
from addon.engine.settings.job import read_job
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end
from addon.engine.study import Study

from models import Model, torus

ASKED = ("deposit", "gas", "drainage")


def lump(count: int) -> Model:
    """A dented ring of about so many triangles."""
    around = round((count / 2 / 0.4) ** 0.5)
    points, triangles = torus(0.03, 0.012, around, round(0.4 * around))
    wave = np.sin(points * 900.0).prod(axis=1, keepdims=True)
    return points * (1.0 + 0.02 * wave), triangles


def loose_scan() -> Part:
    """A damaged scan of a million triangles, each with corners of its own."""
    points, triangles = soiled(sized(bunny(), 1_000_000))
    return Part.of("scan", points[triangles.reshape(-1)], np.arange(triangles.size).reshape(-1, 3))


def answer(part: Part) -> Study:
    return run_to_end(study.run(part, read_job({}), EmbreeTracer, only=ASKED))


def main() -> None:
    print("first answer: area, current, time, gas and liquid that stay")
    parts = [lambda count=count: Part.of("lump", *lump(count)) for count in (10_000, 100_000, 1_000_000)]
    for made in (*parts, loose_scan):
        part = made()
        seconds, found = timed(lambda part=part: answer(part), 3)
        tracemalloc.start()
        answer(part)
        memory = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        share = ", ".join(f"{name} {1e3 * took:.0f}" for name, took in found.timings.items())
        pockets = len(found.results.gas.pockets) + found.results.gas.small
        print(
            f"{part.name} {len(part.triangles):8d} triangles: {seconds:6.2f} s (ms: {share}), {memory / 1e6:5.0f} MB,"
            f" {pockets} gas pockets"
        )


if __name__ == "__main__":
    main()
