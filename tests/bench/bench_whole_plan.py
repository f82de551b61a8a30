"""The whole plan of a scan as a person asks for it: the command line on a model file, default settings, one process.

The model is the scanned bunny of `scans`, or any file that trimesh reads; it is brought to a size by splitting its
triangles in four, with some roughness, and by moving its points onto a grid, which leaves edges of three faces and
more. Then it is soiled: holes, doubled faces, drops that hover, sit in it or are inside out.

Seconds are those of the processor, so that other work on the machine does not decide; the wall's stand beside them.

python tests/bench/bench_whole_plan.py [FACES ...] [--model FILE] [--clean] [--more OPTION=FILE]
    10000 where no size is given; 50000 200000 500000 1000000 take minutes
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[k]) for k in (1, 2)]

import numpy as np
import trimesh

from models import Model
from scans import bunny

ROUGHNESS = 0.1  # of an edge, root mean square, that splitting adds: a scanner's noise
DROPS = 60
SIZE_MM = 60.0
MAX_LISTED = 14  # analyses in a row


def scanned(path: str) -> Model:
    if not path:
        return bunny()
    mesh = trimesh.load(path, force="mesh", process=False)
    points = np.asarray(mesh.vertices, dtype=float)
    return points * (1e-3 * SIZE_MM / np.ptp(points, axis=0).max()), np.asarray(mesh.faces, dtype=np.int32)


def split(model: Model, seed: int) -> Model:
    """Every triangle in four, and every point a little off."""
    points, triangles = trimesh.remesh.subdivide(*model)
    edge = np.linalg.norm(points[triangles[:, 1]] - points[triangles[:, 0]], axis=1).mean()
    noise = np.random.default_rng(seed).normal(0.0, ROUGHNESS * edge / 3**0.5, points.shape)
    return points + noise, np.asarray(triangles, dtype=np.int32)


def on_grid(model: Model, cell: float) -> Model:
    """Points that share a cell of the grid become one."""
    points, triangles = model
    _, first, place = np.unique(one_number(np.floor(points / cell)), return_index=True, return_inverse=True)
    triangles = place.reshape(-1)[triangles]
    triangles = triangles[(triangles != np.roll(triangles, 1, axis=1)).all(axis=1)]
    once = np.unique(one_number(np.sort(triangles, axis=1)), return_index=True)[1]
    return points[first], triangles[once].astype(np.int32)


def one_number(rows: np.ndarray) -> np.ndarray:
    """(n,) a number for each row of three whole ones (n, 3), in the same order: sorting rows takes ten times as long."""
    a, b, c = (rows - rows.min(axis=0)).astype(np.int64).T
    return (a << 42) + (b << 21) + c


def sized(model: Model, faces: int) -> Model:
    """About so many faces, to one in a hundred."""
    seed = 0
    while len(model[1]) < faces:
        model, seed = split(model, seed), seed + 1
    low, high = 0.0, float(np.ptp(model[0], axis=0).max()) / 10
    found = model
    for _ in range(14):
        if abs(len(found[1]) / faces - 1.0) < 0.01:
            break
        cell = 0.5 * (low + high)
        found = on_grid(model, cell)
        low, high = (cell, high) if len(found[1]) > faces else (low, cell)
    return found


def soiled(model: Model, seed: int = 7) -> Model:
    """With holes, doubled faces, and drops round it, in it and inside out."""
    points, triangles = model
    random = np.random.default_rng(seed)
    kept = np.ones(len(triangles), dtype=bool)
    kept[random.choice(len(triangles), 12, replace=False)] = False
    twice = triangles[random.choice(len(triangles), len(triangles) // 200, replace=False)]
    ball = trimesh.creation.icosphere(1, 1.0)
    all_points, all_triangles = [points], [triangles[kept], twice]
    place = len(points)
    scale = float(np.ptp(points, axis=0).max()) / 60.0
    for number, seat in enumerate(random.choice(len(triangles), DROPS, replace=False)):
        drop = np.asarray(ball.vertices) * scale * random.uniform(0.2, 1.5, 3)
        all_points.append(points[triangles[seat, 0]] + drop)
        all_triangles.append(place + np.asarray(ball.faces)[:, :: 1 if number % 4 else -1])
        place += len(drop)
    return np.concatenate(all_points), np.concatenate(all_triangles).astype(np.int32)


def write_stl(path: Path, model: Model) -> None:
    trimesh.Trimesh(model[0] * 1e3, model[1], process=False).export(path)


def counted(arguments: list[str], counts_file: str) -> int:
    """In a process of its own: the command line, its analyses timed by the processor, its solver's work counted."""
    from bench_newton import Counts

    from addon.engine import study  # noqa: F401

    counts = Counts.watching()
    sys.modules["addon.engine.study.run"].time = _ProcessorClock  # type: ignore[attr-defined]
    from addon.quiet import quiet

    with quiet():
        import bpy  # noqa: F401
    from addon.suite import command

    start = time.process_time()
    status = command.main(arguments)
    Path(counts_file).write_text(
        json.dumps({"iterations": counts.iterations, "start": start, "main": time.process_time() - start})
    )
    return status


