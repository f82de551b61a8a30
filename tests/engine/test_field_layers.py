"""The layer operators: their integrals, the fast products beside dense ones, and what must not change them."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from addon.engine.field.bem import quadrature
from addon.engine.field.bem.integrals import Triangles, layers
from addon.engine.field.bem.layers import LayerOperators
from addon.engine.progress import run_to_end

from models import box, cup, moved, rotation, sphere, torus

Array = np.ndarray


def corners_of(model: tuple[Array, Array]) -> Array:
    points, faces = model
    return points[faces]


def soup(n: int, seed: int = 0, sizes: tuple[float, float] = (0.02, 0.15), thin: float = 1.0) -> Array:
    """Triangles of mixed sizes strewn in a flattened cloud, `thin` times as long as wide."""
    rng = np.random.default_rng(seed)
    size = np.exp(rng.uniform(*np.log(sizes), (n, 1, 1)))
    shape = rng.normal(size=(n, 3, 3))
    shape[:, 1] = shape[:, 0] + (shape[:, 1] - shape[:, 0]) / thin
    return rng.normal(size=(n, 1, 3)) * [3, 2, 1] + size * shape


def dense(
    corners: Array, points: Array | None = None, mirrors: list[tuple[Array, Array]] | None = None
) -> tuple[Array, Array]:
    """S and D as full matrices of exact integrals; a mirror adds the mirrored points to each point."""
    points = corners.mean(axis=1) if points is None else points
    triangles, n = Triangles.of(corners), len(corners)
    images = [points]
    for at, normal in mirrors or []:
        images += [x - 2 * ((x - at) @ normal)[:, None] * normal for x in images]
    single, double = np.zeros((len(points), n)), np.zeros((len(points), n))
    for x in images:
        one, two = layers(np.repeat(x, n, axis=0), triangles, np.tile(np.arange(n), len(x)))
        single += one.reshape(-1, n) / (4 * np.pi)
        double += two.reshape(-1, n) / (4 * np.pi)
    return single, double


def off(found: Array, wanted: Array) -> float:
    """Root mean square of the difference over that of what is wanted."""
    return float(np.sqrt(((found - wanted) ** 2).mean() / (wanted**2).mean()))


# The exact integrals


def by_angles(point: Array, triangle: Array) -> tuple[float, float]:
    """Both integrals by adaptive quadrature over the angle about the foot of the point (scipy, QUADPACK).

    Over one ray from the foot the integrals of r dr / d and h r dr / d^3, d^2 = r^2 + h^2, are elementary.
    """
    a, b, c = triangle
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal)
    h = float((point - a) @ normal)
    foot = point - h * normal
    u = (b - a) / np.linalg.norm(b - a)
    v = np.cross(normal, u)
    flat = np.stack([(triangle - foot) @ u, (triangle - foot) @ v], axis=1)
    return tuple(np.sum([_sector(p, q, h) for p, q in pairwise([*flat, flat[0]])], axis=0))


def _sector(p: Array, q: Array, h: float) -> tuple[float, float]:
    """The same over the triangle from the foot to p and q, negative where that turns clockwise."""
    sweep = math.atan2(p[0] * q[1] - p[1] * q[0], p @ q)
    if abs(sweep) < 1e-14:
        return 0.0, 0.0
    along = (q - p) / np.linalg.norm(q - p)
    away = p - (p @ along) * along
    distance, direction, start = np.linalg.norm(away), math.atan2(away[1], away[0]), math.atan2(p[1], p[0])

    def reach(angle: float) -> float:
        return math.hypot(distance / math.cos(angle - direction), h)

    def over_the_sweep(f: Callable[[float], float]) -> float:
        return quad(f, start, start + sweep, epsabs=1e-13, epsrel=1e-12, limit=200)[0]

    return over_the_sweep(lambda t: reach(t) - abs(h)), over_the_sweep(lambda t: np.sign(h) - h / reach(t))


TRIANGLE = np.array([[0.1, -0.2, 0.3], [1.3, 0.1, 0.2], [0.4, 0.9, -0.1]])
UP = np.cross(TRIANGLE[1] - TRIANGLE[0], TRIANGLE[2] - TRIANGLE[0]) / np.linalg.norm(
    np.cross(TRIANGLE[1] - TRIANGLE[0], TRIANGLE[2] - TRIANGLE[0])
)


@pytest.mark.parametrize("height", [1.0, 0.1, 1e-3, -1e-3, -0.5])
@pytest.mark.parametrize(
    "weights",
    [(1 / 3, 1 / 3, 1 / 3), (0.6, 0.399, 0.001), (0.6, 0.401, -0.001), (2.0, -0.5, -0.5), (1.0, 1e-3, -1e-3)],
    ids=["inside", "just inside an edge", "just outside an edge", "outside", "beside a corner"],
)
def test_exact_integrals_agree_with_adaptive_quadrature(weights: tuple[float, ...], height: float) -> None:
    """1/r and d/dn (1/r) over a triangle from points above, below, near edges and corners: scipy's quad, 1e-9."""
    point = np.array(weights) @ TRIANGLE + height * UP
    single, double = layers(point[None], Triangles.of(TRIANGLE[None]), np.array([0]))
    assert (single[0], double[0]) == pytest.approx(by_angles(point, TRIANGLE), rel=1e-9, abs=1e-10)


