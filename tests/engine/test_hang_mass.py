"""What prints weigh, displace and how they settle: closed forms and statics."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.errors import InputError
from addon.engine.findings import Code, Quantity
from addon.engine.geometry import attitude
from addon.engine.hanging.balance import Load, balance, ballast, rigid_wire, settled_up, settled_up_two
from addon.engine.hanging.mass import moments, weigh
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end

import models
from hangs import searched

PLA = 1240.0  # kg/m3
BATH = 1172.0


def surface_of(points, triangles):
    return run_to_end(inspection.inspect(Part.of("part", points, triangles)))


def weighed(model, trace, **print_of):
    surface = surface_of(*model)
    settings = {"walls": 1.2e-3, "infill": 0.15, "plastic_density": PLA, **print_of}
    return weigh(surface, trace(surface), **settings)


def test_a_solid_cube_weighs_its_volume(trace):
    """Infill 1: mass = density x edge cubed; it displaces the same volume (definition)."""
    body = weighed(models.box((0.02, 0.02, 0.02)), trace, infill=1.0)
    assert body.mass == pytest.approx(PLA * 8e-6, rel=1e-9)
    assert body.displaced == pytest.approx(8e-6, rel=1e-9)


def test_a_walled_cube_weighs_cube_less_core(trace):
    """Walls t, edge a, no infill: wall volume a^3 - (a - 2t)^3 exactly, for an inward offset of a cube."""
    body = weighed(models.box((0.02, 0.02, 0.02)), trace, infill=0.0, walls=2e-3)
    assert body.wall == pytest.approx(8e-6 - 16e-3**3, rel=4e-3)
    assert body.air == pytest.approx(16e-3**3, rel=4e-3)


@pytest.mark.slow
def test_a_walled_ball_weighs_shell(trace):
    """Walls t on a ball of radius r: 4/3 pi (r^3 - (r - t)^3); the mesh's own volume stands in for the ball's."""
    r, t = 15e-3, 3e-3
    body = weighed(models.sphere(r, 4), trace, infill=0.0, walls=t)
    assert body.wall == pytest.approx(4 / 3 * np.pi * (r**3 - (r - t) ** 3), rel=8e-3)


def test_a_thick_walled_tube_weighs_wall_and_infill(trace):
    """Radii R, r and height h, walls t < (R - r) / 2: the core is a tube pi ((R - t)^2 - (r + t)^2) (h - 2 t), exactly."""
    outer, inner, h, t, around = 15e-3, 5e-3, 30e-3, 2e-3, 128
    profile = np.array([(inner, 0), (outer, 0), (outer, h), (inner, h), (inner, 0)])
    body = weighed(models.lathe(models.steps(profile, 3), around), trace, infill=0.2, walls=t)
    core = np.pi * ((outer - t) ** 2 - (inner + t) ** 2) * (h - 2 * t)
    whole = np.pi * (outer**2 - inner**2) * h
    assert body.wall == pytest.approx(whole - core, rel=6e-3)
    assert body.plastic == pytest.approx(PLA * (whole - 0.8 * core), rel=6e-3)
    np.testing.assert_allclose(body.centre, [0, 0, h / 2], atol=5e-5)


def test_a_thin_rib_is_solid(trace):
    """A block of 20 mm with a fin 2 mm thick and 20 mm high, walls of 1.2: the fin is all wall, and the wall where it stands is
    not counted twice: core (20 - 2.4)^3 to within a wall's bite of the fin's foot (area times thickness would give 2880 + 1920)."""
    from grids import blocks

    cells = np.zeros((10, 10, 20), dtype=bool)
    cells[:, :, :10] = True
    cells[5, :, 10:] = True
    points, triangles = blocks(cells)
    body = weighed((points * 2e-3, triangles), trace, infill=0.0, walls=1.2e-3)
    whole, core = 8e-6 + 0.8e-6, 17.6e-3**3
    foot = 1.2e-3 * 2e-3 * 20e-3  # under the fin the block's top is no surface: its wall is missing there
    assert whole - core - foot - 1e-8 < body.wall < whole - core + 1e-8


def test_walls_thicker_than_the_part_make_it_solid(trace):
    """A wall past half the thickness fills the part, and no more than that."""
    thick = weighed(models.box((0.03, 0.03, 0.002)), trace, walls=5e-3)
    assert thick.plastic == pytest.approx(PLA * 1.8e-6, rel=1e-6)


def test_mass_turns_with_the_part(trace):
    """The centre of mass of an L turns and shifts with the L (statics): walls and infill included."""
    ell = models.joined(models.box((0.03, 0.01, 0.01)), models.moved(models.box((0.01, 0.01, 0.02)), (0.0, 0.0, 0.02)))
    turn, shift = models.rotation(3), np.array([0.1, -0.2, 0.05])
    here = weighed(ell, trace)
    there = weighed(models.moved(ell, shift, turn), trace)
    assert there.plastic == pytest.approx(here.plastic, rel=4e-3)
    np.testing.assert_allclose(there.centre, turn @ here.centre + shift, atol=1e-4)


def test_an_open_mesh_has_no_mass(trace):
    points, triangles = models.box((0.02, 0.02, 0.02))
    surface = surface_of(points, triangles[1:])
    with pytest.raises(InputError, match="open"):
        weigh(surface, trace(surface), walls=1e-3, infill=1, plastic_density=PLA)


def test_moments_far_from_the_origin():
    """A box's centroid is its middle, to double precision, a kilometer away (closed form)."""
    points, triangles = models.moved(models.box((0.02, 0.03, 0.04)), (1000.0, 0.0, 0.0))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    volume, centre = moments(points[triangles])
    assert volume == pytest.approx(24e-6, rel=1e-8)
    np.testing.assert_allclose(centre, middle, atol=1e-9)


