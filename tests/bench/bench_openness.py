"""Openness beside cosine-weighted random rays of embree through trimesh: time, and error where it is known.

Inside half a hollow sphere every place sees one half of the bath, so the error of both is known there. Shared
directions leave the error of several times as many random ones: so there is a row at the peer's error too.
"""

from __future__ import annotations

import time
import tracemalloc

import numpy as np
import trimesh
from numpy.typing import NDArray

from addon.engine.mesh import inspection
from addon.engine.visibility.openness import BUDGET, Openness, survey
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface

from models import Model, lathe, moved, part
from scans import bunny

RAYS = 64


def bowl(triangles: int) -> Model:
    """Half a hollow sphere, inner radius 10 and outer 11, open upward."""
    rows = max(round(np.sqrt(triangles / 12)), 4)
    t = np.linspace(0, np.pi / 2, rows + 1)
    inner, outer = (np.stack([r * np.sin(t), -r * np.cos(t)], axis=1) for r in (10, 11))
    return moved(lathe(np.vstack([outer, inner[::-1]]), 3 * rows), scale=1e-3)


def by_random_rays(surface: Surface) -> NDArray[np.float64]:
    """The peer: `RAYS` rays a face by Lambert's law, one batch a ray as its memory asks."""
    model = trimesh.Trimesh(surface.points, surface.triangles, process=False)
    random = np.random.default_rng(0)
    origin = surface.centroid + surface.lift * surface.normal
    free = np.zeros(len(origin))
    for _ in range(RAYS):
        toward = random.normal(size=origin.shape)
        toward /= np.linalg.norm(toward, axis=1, keepdims=True)
        free += ~model.ray.intersects_any(origin, surface.normal + 0.999999 * toward)
    return free / RAYS


def by_us(surface: Surface, rays: int, budget: int) -> tuple[Openness, float]:
    """The result, and the longest time between two steps."""
    steps = survey(surface, rays=rays, budget=budget)
    longest, start = 0.0, time.perf_counter()
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value, max(longest, time.perf_counter() - start)
        longest, start = max(longest, time.perf_counter() - start), time.perf_counter()


def error(surface: Surface, openness: NDArray[np.float64]) -> float:
    """Root mean square over the inside of the bowl, but for its lowest faces and its rim."""
    inside = np.einsum("ij,ij->i", surface.normal, surface.centroid) < -5e-3
    return float(np.sqrt(np.mean((openness[inside] - 0.5) ** 2)))


def row(name: str, model: Model, peer_too: bool = True, rays: int = RAYS, budget: int = 10**9) -> None:
    surface = run_to_end(inspection.inspect(part(model)))
    _ = surface.centroid, surface.area
    start = time.perf_counter()
    found, longest = by_us(surface, rays, budget)
    ours = time.perf_counter() - start
    line = (
        f"{name:10s} {len(surface.triangles):8d} triangles, {found.rays} rays each: {ours:6.2f} s,"
        f" {found.rays * len(surface.triangles) / ours / 1e6:5.2f} M rays/s, longest step {longest * 1e3:4.0f} ms,"
        f" states an error of {found.error:.3f}"
    )
    if name == "bowl":
        line += f", has {error(surface, found.openness):.3f}"
    if peer_too:
        start = time.perf_counter()
        peer = by_random_rays(surface)
        seconds = time.perf_counter() - start
        line += f"; embree, {RAYS} rays: {seconds:6.2f} s, ratio {ours / seconds:4.2f}"
        if name == "bowl":
            line += f", error {error(surface, peer):.3f}"
    print(line)


def memory(model: Model) -> None:
    surface = run_to_end(inspection.inspect(part(model)))
    _ = surface.centroid, surface.area, surface.normal
    tracemalloc.start()
    run_to_end(survey(surface, rays=16))
    print(f"{len(surface.triangles)} triangles: {tracemalloc.get_traced_memory()[1] / 1e6:.0f} MB at once")
    tracemalloc.stop()


def main() -> None:
    row("bowl", bowl(10_000))
    row("bowl", bowl(100_000))
    row("bowl", bowl(100_000), rays=20)
    row("real scan", bunny())
    row("bowl", bowl(1_000_000), peer_too=False, budget=BUDGET)
    memory(bowl(1_000_000))


if __name__ == "__main__":
    main()