def test_exact_integrals_in_the_plane() -> None:
    """In the plane the solid angle's principal value is zero; on an edge and a corner 1/r stays finite.

    From a corner, with p the distance to the far side: p (asinh(tan b) - asinh(tan a)), elementary.
    """
    triangle = np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    points = np.array([[0.2, 0.3, 0], [3, 1, 0], [0, 0, 0], [0.5, 0, 0]])
    single, double = layers(points, Triangles.of(triangle), np.zeros(4, int))
    assert (double == 0).all()
    assert np.isfinite(single).all()
    assert single[2] == pytest.approx(math.sqrt(0.5) * 2 * math.asinh(1.0), rel=1e-12)


@pytest.mark.parametrize(("rule", "degree"), [(quadrature.THREE, 2), (quadrature.SIX, 4)])
def test_rules_integrate_all_monomials_of_their_degree(rule: tuple[Array, Array], degree: int) -> None:
    """Over a triangle the mean of x^i y^j z^k (barycentric) is 2 i! j! k! / (i + j + k + 2)!."""
    points, weights = rule
    for i in range(degree + 1):
        for j in range(degree + 1 - i):
            mean = 2 * math.factorial(i) * math.factorial(j) / math.factorial(i + j + 2)
            assert weights @ (points[:, 0] ** i * points[:, 1] ** j) == pytest.approx(mean, rel=1e-10)


# Fast products beside dense ones

DOWN = (np.array([0.0, 0.0, 6.0]), np.array([0.0, 0.0, -1.0]))
ASKEW = [
    (np.array([0.0, 0.0, 6.0]), np.array([0.0, 0.0, -1.0])),
    (np.array([-16.0, 0.0, 0.0]), np.array([0.6, 0.8, 0.0])),
    (np.array([9.0, -14.0, 0.0]), np.array([-0.8, 0.6, 0.0])),
]


@pytest.fixture(scope="module", params=[[], [DOWN], ASKEW], ids=["no mirror", "one mirror", "three mirrors"])
def strewn(request: pytest.FixtureRequest) -> dict[str, Array]:
    """A soup behind mirrors, its dense matrices at some centroids and at other points, and densities."""
    rng = np.random.default_rng(1)
    corners, rows = soup(2000), rng.choice(2000, 120, replace=False)
    points = rng.normal(size=(60, 3)) * [3, 2, 1]
    at_centroids = dense(corners, corners[rows].mean(axis=1), request.param)
    q, phi = rng.normal(size=(2, len(corners)))
    return {
        "corners": corners,
        "mirrors": request.param,
        "rows": rows,
        "at_centroids": at_centroids,
        "points": points,
        "at_points": dense(corners, points, request.param),
        "q": q,
        "phi": phi,
    }


