"""The field against an independent method and library: finite elements by scikit-fem, face by face.

A 20 mm cube hangs in the middle of a box of 200 x 100 x 100 mm, one end wall of which is the anode, all others
insulating; linear kinetics on the cube. A quarter of the box is meshed, with second-order bricks graded towards the
cube, whose own error is below 0.3 % (by refining). kappa = 25 S/m; 1 V.
"""

from __future__ import annotations

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementHex2, FacetBasis, LinearForm, MeshHex, asm, condense, solve
from skfem.helpers import dot, grad
from skfem.utils import build_pc_diag, solver_iter_pcg

import models
from addon.engine.mesh import inspection
from addon.engine.field.solve import run
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end

KAPPA, RHO, EDGE = 25.0, 5e-4, 0.02


def axis(half: float, end: float, inner: int, outer: int) -> np.ndarray:
    """Places from 0 through the cube's face to the wall, gathered on both sides of the face."""
    inside = half * (1.0 - (1.0 - np.linspace(0.0, 1.0, inner + 1)) ** 1.6)
    outside = half + (end - half) * np.linspace(0.0, 1.0, outer + 1) ** 2.0
    return np.concatenate([inside, outside[1:]])


@pytest.fixture(scope="module")
def bricks() -> dict[str, np.ndarray]:
    """Mean density on each of the cube's faces, and on rings of the face that looks at the anode."""
    half = EDGE / 2
    side = axis(half, 0.05, 6, 7)
    along = np.concatenate([-axis(half, 0.1, 6, 9)[:0:-1], axis(half, 0.1, 6, 9)])
    grid = MeshHex.init_tensor(along, side, side)
    middle = grid.p[:, grid.t].mean(axis=1)
    grid = grid.remove_elements(np.flatnonzero((np.abs(middle) < half).all(axis=0)))
    element = ElementHex2()
    basis = Basis(grid, element, intorder=4)
    on = 1e-9
    cube = grid.facets_satisfying(lambda x: (np.abs(x) < half + on).all(axis=0), boundaries_only=True)
    anode = grid.facets_satisfying(lambda x: x[0] < -0.1 + on, boundaries_only=True)
    skin = FacetBasis(grid, element, facets=cube, intorder=4)
    stiff = asm(BilinearForm(lambda u, v, w: KAPPA * dot(grad(u), grad(v))), basis)
    film = asm(BilinearForm(lambda u, v, w: u * v / RHO), skin)
    fixed = basis.get_dofs(anode).all()
    start = np.zeros(basis.N)
    start[fixed] = 1.0
    system = condense(stiff + film, x=start, D=fixed)
    phi = solve(*system, solver=solver_iter_pcg(M=build_pc_diag(system[0]), rtol=1e-8))
    unit = LinearForm(lambda v, w: (w["which"]) * v)

    def mean(which) -> float:
        place = np.asarray(skin.global_coordinates())
        chosen = which(place).astype(float)
        flow = unit.assemble(skin, which=chosen) @ phi / RHO
        return flow / (unit.assemble(skin, which=chosen) @ np.ones(basis.N))

    return {name: mean(which) for name, which in FACES.items()}


def face(axis: int, way: int):
    return lambda x: np.abs(x[axis] - way * EDGE / 2) < 1e-7


def ring(low: float, high: float):
    """Of the face towards the anode, by the larger distance from its middle over half an edge."""

    def inside(x):
        far = np.maximum(np.abs(x[1]), np.abs(x[2])) / (EDGE / 2)
        return face(0, -1)(x) & (far >= low) & (far < high)

    return inside


FACES = {
    "to the anode": face(0, -1),
    "away from it": face(0, 1),
    "side": lambda x: face(1, 1)(x) | face(2, 1)(x) | face(1, -1)(x) | face(2, -1)(x),
    "middle": ring(0.0, 0.6),
    "rim": ring(0.8, 1.01),
}


@pytest.mark.slow
@pytest.mark.parametrize("cells", [1, 20])
def test_cube_in_a_box(bricks, cells):
    """Every face within 0.5 % and the rim 1 %, whether the cube has 12 triangles or 4,800; the total within 0.1 %."""
    job = read_job(
        {
            "bath": {"conductivity_S_m": KAPPA, "kinetics": {"kind": "linear", "resistance_ohm_m2": RHO}},
            "tank": {"size_mm": [200, 100, 100], "level_mm": 100},
            "anode": [{"plate_mm": [100, 100], "centre_mm": [-100, 0, 50], "normal": [1, 0, 0]}],
            "effort": {"panels": 2500},
        }
    )
    cube = models.moved(models.box([EDGE] * 3, [cells] * 3), [-EDGE / 2] * 3)
    surface = run_to_end(inspection.inspect(models.part(cube)))
    field = run_to_end(run(surface, job, voltage=1.0))
    where = surface.centroid.T
    for name, which in FACES.items():
        if cells == 1 and name in ("middle", "rim"):
            continue
        some = which(where)
        found = float(np.average(field.density[some], weights=surface.area[some]))
        assert found == pytest.approx(bricks[name], rel=0.01 if name == "rim" else 0.005), name
    total = sum(bricks[name] * faces for name, faces in (("to the anode", 1), ("away from it", 1), ("side", 4)))
    assert field.current == pytest.approx(total * EDGE**2, rel=0.001)
