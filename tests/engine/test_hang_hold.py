"""What holds a part in the bath, what gas and deposit do to its weight, and what is said of it: statics by hand."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.reporting.finding_text import texts
from addon.engine.mesh import inspection
from addon.engine.reporting import report
from addon.engine import study as studies
from addon.engine.trapping.basins import find_basins
from addon.engine.geometry import attitude
from addon.engine.hanging import hold, search, suggest
from addon.engine.hanging.balance import Load, balance, settled_up, settled_up_two, sinking_deposit
from addon.engine.hanging.fit import anode_directions, yaw_of_show_faces
from addon.engine.hanging.lift import gas_load
from addon.engine.hanging.pose import pose, rotation, wire_segments
from addon.engine.hanging.suggestion import Suggestion
from addon.engine.hanging.score import spoilt, sweep
from addon.engine.reasons import ReasonCode
from addon.engine.settings.job import read_job
from addon.engine.settings.options import Hang
from addon.engine.trapping.pockets import fill
from addon.engine.progress import run_to_end

import models
from hangs import searched
from addon.engine.trapping.relief import relief_of
from grids import blocks

MM, BATH = 1e-3, 1172.0
UP = np.array([0.0, 0.0, 1.0])
DOWN = np.diag([1.0, -1.0, -1.0])


def surface_of(model, **marks):
    return run_to_end(inspection.inspect(models.part(model, **marks)))


def hung(surface, trace, **settings):
    return searched(surface, trace(surface), **{"directions": 100, **settings})


def solid(surface, density=1240.0):
    """Net load of a homogeneous part."""
    middle = surface.bounds.mean(axis=0)
    return balance([Load(density * surface.volume, middle, surface.volume, middle)], BATH)


def test_an_angle_hangs_with_its_centroid_below_the_wire(trace):
    """An L of five cubes of 10 mm: centroid (11, 5, 11) mm by hand; from the top of its leg it hangs along (-6, 0, 19)."""
    cells = np.zeros((3, 1, 3), dtype=bool)
    cells[:, 0, 0] = cells[0, 0, :] = True
    points, triangles = blocks(cells)
    ell = surface_of((points * 10 * MM, triangles))
    found = hung(ell, trace, contacts=[[5 * MM, 5 * MM, 30 * MM]])
    np.testing.assert_allclose(found.start.point, [11 * MM, 5 * MM, 11 * MM], atol=1e-6)
    np.testing.assert_allclose(found.settles_up, np.array([-6, 0, 19]) / np.hypot(6, 19), atol=1e-6)


def test_every_contact_that_is_named_holds_the_way_up_it_is_named_for(trace):
    """The compound pendulum's rest, asked back: each single wire, and each pair, settles within the tolerance."""
    bell = surface_of(models.moved(models.cup(10 * MM, 20 * MM, 3 * MM), turn=models.rotation(4)))
    found = hung(bell, trace)
    held = [one for one in found.suggestions if one.hold.wires]
    assert held
    for one in held:
        points = one.hold.points
        rest = settled_up(points[0], found.start) if len(points) == 1 else settled_up_two(*points, found.start)
        assert rest @ one.up > np.cos(hold.MAX_HOLD_ANGLE_RAD)
        assert trace(bell).nearest(points).max() < 1e-6


def test_two_wires_on_the_rim_hold_a_cup_with_its_mouth_up(trace):
    """Nothing stands over a cup's balance point, so no single wire holds it; the rim on both sides does (by hand)."""
    cup = surface_of(models.cup(10 * MM, 20 * MM, 2 * MM))
    volume = cup.volume
    state = balance([Load(1240.0 * volume, np.array([0, 0, 8 * MM]), volume, np.array([0, 0, 8 * MM]))], BATH)
    found = hold.find(UP, state, cup, trace(cup), hold.sample_spots(cup), "two wires")
    assert found.wires == 2
    assert settled_up_two(*found.points, state) @ UP > np.cos(hold.MAX_HOLD_ANGLE_RAD)
    assert found.points[0, :2] @ found.points[1, :2] < 0
    assert (found.points[:, 2] > 8 * MM).all()
    assert hold.find(UP, state, cup, trace(cup), hold.sample_spots(cup), "rigid").wires == 0


