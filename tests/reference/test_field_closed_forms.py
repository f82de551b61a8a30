"""The field solver against closed forms: resistance, densities, and kinetics, on shapes that have them.

C denotes capacitance over 4 pi eps0, a length: the resistance to infinity is 1 / (4 pi kappa C). Where a form is for
liquid without end, the anode is a sphere of 20 sizes whose own share of the resistance is taken off. Lengths are in
arbitrary units, kappa = 25 S/m. "Classical" forms are in every text on potential theory; those below are from memory
unless a source is given.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from addon.engine.field.bem.influence import Liquid
from addon.engine.chemistry.kinetics import ButlerVolmer, Linear, Tafel
from addon.engine.tank.body import Role

import models
from cells import Bench, Surface, bowl, disk, graded, onto_sphere

KAPPA = 25.0
OUTER_RADIUS = 20.0


def far() -> Surface:
    """An anode all round, 20 units away."""
    return Surface(models.inside_out(onto_sphere(models.sphere(1, 2), OUTER_RADIUS)), Role.ANODE)


def length(bench: Bench, state: object) -> float:
    """C of the first surface, from its resistance to the far sphere."""
    return 1.0 / (4.0 * np.pi * KAPPA * bench.ohms(state) + 1.0 / OUTER_RADIUS)


@pytest.fixture(scope="module")
def spheres() -> Bench:
    """Concentric spheres of 10 and 50 mm."""
    inner, outer = (onto_sphere(models.sphere(1, level), r) for level, r in ((3, 0.01), (2, 0.05)))
    return Bench([Surface(inner, Role.PART), Surface(models.inside_out(outer), Role.ANODE)], Liquid())


@pytest.mark.slow
def test_concentric_spheres_primary(spheres):
    """R = (1/a - 1/b) / (4 pi kappa) = 0.254648 ohm for 10 and 50 mm (classical); even density."""
    state = spheres.solved(voltage=1.0)
    assert spheres.ohms(state) == pytest.approx(0.254648, rel=0.003)
    j = state.j[spheres.rows[0]]
    assert j.std() / j.mean() < 0.004


@pytest.mark.slow
@pytest.mark.parametrize("anode", [0.0, 5e-3])
def test_concentric_spheres_linear_kinetics(spheres, anode):
    """i_a = V / (rho_c + rho_a a^2/b^2 + (a/kappa) (1 - a/b)), derived by adding three resistances."""
    state = spheres.solved(Linear(2.57e-4), Linear(anode), voltage=1.0)
    expected = 1.0 / (2.57e-4 + anode / 25.0 + 0.01 / KAPPA * 0.8)
    assert spheres.mean(state, 0) == pytest.approx(expected, rel=0.003)


@pytest.mark.slow
def test_concentric_spheres_tafel(spheres):
    """U = b asinh(i / 2 i0) + I R: the same sum with Tafel's line, which is 12 % of b above the linear part here."""
    law, current = Tafel(10.0, 0.0514), 0.5
    state = spheres.solved(law, current=current)
    density = current / (4.0 * np.pi * 0.01**2)
    assert state.voltage == pytest.approx(0.0514 * np.log(density / 10.0) + current * 0.254648, rel=0.002)


@pytest.mark.slow
def test_concentric_spheres_with_kinetics_at_both(spheres):
    """U = eta_c(i) - eta_a(-i a^2/b^2) + I R with Butler and Volmer's law at either sphere, held at a voltage and at a
    current: the root by scipy. Branch slopes of copper, RT/F over 0.5 and 1.5; exchange densities 10 and 0.3 A/m2."""
    cathode, anode = ButlerVolmer(10.0, 0.0514, 0.0171), ButlerVolmer(0.3, 0.0514, 0.0171)

    def volts(current: float) -> float:
        i = current / (4.0 * np.pi * 0.01**2)
        drops = cathode.overpotential(np.array(i)) - anode.overpotential(np.array(-i / 25.0))
        return float(drops) + current * 0.254648

    assert volts(0.5) - 0.5 * 0.254648 > 0.25  # the two drops are twice the liquid's
    held = spheres.solved(cathode, anode, voltage=0.4)
    assert spheres.current(held, 0) == pytest.approx(brentq(lambda i: volts(i) - 0.4, 1e-6, 2.0), rel=0.005)
    assert spheres.solved(cathode, anode, current=0.5).voltage == pytest.approx(volts(0.5), rel=0.002)