def test_solid_plastics_float_or_sink_as_their_density_says():
    """ABS floats by 0.13 gf per cm3 in a bath of 1.172, PLA sinks by 0.07 (densities 1.04 and 1.24, from memory)."""
    for density, net in ((1040.0, -0.132e-3), (1240.0, 0.068e-3)):
        state = balance([Load(density * 1e-6, np.zeros(3), 1e-6, np.zeros(3))], BATH)
        assert state.net == pytest.approx(net, rel=1e-9)
        assert state.floats == (net < 0)


def test_ballast_just_sinks_the_part():
    """Archimedes: with the ballast on the wire, weight and displaced bath are equal."""
    net = -0.0067
    added = ballast(net, BATH)
    assert net + added - BATH * added / 8960.0 == pytest.approx(0.0, abs=1e-12)
    assert ballast(0.01, BATH) == 0.0


def test_ballast_leaves_the_wire_its_pull():
    """Archimedes again: weight less lift of print and ballast is the pull that was asked for."""
    net, pull = -0.0062, 0.003
    added = ballast(net, BATH, pull)
    assert net + added - BATH * added / 8960.0 == pytest.approx(pull, rel=1e-12)
    assert ballast(0.002, BATH, pull) == pytest.approx(0.001 / (1 - BATH / 8960.0), rel=1e-12)


def test_the_coat_displaces_bath(trace):
    """A cube of 20 mm with 0.1 mm of coat: 6 * 4 cm2 * 0.1 mm = 0.24 mL more, through the middle (geometry). A coat on one
    half of it alone moves the middle of the displaced volume: on the five faces without the top, by their centroid."""
    plain, coated = (
        weighed(models.box((0.02,) * 3), trace, infill=1.0, coat_thickness=t, coat_density=3000.0) for t in (0.0, 1e-4)
    )
    assert coated.displaced - plain.displaced == pytest.approx(0.24e-6, rel=1e-9)
    assert coated.buoyancy == pytest.approx([0.01, 0.01, 0.01], abs=1e-12)
    assert coated.coat == pytest.approx(3000.0 * 0.24e-6, rel=1e-9)
    points, triangles = models.box((0.02,) * 3)
    masked = np.isclose(points[triangles][:, :, 2], 0.02).all(axis=1)
    surface = run_to_end(inspection.inspect(models.part((points, triangles), masked=masked)))
    half = weigh(
        surface, trace(surface), walls=1e-3, infill=1.0, plastic_density=PLA, coat_thickness=1e-4, coat_density=3000.0
    )
    shell, middle = 0.2e-6, (4 * 0.01 + 0.0) / 5  # four sides at half the height and the bottom
    assert half.buoyancy[2] == pytest.approx((8e-6 * 0.01 + shell * middle) / (8e-6 + shell), rel=1e-9)