def test_a_contact_keeps_off_show_faces_where_it_can(trace):
    """A box whose top shows all but a strip through the middle: the wire goes to the strip (construction)."""
    model = models.box((30 * MM, 20 * MM, 10 * MM), (15, 10, 1))
    middle = model[0][model[1]].mean(axis=1)
    top = middle[:, 2] > 9.9 * MM
    strip = np.abs(middle[:, 0] - 15.3 * MM) < 0.8 * MM
    for show, marked in ((top & ~strip, False), (top, True)):
        box = surface_of(model, show=show)
        found = hold.find(UP, solid(box), box, trace(box), hold.sample_spots(box), "one wire")
        assert found.wires == 1
        assert found.show == marked


def test_a_floating_part_rests_over_its_ballast(trace):
    """Lift acts at the balance point and ballast pulls below it: the tie is plumb under the point (statics)."""
    box = surface_of(models.box((20 * MM, 20 * MM, 40 * MM), (4, 4, 8)))
    found = hold.find(UP, solid(box, 1040.0), box, trace(box), hold.sample_spots(box), "one wire")
    assert found.tether
    np.testing.assert_allclose(found.points, [[10 * MM, 10 * MM, 0.0]], atol=1e-5)


@pytest.mark.parametrize("tilt", [0, 10, 20])
def test_gas_under_a_tilted_bell_lifts_through_its_centroid(tilt):
    """A cylinder cut level at tilt a: depth h = d - r tan a, centroid r^2 tan a / 4h off the axis and
    h / 2 + r^2 tan^2 a / 8h from the floor (closed form of the cylindrical ungula)."""
    r, d, t = 10 * MM, 20 * MM, np.tan(np.radians(tilt))
    bell = surface_of(models.moved(models.cup(r, d, 2 * MM, around=256, rows=3), turn=DOWN))
    gas = gas_load(relief_of(bell), np.array([np.sin(np.radians(tilt)), 0, np.cos(np.radians(tilt))]))
    h = d - r * t
    assert gas.displaced == pytest.approx(np.pi * r * r * h, rel=2e-4)
    np.testing.assert_allclose(gas.buoyancy, [r * r * t / (4 * h), 0, -h / 2 - r * r * t * t / (8 * h)], atol=2e-6)


def test_pockets_of_gas_lift_by_the_bath_they_displace(trace):
    """Archimedes: a bell's net load falls by bath density times pocket volume, and here it floats up."""
    bell = surface_of(models.moved(models.cup(10 * MM, 20 * MM, 2 * MM), turn=DOWN))
    found = hung(bell, trace, contacts=[[0.0, 0.0, 2 * MM]])
    held = float(fill(relief_of(bell), find_basins(relief_of(bell), UP)).volume.sum())
    assert found.full.net == pytest.approx(found.start.net - BATH * held, rel=1e-9)
    assert found.full.floats
    assert found.swing is None
    assert any("pockets full" in sentence for sentence in texts(found.findings))


def test_gas_swings_a_heavy_part_about_its_wire():
    """A copper block of 24 mL with 4 mL of gas under one side: the balance point moves as the moments of the two
    forces say, and the turn is the arctangent of its offset over the arm (by hand)."""
    centre, contact = np.array([20, 5, 30.0]) * MM, np.array([20, 5, 60.0]) * MM
    load = Load(8960 * 24e-6, centre, 24e-6, centre)
    gas = Load(0.0, np.array([35, 5, 10.0]) * MM, 4e-6, np.array([35, 5, 10.0]) * MM)
    full = balance([load, gas], BATH)
    net, lift = (8960 - BATH) * 24e-6, BATH * 4e-6
    x = (net * 20 - lift * 35) / (net - lift)
    z = (net * 30 - lift * 10) / (net - lift)
    rest = settled_up(contact, full)
    assert np.arctan2(rest[0], rest[2]) == pytest.approx(np.arctan2(20 - x, 60 - z), abs=1e-9)