@pytest.mark.slow
def test_current_is_the_anode_s_too(spheres):
    """What goes into the cathode comes from the anode, to the solver's tolerance, whatever the kinetics."""
    for law in (Linear(), Linear(1e-3), Tafel(1.0, 0.05)):
        state = spheres.solved(law, current=0.3)
        assert -spheres.current(state, 1) == pytest.approx(spheres.current(state, 0), rel=1e-4)


@pytest.mark.slow
def test_concentric_cylinders_linear_kinetics():
    """i_a = V / (rho_c + rho_a a/b + (a/kappa) ln(b/a)), derived; insulating ends as panels."""
    a, b, h, around = 1.0, 3.0, 1.0, 64
    flat = np.sqrt(2 * np.pi / around / np.sin(2 * np.pi / around))  # polygons of the circles' areas
    line = np.linspace(0.0, h, 9)
    ring = np.linspace(a, b, 13)
    inner = models.lathe(np.stack([0 * line + a * flat, line], axis=1), around)
    outer = models.inside_out(models.lathe(np.stack([0 * line + b * flat, line], axis=1), around))
    ends = [models.lathe(np.stack([flat * r, 0 * r + z], axis=1), around) for r, z in ((ring[::-1], 0.0), (ring, h))]
    bench = Bench(
        [
            Surface(inner, Role.PART),
            Surface(outer, Role.ANODE),
            *(Surface(end, Role.INSULATOR) for end in ends),
        ],
        Liquid(),
    )
    for rho_c, rho_a in ((0.0, 0.0), (0.02, 0.01)):
        state = bench.solved(Linear(rho_c), Linear(rho_a), voltage=1.0)
        expected = 1.0 / (rho_c + rho_a * a / b + a / KAPPA * np.log(b / a))
        assert bench.mean(state, 0) == pytest.approx(expected, rel=0.01)


@pytest.fixture(scope="module")
def plates() -> Bench:
    """Two ends of a box of 100 mm between them: its walls are images, with no panels at all."""
    size = np.array([0.1, 0.05, 0.04])
    flat, faces = models.plate(size[1:], (5, 4))
    side = np.insert(flat[:, :2], 0, 0.0, axis=1)
    return Bench(
        [Surface((side, faces), Role.PART, True), Surface((side + (0.1, 0, 0), faces), Role.ANODE, True)],
        Liquid(box=np.array([0 * size, size])),
    )


def test_parallel_plates_fill_a_box(plates):
    """i = V / (rho_c + rho_a + d / kappa) with insulating sides (derived)."""
    state = plates.solved(Linear(1e-3), Linear(5e-4), voltage=1.0)
    np.testing.assert_allclose(state.j[plates.rows[0]], 1.0 / (1.5e-3 + 0.1 / KAPPA), rtol=0.002)


@pytest.mark.parametrize("volts", [0.02, 0.3, 1.5])
def test_parallel_plates_with_butler_and_volmer_at_both(plates, volts):
    """V = eta_c(i) + |eta_a(i)| + i d / kappa, each eta the root of i = i0 (exp(aC F eta / RT) - exp(-aA F eta / RT)),
    written out for scipy's brentq alone: from near rest, where the law is linear, to far out, where it is Tafel's."""
    unit, i0 = 8.314462618 * 298.15 / 96485.33212, (10.0, 30.0)

    def drop(i: float, exchange: float, own: float, other: float) -> float:
        return brentq(
            lambda e: exchange * (np.exp(own * e / unit) - np.exp(-other * e / unit)) - i, 0.0, 2.0, xtol=1e-14
        )

    def whole(i: float) -> float:
        return drop(i, i0[0], 0.5, 1.5) + drop(i, i0[1], 1.5, 0.5) + i * 0.1 / KAPPA - volts

    laws = [ButlerVolmer(exchange, unit / 0.5, unit / 1.5) for exchange in i0]
    state = plates.solved(*laws, voltage=volts)
    np.testing.assert_allclose(state.j[plates.rows[0]], brentq(whole, 1e-9, 1e4), rtol=0.002)


