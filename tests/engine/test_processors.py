"""The field on other processors: each kernel of numpy's OpenBLAS that this machine can run, and one thread."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
KERNELS = ("Prescott", "Haswell", "SkylakeX")  # of SSE3, AVX2 and AVX-512; AMD's processors run those of AVX2 as well
ALONE = """
import ctypes, pathlib, numpy
a = numpy.random.default_rng(0).normal(size=(200, 200))
assert numpy.allclose(numpy.linalg.solve(a, a @ a), a)
for path in pathlib.Path(numpy.__file__).parents[1].glob("numpy.libs/*openblas*"):
    library = ctypes.CDLL(str(path))
    for name in ("scipy_openblas_get_corename64_", "openblas_get_corename64_", "openblas_get_corename"):
        if hasattr(library, name):
            get = getattr(library, name)
            get.restype = ctypes.c_char_p
            print(get().decode(), flush=True)
import sys
import numpy as np
import models
from addon.engine.coat import contact, study, wired
from addon.engine.field import solve
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job

cup = models.moved(models.cup(10.0, 20.0, 1.0, around=32, rows=4), scale=1e-3)
plate = models.part(models.moved(models.box((120, 1, 160), (6, 1, 8)), (-0.06, 0.0795, 0.02), scale=1e-3))
surface = run_to_end(inspection.inspect(models.part(cup)))
job = read_job({
    "anode": [{"plate_mm": [120, 160], "centre_mm": [0, -80, 100], "normal": [0, 1, 0]}, {"file": "plate"}],
    "coat": {"sheet_resistance_ohm_sq": 0.5},
    "wire": [{"point_mm": [11, 0, 10]}],
    "effort": {"panels": 500},
})
contact.RANKING_PATCHES, wired.SOLUTION_PATCHES = 500, 300
contacts = run_to_end(contact.rank(surface, up=(0, 0, 1), sheet_resistance=0.5, density=200.0))
coat = run_to_end(study.half_grown(surface, job, contacts))
field = run_to_end(solve.run(surface, job, meshes={"plate": plate}, wire_drop=coat))
np.savez(sys.argv[1], volts=field.voltage, density=field.density, area=surface.area)
"""
AGREEMENT = 1e-6  # of the mean


def environment(**extra: str) -> dict[str, str]:
    """Of a process, without what would set kernel or threads otherwise."""
    own = {key: value for key, value in os.environ.items() if not key.startswith(("OPENBLAS_", "OMP_"))}
    return {**own, **extra}


def solved(file: Path, **extra: str) -> tuple[str, float, np.ndarray] | None:
    """Kernel, volts, and the density of each face over the mean, in a process of its own; None where numpy does not
    solve an equation rightly with the kernel that is asked for, or takes another."""
    done = subprocess.run(
        [sys.executable, "-c", ALONE, str(file)],
        env=environment(PYTHONPATH=f"{ROOT}{os.pathsep}{ROOT / 'tests'}", **extra),
        capture_output=True,
        text=True,
        timeout=120,
    )
    kernel, asked = done.stdout.strip().lower(), extra.get("OPENBLAS_CORETYPE", "").lower()
    if asked and asked != kernel:
        return None
    assert done.returncode == 0, done.stderr
    with np.load(file) as found:
        density, area = found["density"], found["area"]
        return kernel, float(found["volts"]), density * area.sum() / float(density @ area)


@pytest.mark.slow
def test_every_processor_gives_the_same_field(tmp_path):
    """A cup, a plate by numbers, a plate 1 mm thick from a mesh, a coat: densities and voltage agree to 1e-6 of
    the mean, whatever the kernel and the number of threads."""
    usual = solved(tmp_path / "usual.npz")
    assert usual is not None
    own, volts, density = usual
    assert 0.2 < volts < 5.0
    one = {"OPENBLAS_NUM_THREADS": "1"}  # idle threads of BLAS wait with the processor
    kernels = {kernel: {"OPENBLAS_CORETYPE": kernel, **one} for kernel in KERNELS if kernel.lower() != own}
    for name, extra in {"single": one, **kernels}.items():
        found = solved(tmp_path / f"{name}.npz", **extra)
        if found is None:
            assert name in kernels
            continue
        _, other, densities = found
        assert other == pytest.approx(volts, rel=AGREEMENT), name
        assert float(np.abs(densities - density).max()) < AGREEMENT, name