@pytest.mark.parametrize(("density", "thickness"), [(1040.0, 113e-6), (500.0, 575e-6)])
def test_the_copper_that_sinks_a_floating_ball(density, thickness):
    """t = (bath - plastic) V / ((copper - bath) A), V / A = r / 3: of 40 mm in ABS 113 um, at half of
    a g/mL (much sealed infill) 575 um (both worked by hand)."""
    r = 20 * MM
    volume, area = 4 / 3 * np.pi * r**3, 4 * np.pi * r * r
    mass = sinking_deposit((density - BATH) * volume, BATH, 8960.0)
    assert mass / 8960.0 / area == pytest.approx(thickness, rel=5e-3)
    assert sinking_deposit(0.01, BATH, 8960.0) == 0.0


@pytest.mark.parametrize(("density", "net"), [(1040.0, -0.132), (1070.0, -0.102), (1240.0, 0.068), (1270.0, 0.098)])
def test_solid_plastics_in_the_bench_bath(trace, density, net):
    """Net g a cm3 in a bath of 1.172: ABS and ASA float, PLA and PETG sink (densities from memory)."""
    cube = surface_of(models.box((10 * MM,) * 3))
    found = hung(cube, trace, plastic_density=density, directions=50)
    assert found.start.net == pytest.approx(net * 1e-3, abs=1e-6)
    assert (found.sinks > 0) == (net < 0)


def test_an_even_deposit_of_the_sinking_mass_leaves_no_net_load(trace):
    """The end state with exactly the deposit that is said to sink it is neutral (definition)."""
    cube = surface_of(models.box((10 * MM,) * 3))
    light = hung(cube, trace, plastic_density=1040.0, directions=50)
    plated = hung(cube, trace, plastic_density=1040.0, directions=50, deposit=light.sinks)
    assert plated.end.net == pytest.approx(0.0, abs=1e-12)


def test_a_sealed_void_is_told_with_what_it_would_weigh_flooded(trace):
    """A box of 30 mm with a void of 20 mm: 8 mL of air; flooded, 8 x 1.172 = 9.4 g more (by hand)."""
    shell = models.joined(
        models.box((30 * MM,) * 3), models.inside_out(models.moved(models.box((20 * MM,) * 3), (5 * MM,) * 3))
    )
    found = hung(surface_of(shell), trace, directions=50)
    assert found.body.void == pytest.approx(8e-6)
    assert any("8.0 mL" in sentence and "9.4 g" in sentence for sentence in texts(found.findings))


def test_walls_that_meet_are_told(trace):
    thin = surface_of(models.box((30 * MM, 30 * MM, 2 * MM)))
    found = hung(thin, trace, infill=0.15, walls=5 * MM, directions=50)
    assert any("counts as solid" in sentence for sentence in texts(found.findings))


def test_a_wire_inside_the_part_is_told_and_not_used(trace):
    cube = surface_of(models.box((10 * MM,) * 3))
    found = hung(cube, trace, contacts=[[5 * MM, 5 * MM, 4 * MM], [5 * MM, 5 * MM, 10 * MM]], wires=1, directions=50)
    assert any("4.0 mm inside the part" in sentence for sentence in texts(found.findings))
    np.testing.assert_allclose(found.settles_up, UP, atol=1e-6)


def test_an_open_mesh_or_a_plastic_without_density_still_gets_ways_up(trace):
    points, triangles = models.box((10 * MM,) * 3)
    for surface, settings, word in (
        (surface_of((points, triangles[1:])), {}, "open"),
        (surface_of((points, triangles)), {"plastic_density": 0.0}, "density must be above zero"),
    ):
        found = hung(surface, trace, directions=50, **settings)
        assert found.body is None
        assert any(word in sentence for sentence in texts(found.findings))
        assert found.suggestions