@pytest.fixture(scope="module")
def flush_disk() -> Bench:
    """A disk of radius 1 flush in an insulating plane, graded towards its rim."""
    flat = models.inside_out(disk(1.0, 16, 40, grade=2.5))
    return Bench([Surface(flat, Role.PART, True), Surface(bowl(OUTER_RADIUS), Role.ANODE)], Liquid(surface=0.0))


def half_space(bench: Bench, state: object) -> float:
    """R kappa a of the disk, the far bowl's share taken off."""
    return KAPPA * bench.ohms(state) + 1.0 / (2.0 * np.pi * OUTER_RADIUS)


def test_flush_disk_primary(flush_disk):
    """R kappa a = 1/4 and i / mean = 0.5 / sqrt(1 - (r/a)^2): J. Newman, J. Electrochem. Soc. 113 (1966) 501, 1235."""
    state = flush_disk.solved(voltage=1.0)
    assert half_space(flush_disk, state) == pytest.approx(0.25, rel=0.01)
    r = np.linalg.norm(flush_disk.centroid[flush_disk.rows[0]], axis=1)
    j = state.j[flush_disk.rows[0]] / flush_disk.mean(state, 0)
    inner = r < 0.9
    np.testing.assert_allclose(j[inner], 0.5 / np.sqrt(1.0 - r[inner] ** 2), rtol=0.03)
    for at, expected in ((0.5, 0.57735), (0.9, 1.14708)):
        assert np.interp(at, *_by_radius(r, j)) == pytest.approx(expected, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("wagner", "centre", "edge", "resistance"),
    [
        (0.1, 0.6224, 2.267, 0.29115),
        (0.2, 0.695, 1.759, 0.32594),
        (0.5, 0.8088, 1.358, 0.42491),
        (1.0, 0.8826, 1.1932, 0.58592),
        (2.0, 0.934, 1.101, 0.9054),
        (10.0, 0.985, 1.021, 3.4530),
    ],
)
def test_flush_disk_linear_kinetics(flush_disk, wagner, centre, edge, resistance):
    """Newman's series in oblate spheroidal coordinates, summed to the digits shown (edge +-0.001)."""
    state = flush_disk.solved(Linear(wagner / KAPPA), voltage=1.0)
    assert half_space(flush_disk, state) == pytest.approx(resistance, rel=0.01)
    r = np.linalg.norm(flush_disk.centroid[flush_disk.rows[0]], axis=1)
    j = state.j[flush_disk.rows[0]] / flush_disk.mean(state, 0)
    assert j[r < 0.12].mean() == pytest.approx(centre, rel=0.01)
    assert j[r > r.max() - 1e-9].mean() == pytest.approx(edge, rel=0.03 if wagner < 1 else 0.01)


def test_free_disk():
    """Both sides of a thin disk in the open: C = 2 a / pi (classical)."""
    flat = disk(1.0, 14, 36, grade=2.5)
    bench = Bench([Surface(flat, Role.PART, True, 2), far()], Liquid())
    assert length(bench, bench.solved(voltage=1.0)) == pytest.approx(2.0 / np.pi, rel=0.005)


