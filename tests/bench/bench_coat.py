"""The coat's network: assembly and solution beside CHOLMOD (scikit-sparse) and scipy's spsolve, in one run.

Each solver runs in a process of its own, from points and triangles in random order to the potential at every point,
one point grounded; its best of several runs is taken, and its peak memory less what importing takes. The peers solve the
plain cotangent matrix, put together by scipy; ours flips edges first. Whether the answer is the same is told on
our own matrix: CHOLMOD's solution of it beside ours.

    pip install "scikit-sparse<0.5"      needs libsuitesparse-dev; and libopenblas0, or CHOLMOD is slow
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import scipy.sparse
from scipy.sparse.linalg import spsolve

sys.path[:0] = [str(Path(__file__).parents[k]) for k in (1, 2)]

from addon.engine.geometry import morton
from addon.engine.coat import contact
from addon.engine.mesh import inspection
from addon.engine.linalg import multigrid
from addon.engine.coat import laplacian, study
from addon.engine.coat.drop import ENERGY_NORM_TOLERANCE
from addon.engine.field import solve
from addon.engine.field.bem.influence import Influence
from addon.engine.settings.job import read_job
from addon.engine.linalg.sparse import Graph
from addon.engine.progress import Progress, run_to_end
from addon.engine.mesh.topology import Topology

from models import Model, moved, part, plate, torus

SIZES = (100_000, 500_000, 1_000_000)
LARGEST = {"spsolve": 500_000}
RUNS = {100_000: 5, 500_000: 3, 1_000_000: 2}

Answer = tuple[np.ndarray, np.ndarray]


def uneven(triangles: int) -> Model:
    """A dented torus, its points moved at random by a seventh of an edge, all numbers shuffled."""
    around = int((2 * triangles) ** 0.5)
    points, faces = torus(2.0, 0.5, around, triangles // 2 // around)
    random = np.random.default_rng(0)
    points = points * (1 + 0.1 * np.sin(5 * np.arctan2(points[:, 1], points[:, 0])))[:, None]
    return shuffled((points + random.normal(size=points.shape) * 0.15 * 4 * np.pi / around, faces))


def slivers(triangles: int) -> Model:
    """A plate of triangles a hundred times as long as wide."""
    side = int((triangles / 2) ** 0.5)
    return shuffled(plate((100, 1), (side, side)))


def shuffled(model: Model) -> Model:
    points, faces = model
    random = np.random.default_rng(1)
    order = random.permutation(len(points))
    number = np.empty(len(order), dtype=np.int32)
    number[order] = np.arange(len(order), dtype=np.int32)
    return points[order], number[faces][random.permutation(len(faces))]


def our_system(points: np.ndarray, faces: np.ndarray) -> tuple[Graph, np.ndarray, np.ndarray]:
    """Graph without its first point, conductance of each other one to it, and its order."""
    order = morton.order(points)
    number = np.empty(len(order), dtype=np.int32)
    number[order] = np.arange(len(order), dtype=np.int32)
    points, faces = points[order], number[faces]
    graph = laplacian.network(points, faces, Topology.of(faces, len(points)))
    free = np.flatnonzero(graph.low > 0)
    tied = np.flatnonzero(graph.low == 0)
    ground = np.bincount(graph.high[tied] - 1, graph.weight[tied], graph.count - 1)
    return Graph(graph.count - 1, graph.low[free] - 1, graph.high[free] - 1, graph.weight[free]), ground, order


def ours(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    graph, ground, _ = our_system(points, faces)
    hierarchy = run_to_end(multigrid.prepare(graph, ground))
    return run_to_end(multigrid.solve(hierarchy, np.full(graph.count, 1.0 / graph.count), tolerance=1e-5)).x


def cotangent_matrix(points: np.ndarray, faces: np.ndarray) -> scipy.sparse.csc_matrix:
    """The plain matrix without its first point, by scipy."""
    corner = points[faces]
    rows, columns, values = [], [], []
    for k in range(3):
        u, v = corner[:, (k + 1) % 3] - corner[:, k], corner[:, (k + 2) % 3] - corner[:, k]
        cross = np.cross(u, v)
        values.append(0.5 * np.einsum("ij,ij->i", u, v) / np.sqrt(np.einsum("ij,ij->i", cross, cross)))
        rows.append(faces[:, (k + 1) % 3])
        columns.append(faces[:, (k + 2) % 3])
    half = scipy.sparse.coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))))
    off = half.tocsr()
    off = off + off.T
    return (scipy.sparse.diags(np.asarray(off.sum(axis=1)).ravel()) - off).tocsc()[1:, 1:]


def cholmod(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    from sksparse.cholmod import cholesky

    matrix = cotangent_matrix(points, faces)
    return cholesky(matrix)(np.full(matrix.shape[0], 1.0 / matrix.shape[0]))


def superlu(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    matrix = cotangent_matrix(points, faces)
    return spsolve(matrix, np.full(matrix.shape[0], 1.0 / matrix.shape[0]))


SOLVERS: dict[str, Callable[[np.ndarray, np.ndarray], np.ndarray]] = {
    "ours": ours,
    "cholmod": cholmod,
    "spsolve": superlu,
}


def alone(name: str, triangles: int) -> None:
    """In a process of its own: the best time of a few runs, the memory, the greatest potential."""
    points, faces = uneven(triangles)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    best, greatest = np.inf, 0.0
    for _ in range(RUNS[triangles]):
        start = time.perf_counter()
        greatest = float(SOLVERS[name](points, faces).max())
        best = min(best, time.perf_counter() - start)
    memory = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1e6
    maps = Path("/proc/self/maps")
    system = [line for line in (maps.read_text() if maps.exists() else "").splitlines() if " /usr/" in line]
    blas = "OpenBLAS" if any("openblas" in line for line in system) else "another BLAS than OpenBLAS"
    print(json.dumps({"seconds": best, "memory": memory, "greatest": greatest, "blas": blas}))


def run(name: str, triangles: int) -> dict | None:
    """None where the solver is not there, or too slow at this size to wait for."""
    if triangles > LARGEST.get(name, triangles) or (name == "cholmod" and not find_spec("sksparse")):
        return None
    done = subprocess.run(
        [sys.executable, __file__, name, str(triangles)], capture_output=True, text=True, timeout=900, check=False
    )
    if done.returncode:
        print(f"  {name}: {done.stderr.strip().splitlines()[-1]}")
        return None
    return json.loads(done.stdout.splitlines()[-1])


def same_answer(name: str, model: Model) -> None:
    """Our solution of our own matrix beside CHOLMOD's."""
    from sksparse.cholmod import cholesky

    graph, ground, _ = our_system(*model)
    b = np.full(graph.count, 1.0 / graph.count)
    start = time.perf_counter()
    hierarchy = run_to_end(multigrid.prepare(graph, ground))
    found = run_to_end(multigrid.solve(hierarchy, b, tolerance=ENERGY_NORM_TOLERANCE))
    seconds = time.perf_counter() - start
    off = scipy.sparse.coo_matrix((graph.weight, (graph.low, graph.high)), (graph.count, graph.count))
    off = off + off.T
    matrix = (scipy.sparse.diags(np.asarray(off.sum(axis=1)).ravel() + ground) - off).tocsc()
    start = time.perf_counter()
    exact = cholesky(matrix)(b)
    peer = time.perf_counter() - start
    print(
        f"  {name:24s} {len(model[1]):8d} triangles: ours {seconds:6.2f} s, {found.iterations} steps; CHOLMOD"
        f" {peer:6.2f} s; greatest difference {np.abs(found.x - exact).max() / exact.max():.1e} of the greatest potential"
    )


