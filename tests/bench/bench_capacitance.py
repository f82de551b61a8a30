"""Capacitance of the unit cube: time, memory and error beside a dense boundary-element library, and how ours grows.

The peer is bempp-cl (dense Galerkin, its numba backend). Both get the same meshes, graded to the edges, finer and
finer until the error is below `WANTED`; its compilation is not counted. Each runs in a process of its own, whose
peak memory is taken with and without what merely importing takes. Exact value: Helsing and Perfekt 2013 (from memory).
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[k]) for k in (1, 2)]

from addon.engine.field.bem.layers import LayerOperators
from addon.engine.linalg.krylov import gmres
from addon.engine.progress import run_to_end

from models import box

EXACT = 0.6606781541
WANTED = 0.0002
CELLS = (4, 8, 12, 16, 20, 24, 28, 32)
TOLERANCE = 1e-6

Solver = Callable[[np.ndarray, np.ndarray], float]


def graded_cube(cells: int) -> tuple[np.ndarray, np.ndarray]:
    """The unit cube, its cells drawn together at the edges (Chebyshev points)."""
    points, faces = box(cells=(cells, cells, cells))
    return (1 - np.cos(np.pi * points)) / 2, faces


def ours(points: np.ndarray, faces: np.ndarray) -> float:
    layers = LayerOperators(points[faces], double=False)
    found = run_to_end(
        gmres(layers.single, np.ones(layers.n), precondition=lambda v: v / layers.diagonal, tolerance=TOLERANCE)
    )
    return float(found.x @ layers.area) / (4 * np.pi)


def dense_peer() -> Solver:
    import bempp_cl.api as bempp

    bempp.DEFAULT_DEVICE_INTERFACE = "numba"

    def solve(points: np.ndarray, faces: np.ndarray) -> float:
        space = bempp.function_space(bempp.Grid(points.T, faces.T.astype(np.uint32)), "DP", 0)
        single = bempp.operators.boundary.laplace.single_layer(space, space, space)
        one = bempp.GridFunction(space, coefficients=np.ones(space.global_dof_count))
        q, _ = bempp.linalg.gmres(single, one, tol=TOLERANCE, use_strong_form=True)
        return float(q.integrate()[0]) / (4 * np.pi)

    return solve


def peak() -> float:
    """MB, the most this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def until_good_enough(who: str) -> dict[str, float]:
    """In a process of its own: the coarsest mesh within WANTED, its panels, seconds, error and memory in MB."""
    solve = ours if who == "ours" else dense_peer()
    start = peak()
    solve(*graded_cube(2))  # compiles the peer
    for cells in CELLS:
        mesh = graded_cube(cells)
        begin = time.perf_counter()
        error = solve(*mesh) / EXACT - 1
        seconds = time.perf_counter() - begin
        if abs(error) <= WANTED:
            break
    return {"panels": len(mesh[1]), "seconds": seconds, "error": error, "peak": peak(), "own": peak() - start}


def growth(cells: int) -> dict[str, float]:
    """In a process of its own: both layers on a finer cube."""
    points, faces = graded_cube(cells)
    begin = time.perf_counter()
    layers = LayerOperators(points[faces])
    setup = time.perf_counter() - begin
    ones, times = np.ones(layers.n), []
    for _ in range(5):
        begin = time.perf_counter()
        layers.apply(ones, ones)
        times.append(time.perf_counter() - begin)
    begin = time.perf_counter()
    found = run_to_end(gmres(layers.single, ones, precondition=lambda v: v / layers.diagonal, tolerance=TOLERANCE))
    solved = time.perf_counter() - begin
    error = float(found.x @ layers.area) / (4 * np.pi) / EXACT - 1
    return {
        "panels": layers.n,
        "setup": setup,
        "product": min(times),
        "solve": solved,
        "iterations": found.iterations,
        "error": error,
        "held": layers.memory / 1e6,
        "peak": peak(),
    }


def apart(*arguments: str) -> dict[str, float]:
    """Run this file again for one measurement."""
    done = subprocess.run([sys.executable, __file__, *arguments], capture_output=True, text=True, timeout=800)
    if done.returncode:
        sys.exit(done.stderr)
    return json.loads(done.stdout.splitlines()[-1])


def main() -> None:
    print(f"Unit cube's capacitance within {WANTED:.2%}, coarsest mesh of both")
    results = {who: apart("until", who) for who in ("ours", "bempp-cl")}
    for who, r in results.items():
        print(
            f"  {who:9} {r['panels']:6.0f} panels {r['seconds']:7.2f} s  {r['error']:+.4%}"
            f"  peak {r['peak']:5.0f} MB, of that for the solution {r['own']:5.0f} MB"
        )
    a, b = results["ours"], results["bempp-cl"]
    print(
        f"  ratio peer / ours: time {b['seconds'] / a['seconds']:.1f}, peak memory {b['peak'] / a['peak']:.1f}, "
        f"memory of the solution {b['own'] / max(a['own'], 1.0):.1f}"
    )
    print("Ours alone, single and double layer:")
    for cells in (32, 65, 130):
        r = apart("growth", str(cells))
        print(
            f"  {r['panels']:6.0f} panels: setup {r['setup']:5.1f} s, product {r['product'] * 1e3:4.0f} ms, solution"
            f" {r['solve']:5.1f} s in {r['iterations']:.0f} products, {r['error']:+.4%},"
            f" held {r['held']:5.0f} MB, peak {r['peak']:5.0f} MB"
        )


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["until", who]:
            print(json.dumps(until_good_enough(who)))
        case ["growth", cells]:
            print(json.dumps(growth(int(cells))))
        case _:
            main()
