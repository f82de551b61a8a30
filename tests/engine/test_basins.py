"""The steps below the gas room: spill levels, upward rays, clipped triangles, points taken apart."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from addon.engine.geometry import clip
from addon.engine.mesh import inspection
from addon.engine.trapping.basins import find_basins
from addon.engine.mesh.nonmanifold import separate
from addon.engine.trapping import overhead
from addon.engine.trapping.overhead import ceilings_over
from addon.engine.trapping.relief import Relief, prepare
from addon.engine.trapping.spill import minimax_passes
from addon.engine.progress import run_to_end
from addon.engine.mesh.topology import Topology

from grids import blocks
from scans import dirty_bunny
from models import Model, box, cup, joined, moved, part, rotation, sphere, torus


def relief_of(model: Model) -> Relief:
    return prepare(run_to_end(inspection.inspect(part(model))))


def spilled_one_by_one(count: int, a: np.ndarray, b: np.ndarray, opened: list[int]) -> np.ndarray:
    """The same by opening the passes one after the other from the highest (Kruskal, with a plain union-find)."""
    parent = list(range(count))

    def root(node: int) -> int:
        while parent[node] != node:
            node = parent[node]
        return node

    out = np.full(count, -1)
    out[opened] = len(a)
    for k in range(len(a) - 1, -1, -1):
        first, second = root(a[k]), root(b[k])
        if first == second:
            continue
        for one, other in ((first, second), (second, first)):
            members = [node for node in range(count) if root(node) == one]
            if out[members].max() < 0 <= out[[node for node in range(count) if root(node) == other]].max():
                out[members] = k
        parent[first] = second
    return out


@pytest.mark.parametrize("seed", range(30))
def test_spill_is_the_best_worst_pass(seed: int) -> None:
    """All at once by Boruvka's rounds, or pass by pass by Kruskal: the same spill level for every basin."""
    random = np.random.default_rng(seed)
    count, passes = 40, int(random.integers(0, 120))
    a, b = random.integers(0, count, (2, passes))
    a, b = a[a != b], b[a != b]
    opened = random.choice(count, int(random.integers(1, 4)), replace=False)
    expected = spilled_one_by_one(count, a, b, list(opened))
    assert (minimax_passes(count, a, b, opened) == expected).all()


def test_upward_rays_meet_what_embree_meets() -> None:
    """First downward-facing triangle over each point, against all crossings of a ray by trimesh and embree."""
    bodies = [moved(torus(6, 1.5, 40, 20), (k % 3, k % 2, 5 * k), rotation(k)) for k in range(4)]
    model = joined(cup(12, 4, 1, around=40), *bodies, moved(sphere(3, 3), (1, 1, 25)))
    relief = relief_of(model)
    up = rotation(9) @ np.array([0.0, 0.0, 1.0])
    height = relief.points @ up
    origin = np.arange(0, len(relief.points), 3)
    found = ceilings_over(relief, up, height, origin)
    solid = trimesh.Trimesh(relief.points, np.stack(relief.corners, axis=1), process=False)
    starts = relief.points[origin]
    places, ray, hit = solid.ray.intersects_location(starts, np.tile(up, (len(starts), 1)), multiple_hits=True)
    rise = (places - starts[ray]) @ up
    ceiling = (rise > 1e-3) & (relief.vector[hit] @ up < 0)
    lowest = np.full(len(origin), np.inf)
    np.minimum.at(lowest, ray[ceiling], rise[ceiling])
    over = found >= 0
    assert (over == np.isfinite(lowest)).all()
    normal, start = relief.vector[found[over]], starts[over]
    plane = relief.points[relief.corners[0][found[over]]]
    own = np.einsum("ij,ij->i", plane - start, normal) / (normal @ up)
    assert over.sum() > 100
    assert own == pytest.approx(lowest[over], abs=1e-3)


