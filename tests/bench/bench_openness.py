"""Openness beside cosine-weighted random rays of embree through trimesh: time, and error where it is known.

The error of both is the root mean square over all faces against single exact rays along 2 x 256 other directions;
inside half a hollow sphere, where every place sees one half of the bath, it is known besides. Seconds are those of
the processor, so that a busy machine does not decide.
"""

from __future__ import annotations

import time
import tracemalloc

import numpy as np
import trimesh
from numpy.typing import NDArray

from addon.engine.mesh import inspection
from addon.engine.visibility import openness
from addon.engine.visibility.openness import MAX_TOTAL_RAYS, Openness, survey
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface

from models import Model, lathe, moved, part
from scans import bunny

RAYS = 64
REFERENCE_RAYS = 256


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
    longest, start = 0.0, time.process_time()
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value, max(longest, time.process_time() - start)
        longest, start = max(longest, time.process_time() - start), time.process_time()


def by_single_rays(surface: Surface) -> NDArray[np.float64]:
    """The reference: no depth buffer, and directions that neither of the two looks along."""
    buffered = openness.MAX_EXACT_FACES
    openness.MAX_EXACT_FACES = len(surface.triangles)
    try:
        return run_to_end(survey(surface, rays=REFERENCE_RAYS, seed=1, budget=10**9)).openness
    finally:
        openness.MAX_EXACT_FACES = buffered


def apart(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.nanmean((one - other) ** 2)))


def error(surface: Surface, openness: NDArray[np.float64]) -> float:
    """Root mean square over the inside of the bowl, but for its lowest faces and its rim."""
    inside = np.einsum("ij,ij->i", surface.normal, surface.centroid) < -5e-3
    return float(np.sqrt(np.mean((openness[inside] - 0.5) ** 2)))


def row(name: str, model: Model, rays: tuple[int, ...] = (64,), peer_too: bool = True, budget: int = 10**9) -> None:
    surface = run_to_end(inspection.inspect(part(model)))
    _ = surface.centroid, surface.area
    known = name == "bowl"
    reference = by_single_rays(surface) if peer_too else None
    for count in rays:
        start = time.process_time()
        found, longest = by_us(surface, count, budget)
        seconds = time.process_time() - start
        line = (
            f"{name:10s} {len(surface.triangles):8d} triangles, ours, {found.rays:3d} rays: {seconds:6.2f} s,"
            f" states an error of {found.error:.3f}, longest step {longest * 1e3:4.0f} ms"
        )
        line += f", has {apart(found.openness, reference):.3f}" if reference is not None else ""
        print(line + (f", {error(surface, found.openness):.3f} from 1/2 inside" if known else ""))
    if reference is None:
        return
    start = time.process_time()
    peer = by_random_rays(surface)
    seconds = time.process_time() - start
    line = f"{'':28s} embree, {RAYS:3d} rays: {seconds:6.2f} s, has an error of {apart(peer, reference):.3f}"
    print(line + (f", {error(surface, peer):.3f} from 1/2 inside" if known else ""))


def memory(model: Model) -> None:
    surface = run_to_end(inspection.inspect(part(model)))
    _ = surface.centroid, surface.area, surface.normal
    tracemalloc.start()
    run_to_end(survey(surface, rays=16))
    print(f"{len(surface.triangles)} triangles: {tracemalloc.get_traced_memory()[1] / 1e6:.0f} MB at once")
    tracemalloc.stop()


def main() -> None:
    row("bowl", bowl(10_000))
    row("bowl", bowl(100_000), rays=(16, 64))
    row("real scan", bunny(), rays=(16, 64))
    row("bowl", bowl(1_000_000), peer_too=False, budget=MAX_TOTAL_RAYS)
    memory(bowl(1_000_000))


if __name__ == "__main__":
    main()
