"""Rays: Blender's casters through our `Tracer`, beside embree (embreex, Apache-2.0) on the same rays.

PYTHONPATH=.:tests python tests/bench/bench_rays.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from addon.engine.mesh.inspection import inspect
from addon.engine.progress import run_to_end
from addon.suite.scene.tracers import HostTracer

import models
from tracers import EmbreeTracer


def main() -> None:
    print(f"{'rays off every face':28}      rays   ours s    M/s  embree s    M/s  ratio   differ")
    for around, rows, each in ((80, 12, 64), (240, 42, 64), (760, 132, 2)):
        cup = models.moved(models.cup(around=around, rows=rows), scale=1e-3)
        surface = run_to_end(inspect(models.part(cup)))
        rng = np.random.default_rng(0)
        face = np.arange(len(surface.triangles)).repeat(each)
        direction = rng.normal(size=(len(face), 3))
        direction *= np.sign(np.einsum("ij,ij->i", direction, surface.normal[face]))[:, None]
        origin = surface.centroid[face] + surface.lift * surface.normal[face]
        ours, host = timed(lambda s=surface, o=origin, d=direction: HostTracer(s).blocked(o, d))
        theirs, peer = timed(lambda s=surface, o=origin, d=direction: EmbreeTracer(s).blocked(o, d))
        name = f"blocked, {len(surface.triangles)} triangles"
        count = len(face) / 1e6
        print(
            f"{name:28} {len(face):9} {ours:8.2f} {count / ours:6.2f} {theirs:9.2f} {count / theirs:6.2f}"
            f" {ours / theirs:6.1f} {np.mean(host != peer):8.0e}"
        )


def timed(run: Callable[[], np.ndarray]) -> tuple[float, np.ndarray]:
    """Seconds of one run, building included, and its answer."""
    start = time.perf_counter()
    answer = run()
    return time.perf_counter() - start, answer


if __name__ == "__main__":
    main()