def test_a_rigid_wire_neither_buckles_nor_bends():
    """Euler, clamped and free: F = pi^2 E I / (4 L^2) with I = pi d^4 / 64; bending: M = F a <= yield * pi d^3 / 32, each
    twice over. Copper, annealed: 117 GPa and 70 MPa (handbook values, from memory)."""
    for lift, arm in ((0.4, 0.0), (0.4, 0.05), (0.006, 0.03)):
        d, force = rigid_wire(lift, arm), lift * 9.80665
        holds = np.pi**2 * 117e9 * np.pi * d**4 / 64 / (4 * 0.1**2), 70e6 * np.pi * d**3 / 32
        assert holds[0] >= 2 * force * (1 - 1e-9) and holds[1] >= 2 * force * arm * (1 - 1e-9)
        needed = np.isclose([holds[0], holds[1]], [2 * force, 2 * force * arm], rtol=1e-6).any()
        assert needed or d == 1.5e-3


def test_a_homogeneous_part_hangs_with_its_centroid_below_the_wire():
    """Same centre for weight and buoyancy: the balance point is the centroid (statics)."""
    centre, contact = np.array([1e-3, 2e-3, 3e-3]), np.array([1e-3, 12e-3, 3e-3])
    state = balance([Load(0.0124, centre, 10e-6, centre)], BATH)
    np.testing.assert_allclose(settled_up(contact, state), [0, 1, 0], atol=1e-12)


@pytest.mark.parametrize("lean", [0.0, 30.0])
def test_a_cup_hangs_from_its_rim_as_its_centroid_says(trace, lean):
    """Radius r, depth d, wall w: centroid height ((R^2 (d + w) (d - w) - r^2 d^2) / (R^2 (d + w) - r^2 d)) / 2 with R = r + w, by
    hand; from a point of the rim at bearing `lean` it hangs along the line from centroid to that point."""
    r, d, w = 10e-3, 20e-3, 2e-3
    big = r + w
    high = (big**2 * (d + w) * (d - w) - r**2 * d**2) / (big**2 * (d + w) - r**2 * d) / 2
    body = weighed(models.cup(r, d, w, around=128), trace, infill=1.0)
    np.testing.assert_allclose(body.centre, [0, 0, high], atol=2e-6)
    rim = np.array([big * np.cos(np.radians(lean)), big * np.sin(np.radians(lean)), d])
    state = balance([Load(body.mass, body.centre, body.displaced, body.buoyancy)], BATH)
    arm = rim - [0, 0, high]
    np.testing.assert_allclose(settled_up(rim, state), arm / np.linalg.norm(arm), atol=2e-4)


def test_a_box_hangs_from_its_corner_along_its_diagonal(trace):
    """A solid box: its centroid is its middle, so the diagonal through the corner is plumb (by hand)."""
    body = weighed(models.box((0.01, 0.02, 0.04)), trace, infill=1.0)
    state = balance([Load(body.mass, body.centre, body.displaced, body.buoyancy)], BATH)
    np.testing.assert_allclose(
        settled_up(np.array([0.01, 0.02, 0.04]), state), np.array([1, 2, 4]) / 21**0.5, atol=1e-6
    )


def test_two_wires_leave_one_axis():
    """Contacts level, balance point below their line (statics): up is square to the line."""
    state = balance([Load(0.02, np.array([0.0, 1e-3, -5e-3]), 9e-6, np.array([0.0, 1e-3, -5e-3]))], BATH)
    first, second = np.array([-0.01, 0.0, 0.0]), np.array([0.01, 0.0, 0.0])
    up = settled_up_two(first, second, state)
    np.testing.assert_allclose(up, np.array([0, -1, 5]) / np.sqrt(26), atol=1e-9)


def test_directions_are_even_and_opposite():
    """A sum over the sphere of x x^T is a third of the identity (isotropy)."""
    directions = attitude.sphere(300)
    np.testing.assert_allclose(directions.T @ directions / len(directions), np.eye(3) / 3, atol=3e-3)
    np.testing.assert_array_equal(directions[:150], -directions[150:])