@pytest.mark.slow
@pytest.mark.parametrize("accuracy", [1e-3, 1e-4, 1e-5])
def test_products_agree_with_dense_matrices(accuracy: float, strewn: dict[str, Array]) -> None:
    """S q, D phi, both at once, and the field at other points, on a soup of panels of mixed sizes."""
    q, phi, rows = strewn["q"], strewn["phi"], strewn["rows"]
    fast = LayerOperators(strewn["corners"], accuracy=accuracy, mirrors=strewn["mirrors"])
    single, double = strewn["at_centroids"]
    assert off(fast.single(q)[rows], single @ q) < accuracy
    assert off(fast.double(phi)[rows], double @ phi) < 4 * accuracy
    assert off(fast.apply(q, phi)[rows], single @ q - double @ phi) < 4 * accuracy
    assert off(fast.double_row_sum[rows], double.sum(axis=1)) < 4 * accuracy
    single, double = strewn["at_points"]
    assert off(fast.evaluate(strewn["points"], q, phi), single @ q - double @ phi) < 4 * accuracy
    assert off(fast.evaluate(strewn["points"], q), single @ q) < accuracy


@pytest.mark.parametrize(
    "corners",
    [soup(2000, 2, (0.003, 1.0)), soup(2000, 3, (0.05, 0.3), thin=50.0)],
    ids=["sizes 1 to 300", "slivers"],
)
def test_products_agree_on_hard_panels(corners: Array) -> None:
    """Panels of very mixed sizes, and slivers, against dense matrices."""
    rng = np.random.default_rng(2)
    q, phi = rng.normal(size=(2, len(corners)))
    rows = rng.choice(len(corners), 150, replace=False)
    single, double = dense(corners, corners[rows].mean(axis=1))
    fast = LayerOperators(corners)
    assert off(fast.single(q)[rows], single @ q) < 2e-4
    assert off(fast.double(phi)[rows], double @ phi) < 4e-4


def test_few_panels_are_dense() -> None:
    """One panel, and a dozen, need no tree; the own term of S is exact to single precision."""
    for corners in (TRIANGLE[None], corners_of(box())):
        single, _ = dense(corners)
        assert LayerOperators(corners).diagonal == pytest.approx(single.diagonal(), rel=1e-6)


def test_single_layer_alone_is_the_same() -> None:
    """Without D the products with S are the same to single precision."""
    corners = soup(1000, 4)
    q = np.random.default_rng(4).normal(size=len(corners))
    alone = LayerOperators(corners, double=False)
    both = LayerOperators(corners)
    assert off(alone.single(q), both.single(q)) < 1e-6
    assert off(alone.evaluate(np.zeros((1, 3)), q), both.evaluate(np.zeros((1, 3)), q)) < 1e-6


def test_targets_are_the_same_as_among_all() -> None:
    """Asked for at the first panels alone, products, diagonal and leaf blocks are those of the whole: the rest acts."""
    corners = np.concatenate([corners_of(sphere(1.0, 3)), corners_of(moved(sphere(1.0, 3), (2.5, 0.3, 0.0)))])
    q, phi = np.random.default_rng(6).normal(size=(2, len(corners)))
    some = len(corners) // 2 + 40  # among them some of the second sphere
    whole, part = LayerOperators(corners), LayerOperators(corners, targets=some)
    assert off(part.apply(q, phi), whole.apply(q, phi)[:some]) < 1e-6
    assert np.array_equal(part.diagonal, whole.diagonal[:some])
    groups = part.groups(60)
    assert np.array_equal(np.sort(np.concatenate(groups)), np.arange(some))
    assert all(part.neighborhood(group, 90).panels.max() < some for group in groups)
    assert part.memory < 0.9 * whole.memory


