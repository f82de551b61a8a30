"""The command line on other processors: each kernel of numpy's OpenBLAS that this machine can run, and one thread."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh

import models

ROOT = Path(__file__).resolve().parents[2]
KERNELS = ("Prescott", "Haswell", "SkylakeX")  # of SSE3, AVX2 and AVX-512; AMD's processors run those of AVX2 as well
PROBE = """
import ctypes, pathlib, numpy
a = numpy.random.default_rng(0).normal(size=(200, 200))
assert numpy.allclose(numpy.linalg.solve(a, a @ a), a)
for path in pathlib.Path(numpy.__file__).parents[1].glob("numpy.libs/*openblas*"):
    library = ctypes.CDLL(str(path))
    for name in ("scipy_openblas_get_corename64_", "openblas_get_corename64_", "openblas_get_corename"):
        if hasattr(library, name):
            get = getattr(library, name)
            get.restype = ctypes.c_char_p
            print(get().decode())
"""
JOB = """
[part]
file = "cup.stl"
[coat]
sheet_resistance_ohm_sq = 0.5
[[wire]]
point_mm = [11, 0, 10]
[[anode]]
plate_mm = [120, 160]
centre_mm = [0, -80, 100]
normal = [0, 1, 0]
[[anode]]
file = "anode.stl"
[effort]
panels = 500
rays = 16
skip = "coat, hanging, narrow, gas, drainage, preparation, openness, ranges, fits"
"""
AGREEMENT = 1e-6  # of the mean


def environment(**extra: str) -> dict[str, str]:
    """Of a process, without what would set kernel or threads otherwise."""
    own = {key: value for key, value in os.environ.items() if not key.startswith(("OPENBLAS_", "OMP_"))}
    return {**own, **extra}


def runnable(kernel: str) -> bool:
    """Whether the machine runs the kernel: numpy takes it, and an equation is solved with it rightly."""
    asked = environment(OPENBLAS_CORETYPE=kernel)
    done = subprocess.run([sys.executable, "-c", PROBE], env=asked, capture_output=True, text=True, timeout=60)
    return done.returncode == 0 and done.stdout.strip().lower() == kernel.lower()


def planned(folder: Path, name: str, **extra: str) -> tuple[float, np.ndarray]:
    """Volts, and the density of each face over the mean, by the command line in a process of its own."""
    report, arrays = folder / f"{name}.json", folder / f"{name}.npz"
    done = subprocess.run(
        [sys.executable, "-m", "addon", "plan", "job.toml", "--report", report.name, "--arrays", arrays.name],
        cwd=folder,
        env=environment(PYTHONPATH=str(ROOT), **extra),
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    with np.load(arrays) as faces:
        density, area = faces["density_A_dm2"], faces["area_mm2"]
    return json.loads(report.read_text())["field"]["cell_voltage_V"], density * area.sum() / float(density @ area)


@pytest.mark.slow
def test_every_processor_gives_the_same_field(tmp_path):
    """A cup, a plate by numbers, a plate 1 mm thick from a file, a coat: densities and voltage agree to 1e-6 of the
    mean, whatever the kernel and the number of threads."""
    trimesh.Trimesh(*models.cup(10.0, 20.0, 1.0, around=32, rows=4), process=False).export(tmp_path / "cup.stl")
    points, faces = models.box((120, 1, 160), (6, 1, 8))
    trimesh.Trimesh(points + [-60, 79.5, 20], faces, process=False).export(tmp_path / "anode.stl")
    (tmp_path / "job.toml").write_text(JOB)
    volts, density = planned(tmp_path, "usual")
    assert 0.2 < volts < 5.0
    kernels = {kernel: {"OPENBLAS_CORETYPE": kernel} for kernel in KERNELS if runnable(kernel)}
    for name, extra in {"single": {"OPENBLAS_NUM_THREADS": "1"}, **kernels}.items():
        other, densities = planned(tmp_path, name, **extra)
        assert other == pytest.approx(volts, rel=AGREEMENT), name
        assert float(np.abs(densities - density).max()) < AGREEMENT, name