def test_turning_up_and_euler_angles():
    """The rotation brings up to +z, and the angles compose to it again (Rz Ry Rx)."""
    for up in (*attitude.sphere(40), np.array([0, 0, 1.0]), np.array([0, 0, -1.0]), np.array([1.0, 0, 0])):
        rotation = attitude.turn_up(up)
        np.testing.assert_allclose(rotation @ up, [0, 0, 1], atol=1e-9)
        x, y, z = attitude.euler(rotation)
        c, s = np.cos, np.sin
        rx = np.array([[1, 0, 0], [0, c(x), -s(x)], [0, s(x), c(x)]])
        ry = np.array([[c(y), 0, s(y)], [0, 1, 0], [-s(y), 0, c(y)]])
        rz = np.array([[c(z), -s(z), 0], [s(z), c(z), 0], [0, 0, 1]])
        np.testing.assert_allclose(rz @ ry @ rx, rotation, atol=1e-7)


def euler_load(diameter, length):
    """N, of annealed copper clamped at one end: the least eigenvalue of w'' = -P w / (E I) by differences, even about the
    middle of a bar twice as long on two hinges; I summed over a grid of the section."""
    across = (np.arange(2000) + 0.5) / 2000 * diameter - diameter / 2
    inertia = float((across**2 * 2 * np.sqrt(diameter**2 / 4 - across**2)).sum()) * diameter / 2000
    count = 200
    matrix = (2 * np.eye(count) - np.eye(count, k=1) - np.eye(count, k=-1)) * (count / length) ** 2
    matrix[0, 1] *= 2
    return 117e9 * inertia * float(np.linalg.eigvals(matrix).real.min()), inertia


@pytest.mark.parametrize(
    ("lift", "arm", "free", "limit"),
    [(0.5, 0.0, 0.6, "buckles"), (0.08, 0.03, 0.1, "bends"), (0.001, 0.01, 0.1, "least")],
)
def test_a_rigid_wire_bears_twice_the_lift(lift, arm, free, limit):
    """The wire that is named buckles at twice the lift, or its outer fiber then reaches 70 MPa, whichever comes first; a
    small lift gets 1.5 mm. Moduli of annealed copper: handbook values, from memory."""
    wire = rigid_wire(lift, arm, free)
    load, inertia = euler_load(wire, free)
    wanted = 2 * lift * 9.80665
    stress = wanted * arm * wire / 2 / inertia
    assert load > wanted * (1 - 1e-3) and stress < 70e6 * (1 + 1e-3)
    if limit == "buckles":
        assert load == pytest.approx(wanted, rel=1e-3)
    elif limit == "bends":
        assert stress == pytest.approx(70e6, rel=1e-3)
    else:
        assert wire == 1.5e-3


@pytest.mark.parametrize(("side", "asked"), [(0.008, False), (0.04, True)])
def test_no_ballast_is_asked_for_that_nobody_feels(side, asked, trace):
    """A solid cube of PLA sinks by 0.068 g/cm3 and is to pull by 0.248 (Archimedes): 0.1 g more for one of 8 mm, 13 g
    for one of 40. Below 1 g there is none (common practice, no source)."""
    surface = surface_of(*models.box((side, side, side)))
    found = searched(surface, trace(surface), infill=1.0, directions=50)
    lacking = (0.2 * PLA - (PLA - BATH)) * side**3 / (1 - BATH / 8960.0)
    assert found.ballast == (pytest.approx(lacking, rel=1e-6) if asked else 0.0)


def test_no_wire_that_hands_bend_holds_a_large_part_down():
    """700 g on an arm of 70 mm ask for more than 4 mm of annealed copper: ballast then, and no wire is promised."""
    assert rigid_wire(0.7, 0.07) is None
    assert (32 * 2 * 0.7 * 9.80665 * 0.07 / (np.pi * 70e6)) ** (1 / 3) > 4e-3


def test_a_part_of_unknown_weight_is_held_as_if_it_floated(trace):
    """A cube of 40 mm without one face: at most 64 mL, at least its five walls: 1.172 x 64 - 1.24 x 1.2 x 8 = 63 g. The
    plan offered it a wire of 0.4 mm."""
    points, triangles = models.box((0.04, 0.04, 0.04))
    surface = surface_of(points, triangles[2:])
    found = searched(surface, trace(surface), infill=0.15, directions=50)
    assert found.body is None and found.unknown_lift == pytest.approx(0.0631, abs=0.0002)
    assert found.rigid_wire is not None and found.rigid_wire >= 1.5e-3
    (said,) = [one for one in found.findings if one.code == Code.WEIGHT_UNKNOWN]
    assert said.quantities[Quantity.DIAMETER] == found.rigid_wire
    assert said.quantities[Quantity.MASS] == found.unknown_lift