# What must hold whatever the panels


@pytest.mark.parametrize(
    "model", [sphere(1.0, 3), torus(), cup(1.0, 2.0, 0.2, around=48, rows=4), box(cells=(9, 9, 9))]
)
def test_constant_potential_sees_the_solid_angle(model: tuple[Array, Array]) -> None:
    """Gauss: of a closed surface wound outward D 1 is -1/2 on its flat panels, -1 inside and 0 outside."""
    corners = corners_of(moved(model, turn=rotation(5)))
    fast = LayerOperators(corners, accuracy=1e-5)
    assert np.abs(fast.double_row_sum + 0.5).max() < 3e-4
    step = 0.05 * fast.normal[::50]
    ones, zeros = np.ones(fast.n), np.zeros(fast.n)
    inside = -fast.evaluate(fast.centroid[::50] - step, zeros, ones)
    outside = -fast.evaluate(fast.centroid[::50] + step, zeros, ones)
    assert np.abs(inside + 1).max() < 3e-4
    assert np.abs(outside).max() < 3e-4


def test_a_mirror_is_the_panels_behind_it() -> None:
    """One mirror, against the same panels with their images as panels of their own (wound for the mirrored normal)."""
    corners = corners_of(moved(sphere(1.0, 3), (0.2, 0.1, -1.3)))
    rng = np.random.default_rng(6)
    q, phi = rng.normal(size=(2, len(corners)))
    image = (corners * [1, 1, -1])[:, ::-1]
    explicit = LayerOperators(np.concatenate([corners, image]), accuracy=1e-5)
    mirror = LayerOperators(corners, accuracy=1e-5, mirrors=[((0, 0, 0), (0, 0, -1))])
    wanted = explicit.apply(np.tile(q, 2), np.tile(phi, 2))[: len(corners)]
    assert off(mirror.apply(q, phi), wanted) < 2e-4
    points = rng.uniform(-3, -0.1, size=(100, 3))
    assert off(mirror.evaluate(points, q, phi), explicit.evaluate(points, np.tile(q, 2), np.tile(phi, 2))) < 2e-4


@pytest.mark.slow
def test_order_place_turn_and_scale_do_not_matter() -> None:
    """Shuffled, turned, moved and 1,000 times smaller: S scales with length, D not at all."""
    corners = corners_of(torus())
    rng = np.random.default_rng(7)
    q, phi = rng.normal(size=(2, len(corners)))
    order = rng.permutation(len(corners))
    first = LayerOperators(corners)
    other = LayerOperators((1e-3 * corners @ rotation(7).T + [0.1, 0.2, -0.3])[order])
    assert off(other.single(q[order]), 1e-3 * first.single(q)[order]) < 2e-4
    assert off(other.double(phi[order]), first.double(phi)[order]) < 1e-3


@pytest.mark.slow
def test_finer_panels_converge_to_a_known_field() -> None:
    """Green's identity for 1/r from a point inside a sphere: the field outside comes back, the error falling as h^2."""
    source, points = np.array([0.2, -0.1, 0.3]), np.array([[2.0, 0.5, 0.3], [-1.2, 1.2, 1.0]])
    errors = []
    for level in (2, 3, 4):
        fast = LayerOperators(corners_of(sphere(1.0, level)), accuracy=1e-5)
        apart = fast.centroid - source
        r = np.linalg.norm(apart, axis=1)
        slope = -np.einsum("ij,ij->i", apart, fast.normal) / r**3
        found = -fast.evaluate(points, slope, 1 / r)
        errors.append(np.abs(found * np.linalg.norm(points - source, axis=1) - 1).max())
    assert np.log2(errors[0] / errors[1]) > 1.8
    assert np.log2(errors[1] / errors[2]) > 1.8


# The parts that a solver takes


