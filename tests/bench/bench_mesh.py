"""Area and volume, and the whole inspection of a mesh, beside trimesh doing what it does for the same figures."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np
import trimesh

from addon.engine.mesh import inspection
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end
from addon.engine.geometry.triangles import measure

from models import Model, part, torus
from scans import bunny

RING, TUBE = 0.03, 0.01
VOLUME = 2 * np.pi**2 * RING * TUBE**2  # of the torus, m3
AREA = 4 * np.pi**2 * RING * TUBE


def timed(run: Callable[[], Any], repeat: int = 3) -> tuple[float, Any]:
    """Shortest of some runs, in seconds, and the last result."""
    best, result = np.inf, None
    for _ in range(repeat):
        start = time.perf_counter()
        result = run()
        best = min(best, time.perf_counter() - start)
    return best, result


def peak(run: Callable[[], Any]) -> float:
    """Most memory at once, MB."""
    tracemalloc.start()
    run()
    memory = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return memory / 1e6


def figures(model: Part) -> tuple[float, float]:
    area, _, volume = measure(model.points, model.triangles)
    return float(area.sum()), float(volume.sum())


def peer_figures(model: Part) -> tuple[float, float]:
    """Trimesh joins points on loading: without that it has no closed mesh to give a volume of."""
    found = trimesh.Trimesh(model.points, model.triangles, process=True)
    return float(found.area), float(found.volume)


def peer_inspection(model: Part) -> tuple[float, float, bool, bool, int]:
    """The part of our inspection that trimesh has too: closed, wound alike, how many shells."""
    found = trimesh.Trimesh(model.points, model.triangles, process=True)
    return found.area, found.volume, found.is_watertight, found.is_winding_consistent, found.body_count


def loose(model: Model) -> Model:
    points, triangles = model
    return points[triangles].reshape(-1, 3), np.arange(triangles.size, dtype=np.int32).reshape(-1, 3)


def row(name: str, model: Part, exact: tuple[float, float] | None) -> None:
    few = 5 if len(model.triangles) < 500_000 else 3
    ours, (area, volume) = timed(lambda: figures(model), few)
    peer, _ = timed(lambda: peer_figures(model), few)
    whole, surface = timed(lambda: run_to_end(inspection.inspect(model)), few)
    peer_whole, _ = timed(lambda: peer_inspection(model), 1)
    error = ""
    if exact:
        error = f" error of area {area / exact[0] - 1:+.1e}, of volume {volume / exact[1] - 1:+.1e};"
    print(
        f"{name:12s} {len(model.triangles):8d} triangles: area and volume {ours * 1e3:7.1f} ms, trimesh"
        f" {peer * 1e3:7.0f} ms, ratio {ours / peer:5.3f};{error} inspection {whole * 1e3:7.0f} ms,"
        f" trimesh's share of it {peer_whole * 1e3:6.0f} ms, ratio {whole / peer_whole:5.2f},"
        f" {peak(lambda: run_to_end(inspection.inspect(model))):5.0f} MB; {len(surface.faults)} kinds of fault"
    )


def main() -> None:
    exact = AREA, VOLUME
    for around in (100, 316, 1000):
        row("torus", part(torus(RING, TUBE, around, around // 2)), exact)
    row("loose faces", part(loose(torus(RING, TUBE, 1000, 500))), exact)
    row("real scan", part(bunny()), None)


if __name__ == "__main__":
    main()