def test_a_round_part_is_offered_each_way_up_once(trace):
    """Bearings about the axis of a cup are one (symmetry): no two offers lie at the same angle to the axis and cost the same."""
    turn = models.rotation(9)
    cup = surface_of(models.moved(models.cup(10 * MM, 20 * MM, 2 * MM), turn=turn))
    found = hung(cup, trace, directions=300).suggestions
    assert len(found) >= 2
    angles = [np.degrees(np.arccos(one.up @ turn @ UP)) for one in found]
    area = cup.plated_area.sum()
    for i in range(len(found)):
        for j in range(i):
            same = abs(found[i].dry - found[j].dry) + abs(found[i].underside - found[j].underside) < 0.02 * area
            assert not (same and abs(angles[i] - angles[j]) < 15 and abs(found[i].held - found[j].held) < 1e-8)


def test_show_faces_are_turned_to_the_anodes():
    """A face that looks along +x, hung upright between anodes at +y and -y: a quarter turn, all of it looks there."""
    model = models.box((10 * MM,) * 3)
    east = model[0][model[1]].mean(axis=1)[:, 0] > 9.9 * MM
    yaw, share = yaw_of_show_faces(surface_of(model, show=east), UP, anode_directions(read_job({})))
    assert abs(np.sin(yaw)) == pytest.approx(1.0, abs=1e-9)
    assert share == pytest.approx(1.0, abs=1e-9)
    assert yaw_of_show_faces(surface_of(model), UP, anode_directions(read_job({}))) is None


def test_weights_decide_what_comes_first(trace):
    """A cup, only bath carried out counted: none is; only gas counted: none stays (both are possible by construction)."""
    cup = surface_of(models.cup(10 * MM, 20 * MM, 2 * MM))
    dry = hung(cup, trace, weights=Hang(gas=0, underside=0, held=100)).suggestions[0]
    free = hung(cup, trace, weights=Hang(gas=100, underside=0, held=0)).suggestions[0]
    assert dry.held == pytest.approx(0.0, abs=1e-9)
    assert free.trapped == pytest.approx(0.0, abs=1e-9)


def test_the_lean_sweep_tells_what_the_triangles_add_up_to():
    """Two sums of the same areas: whole, and triangle by triangle."""
    cup = surface_of(models.cup(10 * MM, 20 * MM, 2 * MM, rows=3))
    ups = attitude.sphere(12)
    scores = run_to_end(sweep(cup, relief_of(cup), ups))
    each = [float(cup.plated_area @ spoilt(cup, relief_of(cup), up)) for up in ups]
    np.testing.assert_allclose(scores.dry + scores.underside, each, atol=1e-9 * cup.plated_area.sum())


def test_likeness_is_no_nearness():
    """The six faces of a box with three different sides: opposite ones are alike, the others are not."""
    box = surface_of(models.box((10 * MM, 20 * MM, 40 * MM)))
    ups = np.concatenate([np.eye(3), -np.eye(3)])
    alike = search.SymmetryClasses.of(box, ups, np.zeros((6, 3)))
    np.testing.assert_array_equal(np.stack([alike.to(k) for k in range(6)]), np.tile(np.eye(3, dtype=bool), (2, 2)))


def test_a_pose_turns_its_way_up_upright_and_wires_it_to_the_surface():
    """The turn brings `up` to +z; the wire leaves from the contact, plumb, and ends above the liquid (by hand)."""
    box = surface_of(models.box((30 * MM, 20 * MM, 10 * MM)))
    up = np.array([1.0, 0.0, 0.0])
    held = hold.Hold(1, np.array([[30.0, 10.0, 5.0]]) * MM, False)
    turn = attitude.about(0.3) @ attitude.turn_up(up)
    one = Suggestion(
        up=up,
        euler=attitude.euler(turn),
        trapped=0,
        dry=0,
        underside=0,
        held=0,
        fits=True,
        slack=0,
        contact=None,
        best=True,
        reasons=(),
        hold=held,
    )
    found = pose(box.points, one, read_job({}))
    np.testing.assert_allclose(rotation(one.euler), turn, atol=1e-12)
    assert found.size[2] == pytest.approx(30 * MM)
    np.testing.assert_allclose(
        wire_segments(found.contacts, found.ends), [[[0, 0, 15 * MM], [0, 0, 140 * MM]]], atol=1e-9
    )
    assert found.level[:, 2] == pytest.approx(np.full(4, 110 * MM))


