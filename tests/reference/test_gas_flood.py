"""Gas pockets against a flood of cells: scipy.ndimage's labels of the liquid, layer by layer from the top.

The flood knows nothing of surfaces, so that tunnels, nested bodies and overhangs of every kind are a
test of the claim that the surface's points and edges and a few upward links tell all.
"""

from __future__ import annotations

import igl
import numpy as np
import pytest
from scipy import ndimage

from addon.engine.trapping import gas
from addon.engine.mesh import inspection
from addon.engine.trapping.gas import Drainage, Gas
from addon.engine.progress import run_to_end

from grids import blocks, filled, trapped, without_voids
from models import Model, moved, part, rotation
from scans import mended_bunny

UP = np.array([0.0, 0.0, 1.0])
WIDE = 0.1  # capillary length, of the unit of these models: small, so that all pockets are listed


def gas_of(model: Model, up: np.ndarray = UP) -> Gas:
    return run_to_end(gas.trapped(run_to_end(inspection.inspect(part(model))), up, capillary_length=WIDE))


def drainage_of(model: Model, up: np.ndarray = UP) -> Drainage:
    return run_to_end(gas.held(run_to_end(inspection.inspect(part(model))), up, capillary_length=WIDE))


def sponge(seed: int, size: int = 16) -> np.ndarray:
    """A random porous solid; its cells touch at edges and corners too."""
    random = np.random.default_rng(seed)
    noise = ndimage.gaussian_filter(random.normal(size=(size, size, size)), 0.8 + 0.1 * (seed % 4))
    return without_voids(noise > np.quantile(noise, 0.55))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_porous_blocks_agree_cell_by_cell(seed: int) -> None:
    """On a grid the flood is exact, and so must be the mesh: same volume, all faces level or upright.

    Level ceilings everywhere make every height a tie, and cells that touch at an edge leave gaps of no width,
    which gas does not pass.
    """
    solid = sponge(seed)
    assert gas_of(blocks(solid)).trapped_volume == pytest.approx(trapped(solid).sum(), abs=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [2, 3])
def test_porous_blocks_agree_whichever_axis_is_up(seed: int) -> None:
    """The same for the other ways up, and for liquid held, which is gas with the grid turned over."""
    solid = sponge(seed, 12)
    model = blocks(solid)
    for axis in range(3):
        for sign in (1, -1):
            turned = np.moveaxis(solid, axis, 2)[:, :, ::sign]
            expected = pytest.approx(trapped(turned).sum(), abs=1e-9)
            up = sign * np.eye(3)[axis]
            assert gas_of(model, up).trapped_volume == expected
            assert drainage_of(model, -up).held_volume == expected


def test_pockets_of_blocks_are_the_floods_pieces() -> None:
    """Pocket by pocket: the volumes are the sizes of the connected pieces of trapped cells (scipy.ndimage.label)."""
    solid = sponge(1)
    label, count = ndimage.label(trapped(solid))
    sizes = np.sort(np.bincount(label.ravel())[1:])[::-1]
    found = gas_of(blocks(solid))
    assert found.small == 0
    assert [pocket.volume for pocket in found.pockets] == pytest.approx(sizes, abs=1e-9)
    assert count > 5


def cavernous(seed: int, size: int = 32) -> Model:
    """A level surface of random waves inside a ball: smooth, with tunnels, hollows and loose pieces (libigl)."""
    random = np.random.default_rng(seed)
    line = np.linspace(-1, 1, size)
    place = np.stack(np.meshgrid(line, line, line, indexing="ij"), axis=-1)
    waves = random.normal(size=(60, 3)) * 7
    field = np.cos(place @ waves.T + random.uniform(0, 2 * np.pi, 60)).sum(axis=-1) / np.sqrt(30) + 0.2
    field = np.minimum(field, (0.85 - np.linalg.norm(place, axis=-1)) * 8)
    swapped = place.transpose(2, 1, 0, 3).reshape(-1, 3)
    values = field.transpose(2, 1, 0).reshape(-1)
    points, faces = igl.marching_cubes(values, np.ascontiguousarray(swapped), size, size, size, 0.0)[:2]
    return points, faces.astype(np.int32)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [2, 5, 8])
def test_a_flood_of_cells_converges_to_the_exact_volume(seed: int) -> None:
    """The flood's error falls with the cell: a third of the pockets' area times a cell bounds it, at three sizes.

    Lips and walls are seen to within a cell. The seeds are such that no neck is narrower than the cells.
    """
    surface = run_to_end(inspection.inspect(part(moved(cavernous(seed), turn=rotation(seed)))))
    model = surface.points, surface.triangles[surface.wetted]
    exact = run_to_end(gas.trapped(surface, UP, capillary_length=WIDE))
    assert exact.trapped_volume > 0
    for cell in (0.06, 0.03, 0.015):
        flooded = trapped(filled(model, cell)).sum() * cell**3
        assert abs(flooded - exact.trapped_volume) < exact.trapped_area * cell / 3


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 1, 5])
def test_a_flood_converges_on_a_scanned_model(seed: int) -> None:
    """The Stanford bunny, 100,000 triangles, its holes mended: folds below ears and paws keep a few mm3.

    The flood stays within a cell's thickness of the pockets' walls, at each of three sizes.
    """
    model, turn = mended_bunny(), rotation(seed)
    exact = gas_of(model, turn.T @ UP)
    assert exact.trapped_volume > 1e-9
    for cell in (1e-3, 0.6e-3, 0.4e-3):
        flooded = trapped(filled(moved(model, turn=turn), cell)).sum() * cell**3
        assert abs(flooded - exact.trapped_volume) < exact.trapped_area * cell


def test_a_neck_too_narrow_for_the_cells_lets_the_gas_out() -> None:
    """Where the flood stays above the exact volume however fine its cells, a ray finds the neck that it misses.

    The gap over the lip of the largest pocket is 0.010 high (trimesh, embree); cells of 0.015 shut it.
    """
    import trimesh

    surface = run_to_end(inspection.inspect(part(moved(cavernous(7), turn=rotation(7)))))
    lip = run_to_end(gas.trapped(surface, UP, capillary_length=WIDE)).pockets[0].spill
    solid = trimesh.Trimesh(surface.points, surface.triangles[surface.wetted], process=False)
    below, _, _ = solid.ray.intersects_location([lip - 1e-5 * UP], [-UP], multiple_hits=False)
    assert lip[2] - below[0, 2] == pytest.approx(0.010, abs=0.001)