def test_neighborhoods_are_parts_of_the_dense_matrices() -> None:
    """Every panel is in one group; a group with those round it has the dense entries, the farthest pairs to a tenth."""
    fast = LayerOperators(corners_of(moved(torus(around=48, across=24), turn=rotation(8))))
    groups = fast.groups(60)
    assert np.array_equal(np.sort(np.concatenate(groups)), np.arange(fast.n)) and max(map(len, groups)) <= 60
    for group in groups[::3]:
        found = fast.neighborhood(group, 90)
        assert len(found.panels) == 90 and np.array_equal(found.panels[: found.own], group)
        single, double = dense(fast.corners[found.panels])
        assert np.abs(found.single / single - 1).max() < 0.1
        assert off(found.single[: found.own], single[: found.own]) < 2e-3
        assert off(found.double, double) < 1e-2
        assert np.abs(fast.diagonal[group] / single.diagonal()[: found.own] - 1).max() < 1e-6


def test_panels_with_one_middle_have_finite_neighborhoods() -> None:
    """A triangle and the same one shrunk about its middle: as points they would lie at no distance."""
    some = soup(40, seed=3)
    twin = some[:1].mean(axis=1, keepdims=True) + 0.5 * (some[:1] - some[:1].mean(axis=1, keepdims=True))
    corners = np.concatenate([some, twin])
    fast = LayerOperators(corners)
    with np.errstate(all="raise", under="ignore"):
        for group in fast.groups(10):
            found = fast.neighborhood(group, 30)
            assert np.isfinite(found.single).all() and np.isfinite(found.double).all()


@pytest.mark.slow
def test_memory_is_foretold() -> None:
    """Before anything is integrated, within 5 % of what is then held, and not below; even and behind a mirror."""
    corners = corners_of(torus(around=80, across=36))
    for more in ({}, {"double": False}, {"targets": 2000}, {"mirrors": [((0, 0, -0.6), (0, 0, 1))]}):
        taken = LayerOperators(corners, **more).memory
        assert taken <= LayerOperators.memory_estimate(corners, **more) <= 1.05 * taken


def test_points_on_a_panel_are_integrated_exactly() -> None:
    """At corners, edge middles and integration points of panels the single layer is that of exact integrals."""
    corners = corners_of(moved(sphere(1.0, 3), turn=rotation(9)))
    fast = LayerOperators(corners, double=False)
    points = np.concatenate([corners[::90, 0], corners[::90, :2].mean(axis=1), quadrature.SIX[0] @ corners[7]])
    q = np.ones(fast.n)
    assert off(fast.evaluate(points, q), dense(corners, points)[0] @ q) < 1e-4
    assert len(fast.evaluate(np.empty((0, 3)), q)) == 0


@pytest.mark.slow
def test_building_takes_steps() -> None:
    """The steps come often and forwards, and lead to the same operators as the constructor."""
    corners = corners_of(torus(around=80, across=36))
    steps = LayerOperators.build(corners)
    fractions = [next(steps).fraction for _ in range(3)]
    assert fractions == sorted(fractions)
    fast = run_to_end(steps)
    q = np.ones(fast.n)
    assert np.array_equal(fast.single(q), LayerOperators(corners).single(q))


def test_bad_panels_and_mirrors_are_refused() -> None:
    """A panel without area, mirrors that are not perpendicular, panels behind a mirror: one clear line each."""
    corners = corners_of(box())
    flat = corners.copy()
    flat[3, 2] = flat[3, 1]
    with pytest.raises(ValueError, match="the first is panel 3"):
        LayerOperators(flat)
    with pytest.raises(ValueError, match="perpendicular"):
        LayerOperators(corners, mirrors=[((0, 0, -1), (0, 0, 1)), ((0, 0, 2), (0, 0, -1))])
    with pytest.raises(ValueError, match=r"0\.5 m behind"):
        LayerOperators(corners, mirrors=[((0, 0, 0.5), (0, 0, 1))])