@pytest.mark.slow
def test_the_report_tells_all_of_it(trace):
    """The keys that docs/headless.md promises, and the job's own hook in what is said of a way up."""
    job = read_job({"effort": {"directions": 50, "rays": 16}, "part": {"infill": 1}, "hang": {"hook": "rigid"}})
    found = report.build(
        run_to_end(studies.run(models.part(models.box((10 * MM,) * 3)), job, trace, only=["hanging"])), {}
    )
    table = found["hanging"]
    assert {
        "mass_g",
        "deposit_g",
        "displaced_mL",
        "net_g",
        "floats",
        "ballast_g",
        "balance_mm",
        "settles_up",
        "recommended_up",
        "as_set",
        "fill_up",
        "pull_g",
        "rigid_wire_mm",
        "bearing_wire_mm",
        "suggestions",
        "pair",
        "net_end_g",
        "sinks_at_g",
        "sinks_at_um",
        "net_gas_full_g",
        "swing_deg",
        "swept_triangles",
        "sampling_error_share",
    } == set(table)
    first = table["suggestions"][0]
    assert {
        "up",
        "euler_deg",
        "trapped_mL",
        "level_underside_cm2",
        "held_mL",
        "fits",
        "contact_mm",
        "reasons",
        "hold",
        "contacts_mm",
        "show_faces_to_anodes",
        "net_gas_full_g",
        "swing_deg",
        "cost",
        "turn_deg",
        "spoilt_show_cm2",
        "spoilt_thin_cm2",
        "front",
    } == set(first)
    assert first["hold"] == "rigid hook"
    assert "a rigid hook keeps it so" in first["reasons"]
    assert table["floats"] is False


@pytest.mark.parametrize(
    ("at", "wires"),
    [
        ([(0, 0, 5)], 1),
        ([(-25, 0, 5), (25, 0, 5)], 2),
        ([(-25, -15, 5), (25, -15, 5), (0, 15, 5)], 3),
        ([(-25, 0, 5)], 0),  # it would turn by most of a right angle
        ([(10, 0, 5), (25, 0, 5)], 0),  # both on one side of its middle
        ([(-25, 0, -5), (25, 0, -5)], 0),  # from below
    ],
)
def test_the_wires_that_are_used_hold_the_part_together(trace, at, wires):
    """A level slab of 60 x 40 x 10 mm, whose weight acts at its middle: statics by hand."""
    slab = surface_of(models.moved(models.box((60, 40, 10), (12, 8, 2)), (-30 * MM, -20 * MM, -5 * MM), scale=MM))
    tracer = trace(slab)
    points = np.array(at, dtype=float) * MM
    faces = [int(np.argmin(np.linalg.norm(slab.centroid - point, axis=1))) for point in points]
    used = hold.Spots(points, slab.normal[faces], slab.show[faces])
    kept = hold.hold_on_wires(UP, solid(slab), slab, tracer, used)
    assert (kept.wires if kept is not None else 0) == wires
    if kept is not None:
        np.testing.assert_array_equal(kept.points, points)


def test_what_hangs_is_told_on_the_wires_that_are_used(trace):
    """The same slab on two wires: neither holds it level alone, and no third is asked for."""
    slab = surface_of(models.moved(models.box((60, 40, 10), (12, 8, 2)), (-30 * MM, -20 * MM, -5 * MM), scale=MM))
    found = hung(slab, trace, own=UP, directions=30)
    ends = np.array([(-25, 0, 5), (25, 0, 5)]) * MM
    used = hold.Spots(ends, np.array([UP, UP]), np.zeros(2, dtype=bool))
    told = suggest.on_wires(found, slab, trace(slab), used, "one wire", BATH)
    np.testing.assert_array_equal(told.as_set.hold.points, ends)
    assert ReasonCode.ON_TWO_WIRES in [reason.code for reason in told.as_set.reasons]