@pytest.mark.parametrize("cells", [16, 512])
def test_ceilings_do_not_hang_on_the_raster(cells: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The raster of cells only sorts the pairs to be tried: whatever its fineness, the same triangle is over a point."""
    bodies = [moved(torus(6, 1.5, 40, 20), (k % 3, k % 2, 5 * k), rotation(k)) for k in range(4)]
    relief = relief_of(joined(cup(12, 4, 1, around=40), *bodies))
    up = rotation(9) @ np.array([0.0, 0.0, 1.0])
    asked = relief, up, relief.points @ up, np.arange(len(relief.points))
    usual = ceilings_over(*asked)
    monkeypatch.setattr(overhead, "RASTER_CELLS_PER_AXIS", (cells, cells))
    assert (usual >= 0).sum() > 100
    assert (ceilings_over(*asked) == usual).all()


def test_ray_along_an_edge_and_through_a_corner_meets() -> None:
    """Where everything lines up, as in drawn parts: points straight below a ceiling's corner and edge see it."""
    low, high = box((4, 4, 1), (4, 4, 1)), moved(box((2, 2, 1)), (1, 1, 3))
    relief = relief_of(joined(low, high))
    up = np.array([0.0, 0.0, 1.0])
    top = np.flatnonzero(np.isclose(relief.points[:, 2], 1))
    met = ceilings_over(relief, up, relief.points @ up, top) >= 0
    inside = ((relief.points[top, :2] >= 1) & (relief.points[top, :2] <= 3)).all(axis=1)
    assert (met == inside).all()
    assert inside.sum() == 9


@pytest.mark.parametrize(
    ("height", "share", "mean"),
    [
        ((1, 1, 1), 1, 1),
        ((-1, -1, -2), 0, 0),
        ((1, -1, -1), 1 / 4, 1 / 12),  # half the sides: a quarter of the area, its mean height 1 / 3
        ((1, 1, -1), 3 / 4, 5 / 12),  # the whole's 1 / 3 and what the cut corner had below
        ((0, 0, 3), 1, 1),
        ((0, -1, 1), 1 / 2, 1 / 6),
        ((0, 0, 0), 0, 0),
    ],
)
def test_part_above_a_level(height: tuple[float, ...], share: float, mean: float) -> None:
    """By similar triangles."""
    assert clip.above(np.array([height], dtype=float)) == pytest.approx((share, mean))


def test_parts_above_and_below_make_the_whole() -> None:
    """Shares add up to one; means differ by the mean height."""
    height = np.random.default_rng(0).normal(size=(1000, 3))
    (above, rise), (below, fall) = clip.above(height), clip.above(-height)
    assert above + below == pytest.approx(1.0)
    assert rise - fall == pytest.approx(height.mean(axis=1))


def test_points_where_bars_touch_are_taken_apart() -> None:
    """Bars that share an edge part the liquid beside it: each side gets own points, but at the edge's two ends.

    Bars that share a corner get one each there. A clean surface keeps its points.
    """
    for place, more in (((1, 1, slice(0, 3)), 2), ((1, 1, slice(3, 6)), 1), ((2, 2, slice(0, 3)), 0)):
        solid = np.zeros((3, 3, 6), dtype=bool)
        solid[0, 0, :3] = True
        solid[place] = True
        points, faces = blocks(solid)
        apart, origin = separate(points, faces, Topology.of(faces, len(points)))
        assert len(origin) == len(points) + more
        assert (points[origin[apart]] == points[faces]).all()


def test_edges_of_two_need_not_be_sorted_again() -> None:
    """What is taken apart is the same where the pairs at edges of two are given, on a scan with crowded edges."""
    points, faces = dirty_bunny()
    whole = Topology.of(faces, len(points))
    first = whole.starts[:-1][np.diff(whole.starts) == 2]
    pairs = np.stack([whole.half_edges[first], whole.half_edges[first + 1]])
    pairs = pairs[:, faces.reshape(-1)[pairs[0]] != faces.reshape(-1)[pairs[1]]]
    among = np.setdiff1d(np.arange(faces.size, dtype=np.int32), pairs)
    assert 0 < len(among) < faces.size // 10
    rest = Topology.of(faces, len(points), among=among)
    for found, wanted in zip(separate(points, faces, rest, pairs), separate(points, faces, whole), strict=True):
        np.testing.assert_array_equal(found, wanted)


def test_every_climb_ends_in_a_ceiling_or_the_open() -> None:
    """Tops of basins have solid above: straight above each lies more of the part (embree)."""
    relief = relief_of(joined(cup(10, 20, 1), moved(torus(6, 1.5, 64, 32), (0, 0, 8), rotation(1))))
    up = np.array([0.1, 0.0, -1.0])
    found = find_basins(relief, up)
    tops = relief.points[found.top[1:]]
    solid = trimesh.Trimesh(relief.points, np.stack(relief.corners, axis=1), process=False)
    assert len(tops)
    assert solid.ray.intersects_any(tops + 1e-3 * found.up, np.tile(found.up, (len(tops), 1))).all()