def whole_room(triangles: int) -> None:
    """What a study pays for contacts and coat, after a field and without one."""
    surface = run_to_end(inspection.inspect(part(moved(uneven(triangles), scale=0.012))))
    job = read_job({})
    seconds, products, integrated = [], [], []
    with counted(products, integrated):

        def timed(steps: Progress) -> Any:
            start, before = time.process_time(), (len(products), len(integrated))
            found = run_to_end(steps)
            seconds.append((time.process_time() - start, len(products) - before[0], len(integrated) - before[1]))
            return found

        contacts = timed(contact.rank(surface, up=(0, 0, 1), sheet_resistance=0.5, density=200.0))
        losses = timed(study.half_grown(surface, job, contacts))
        field = timed(solve.run(surface, job, wire_drop=losses))
        result = timed(study.run(surface, job, contacts=contacts, density=field.density, level=field.level))
        timed(study.run(surface, job, contacts=contacts))
    print(f"  {triangles:8d} triangles: {result.worst_drop:.2f} V at worst, {len(result.steps)} currents to set")
    names = ("contacts", "coat half grown", "field", "coat after it", "coat without a field")
    for name, (spent, some, geometries) in zip(names, seconds, strict=True):
        print(f"    {name:22s} {spent:6.2f} s of processor, {some:4d} products on {geometries} geometries", flush=True)


@contextmanager
def counted(products: list[int], integrated: list[int]) -> Iterator[None]:
    """Within, every product with a field's operators and every geometry that is integrated adds its size."""
    apply, build = Influence.apply, Influence.build.__func__  # type: ignore[attr-defined]

    def counting_apply(self: Influence, q: np.ndarray, phi: np.ndarray, **how: bool) -> np.ndarray:
        products.append(self.n)
        return apply(self, q, phi, **how)

    def counting_build(cls: type, corners: np.ndarray, *rest: Any) -> Progress[Influence]:
        integrated.append(len(corners))
        return (yield from build(cls, corners, *rest))

    Influence.apply, Influence.build = counting_apply, classmethod(counting_build)  # type: ignore[method-assign]
    try:
        yield
    finally:
        Influence.apply, Influence.build = apply, classmethod(build)  # type: ignore[method-assign]


def main() -> None:
    print("Potential along the coat, from points and triangles, one point grounded")
    if not find_spec("sksparse"):
        print('  without CHOLMOD: pip install "scikit-sparse<0.5" (needs libsuitesparse-dev and libopenblas0)')
    for triangles in SIZES:
        ours_, cholmod_, spsolve_ = (run(name, triangles) for name in SOLVERS)
        line = f"  {triangles:8d} triangles: ours {ours_['seconds']:6.2f} s {ours_['memory']:5.2f} GB"
        for name, peer in (("CHOLMOD", cholmod_), ("spsolve", spsolve_)):
            if peer:
                line += (
                    f"; {name} {peer['seconds']:6.2f} s {peer['memory']:5.2f} GB, {peer['seconds'] / ours_['seconds']:.1f}"
                    " times ours"
                )
        print(f"{line} (CHOLMOD on {cholmod_['blas']})" if cholmod_ else line, flush=True)
    if find_spec("sksparse"):
        print("The same answer on the same matrix")
        same_answer("uneven", uneven(100_000))
        same_answer("slivers of aspect 100", slivers(100_000))
    print("Contacts and coat of a study")
    for triangles in (100_000, 1_000_000):
        whole_room(triangles)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        alone(sys.argv[1], int(sys.argv[2]))
    else:
        main()