def _by_radius(r: np.ndarray, j: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    order = np.argsort(r)
    return r[order], j[order]


@pytest.mark.slow
def test_prolate_spheroid():
    """C = sqrt(a^2 - b^2) / ln((a + sqrt(a^2 - b^2)) / b), and density ~ (x^2/b^4 + y^2/b^4 + z^2/a^4)^(-1/2) with
    pole over equator a / b (classical)."""
    ratio, expected = 2.0, 1.315191
    points, faces = models.sphere(1.0, 4)
    bench = Bench([Surface((points * (1.0, 1.0, ratio), faces), Role.PART), far()], Liquid())
    state = bench.solved(voltage=1.0)
    assert length(bench, state) == pytest.approx(expected, rel=0.004)
    x, y, z = bench.centroid[bench.rows[0]].T
    shape = (x**2 + y**2 + z**2 / ratio**4) ** -0.5
    shape *= bench.current(state, 0) / float(bench.area[bench.rows[0]] @ shape)
    np.testing.assert_allclose(state.j[bench.rows[0]], shape, rtol=0.03)


@pytest.mark.slow
def test_unit_cube():
    """C = 0.6606782: J. Helsing and K.-M. Perfekt, Appl. Comput. Harmon. Anal. 34 (2013) 445 (from memory); 0.660683
    +- 5e-6 by C.-O. Hwang and M. Mascagni (2003). The error falls with the panels' length."""
    errors = []
    for cells in (6, 12):
        cube = models.moved(models.box((1, 1, 1), (cells, cells, cells)), (-0.5, -0.5, -0.5))
        bench = Bench([Surface(cube, Role.PART), far()], Liquid())
        errors.append(length(bench, bench.solved(voltage=1.0)) / 0.6606782 - 1.0)
    assert abs(errors[1]) < 0.005
    assert 1.7 < errors[0] / errors[1] < 4.0


def test_unit_square_plate():
    """C = 0.366788 of both sides together: extrapolation of a boundary element solution; F. H. Read, J. Comput. Phys.
    133 (1997) 1, gives 0.36679 (from memory). Its density rises towards the edges as the square root."""
    n = 16
    flat, faces = models.plate((1, 1), (n, n))
    at = graded(-0.5, 0.5, n, low=2.0, high=2.0)
    sheet = np.stack([*at[np.rint(n * flat[:, :2]).astype(int)].T, 0 * flat[:, 0]], axis=1)
    bench = Bench([Surface((sheet, faces), Role.PART, True, 2), far()], Liquid())
    assert length(bench, bench.solved(voltage=1.0)) == pytest.approx(0.366788, rel=0.004)


def test_sphere_evens_out_each_harmonic():
    """An outside source's l-th harmonic on a sphere is weakened by 1 / (1 + (l + 1) Wa), Wa = kappa rho / a: derived
    from j (1 + (l + 1) Wa) = j primary for phi ~ r^-(l+1). The source is a small ball three radii away."""
    ball = models.moved(onto_sphere(models.sphere(1, 1), 0.05), (0.0, 0.0, 3.0))
    bench = Bench([Surface(onto_sphere(models.sphere(1, 3), 1.0), Role.PART), Surface(ball, Role.ANODE)], Liquid())
    rows, wagner = bench.rows[0], 0.7
    cosine = bench.centroid[rows, 2] / np.linalg.norm(bench.centroid[rows], axis=1)
    flows = [bench.area[rows] * bench.solved(Linear(w / KAPPA), current=1.0).j[rows] for w in (0.0, wagner)]
    for order, harmonic in ((1, cosine), (2, 1.5 * cosine**2 - 0.5), (3, 2.5 * cosine**3 - 1.5 * cosine)):
        primary, even = (float(flow @ harmonic) for flow in flows)
        assert even / primary == pytest.approx(1.0 / (1.0 + (order + 1) * wagner), rel=0.01)


def test_reciprocity():
    """Current into B while A alone is held at one volt = current into A while B is (Green's second identity)."""
    shapes = [
        models.moved(models.box((1, 1, 1), (4, 4, 4)), (-3.0, 0.2, 0.0)),
        models.moved(models.sphere(0.6, 2), (1.0, 0.0, 0.5)),
        models.moved(models.box((0.4, 0.4, 2), (3, 3, 6)), (3.0, 1.0, 0.0)),
    ]
    box = Liquid(box=np.array([[-5.0, -4.0, -4.0], [6.0, 5.0, 5.0]]))
    flows = []
    for thief, anode in ((1, 2), (2, 1)):
        roles = [Role.PART, Role.PART, Role.PART]
        roles[thief], roles[anode] = Role.THIEF, Role.ANODE
        bench = Bench([Surface(s, role) for s, role in zip(shapes, roles, strict=True)], box)
        flows.append(bench.current(bench.solved(voltage=1.0), thief))
    assert flows[0] == pytest.approx(flows[1], rel=0.01)