class _ProcessorClock:
    perf_counter = staticmethod(time.process_time)


def measured(model: Path, folder: Path, more: list[str]) -> dict[str, float | dict[str, float] | list[list[int]]]:
    """One run: seconds of the processor and on the wall, peak memory in MB, timings by analysis, counts."""
    report, plan, counts = folder / "report.json", folder / "plan.txt", folder / "counts.json"
    arguments = ["plan", str(model), "--report", str(report), "--plan", str(plan)]
    for option in more:
        name, _, file = option.partition("=")
        arguments += [f"--{name}", str(folder / file)]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path[:2])}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # modules are compiled once, as where the program is installed
    start = time.perf_counter()
    child = subprocess.Popen([sys.executable, __file__, "--child", str(counts), *arguments], env=environment)
    _, status, usage = os.wait4(child.pid, 0)
    wall = time.perf_counter() - start
    if status:
        sys.exit(f"the command line ended with {os.waitstatus_to_exitcode(status)}")
    told, work = json.loads(report.read_text()), json.loads(counts.read_text())
    return {
        "processor": usage.ru_utime + usage.ru_stime,
        "wall": wall,
        "peak": usage.ru_maxrss / 1e3,
        "timings": told["timings_s"],
        "iterations": work["iterations"],
        "main": work["main"],
        "panels": (told["field"] or {}).get("panels", 0),
    }


def row(faces: int, found: dict) -> str:  # type: ignore[type-arg]
    steps = [len(one) for one in found["iterations"]]
    items = sorted(found["timings"].items(), key=lambda item: -item[1])[:MAX_LISTED]
    rest = found["main"] - sum(found["timings"].values())
    shares = ", ".join(f"{name} {seconds:.1f}" for name, seconds in items if seconds >= 0.05)
    return (
        f"{faces:8d} faces: {found['processor']:6.1f} s processor, {found['wall']:6.1f} s wall,"
        f" {found['peak']:5.0f} MB; {found['panels']} panels,"
        f" {len(steps)} solutions, {sum(steps)} Newton steps, {sum(map(sum, found['iterations']))} iterations\n"
        f"{'':10}{shares}, reading and writing {rest:.1f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("faces", nargs="*", type=int)
    parser.add_argument("--model", default="")
    parser.add_argument("--clean", action="store_true", help="not soiled")
    parser.add_argument("--more", action="append", default=[], metavar="OPTION=FILE")
    options = parser.parse_args()
    source = scanned(options.model)
    for faces in options.faces or [10_000]:
        model = sized(source, faces)
        model = model if options.clean else soiled(model)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "scan.stl"
            write_stl(path, model)
            print(row(len(model[1]), measured(path, Path(folder), options.more)), flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        sys.exit(counted(sys.argv[3:], sys.argv[2]))
    main()
