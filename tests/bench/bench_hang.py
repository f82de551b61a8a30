"""Ways up: what a sweep costs a direction, beside a flood of cells in the same run, and what ranking adds.

The peer turns the part, fills a grid with trimesh (embree) and floods it with scipy, as in `bench_gas`; its grid is
so coarse that it errs by several per cent, which favors it. It is run for a few directions and told for one.
"""

from __future__ import annotations

import time

import numpy as np
from bench_gas import rough_cup, surface_of
from clock import timed

from addon.engine.geometry import attitude
from addon.engine.hanging import suggest
from addon.engine.hanging.weighed import Immersion
from addon.engine.hanging.mass import Printed
from addon.engine.hanging.score import sweep
from addon.engine.settings.tank import Tank
from addon.engine.progress import run_to_end

from grids import filled, trapped
from models import moved, rotation
from addon.engine.trapping.relief import relief_of
from tracers import EmbreeTracer

CELL = 0.5  # of the cup's millimeters: some 50 cells across
PEER = 3
PRINT = Printed(1.2e-3, 0.15, 1240.0, coat_thickness=30e-6, coat_density=3000.0)
BATH = Immersion(deposit=0.005, bath_density=1158.0)


def main() -> None:
    points, triangles = rough_cup(100_000)
    surface = surface_of((points * 1e-3, triangles))
    relief = relief_of(surface)
    for count in (500, 1000):
        seconds, scores = timed(lambda count=count: run_to_end(sweep(surface, relief, attitude.sphere(count))), 1)
        print(
            f"{count} ways up at {len(surface.triangles)} triangles: {seconds:6.2f} s on one core,"
            f" {seconds / count * 1e3:.1f} ms each; least gas {scores.trapped.min() * 1e6:.3f} mL"
        )
    start = time.perf_counter()
    for seed in range(PEER):
        trapped(filled(moved((points, triangles), turn=rotation(seed)), CELL))
    peer = (time.perf_counter() - start) / PEER
    print(
        f"flood of cells of {CELL} mm: {peer * 1e3:.0f} ms a way up; the sweep is {peer / (seconds / 1000):.1f} times faster"
    )
    tracer = EmbreeTracer(surface)
    for directions in (300, 500):
        request = suggest.SearchRequest(directions=directions, tank=Tank(), contacts=np.zeros((0, 3)))
        whole, found = timed(lambda request=request: run_to_end(suggest.run(surface, tracer, PRINT, BATH, request)), 1)
        print(
            f"whole answer with {directions} directions, weight, contacts and pair: {whole:6.2f} s;"
            f" {len(found.suggestions)} ways up"
        )


if __name__ == "__main__":
    print("hang")
    main()
