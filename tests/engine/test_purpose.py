"""What a deposit is for: shielding against transmission lines, sections against shapely, proposals that meet their aim."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from addon.engine.mesh import inspection
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.errors import InputError
from addon.engine.findings import Code
from addon.engine.purpose import propose, sections, shielding
from addon.engine.purpose.propose import Limit
from addon.engine.settings.job import read_job
from addon.engine.study import USUAL, run
from addon.engine.units import MM, UM

import models

COPPER = 1.7241e-8


def surface(model) -> Surface:
    return run_to_end(inspection.inspect(models.part(models.moved(model, scale=MM))))


@pytest.mark.parametrize(("frequency", "micrometers"), [(100e6, 6.61), (1e9, 2.09), (2.4e9, 1.35), (5.8e9, 0.868)])
def test_skin_depth_of_copper(frequency, micrometers):
    """sqrt(rho / pi f mu0), computed from 100 % IACS."""
    assert shielding.skin_depth(COPPER, frequency) / UM == pytest.approx(micrometers, rel=3e-3)


@pytest.mark.parametrize("thickness", [0.1 * UM, 2 * UM, 30 * UM])
def test_a_sheet_is_a_piece_of_a_transmission_line(thickness):
    """The chain matrix of a line of length t between two lines of free space (circuit theory)."""
    for frequency in (1e6, 1e9):
        delta = shielding.skin_depth(COPPER, frequency)
        eta, way = (1 + 1j) * COPPER / delta, (1 + 1j) * thickness / delta
        a, b, c, d = np.cosh(way), eta * np.sinh(way), np.sinh(way) / eta, np.cosh(way)
        passed = 2 / (a + b / shielding.ETA0 + c * shielding.ETA0 + d)
        told = shielding.effectiveness(thickness, COPPER, frequency)
        assert told == pytest.approx(-20 * np.log10(abs(passed)), abs=1e-6)


def test_a_thin_sheet_reflects_by_its_sheet_resistance_alone():
    """20 log10(1 + eta0 / 2 Rs), whatever the frequency (thin-film limit)."""
    sheet = COPPER / (0.05 * UM)
    told = shielding.effectiveness(0.05 * UM, COPPER, 1e7)
    assert told == pytest.approx(20 * np.log10(1 + shielding.ETA0 / (2 * sheet)), abs=1e-3)


def test_what_is_needed_shields_so_much_and_a_skin_depth_takes_8_7_db():
    thick = shielding.needed(120, COPPER, 1e6)
    assert thick is not None and shielding.effectiveness(thick, COPPER, 1e6) == pytest.approx(120)
    delta = shielding.skin_depth(COPPER, 1e9)
    two = shielding.effectiveness(np.array([8, 9]) * delta, COPPER, 1e9)
    assert np.diff(two)[0] == pytest.approx(20 / np.log(10), abs=1e-3)


def test_loss_against_bulk_is_the_real_part_of_the_sheets_impedance():
    x = np.array([0.05, 0.5, 1.0, np.pi / 2, 4.0])
    delta = shielding.skin_depth(COPPER, 1e9)
    expected = np.real((1 + 1j) / np.tanh((1 + 1j) * x))
    assert shielding.loss_against_bulk(x * delta, COPPER, 1e9) == pytest.approx(expected)


L_SHAPE = Polygon([(0, 0), (12, 0), (12, 3), (3, 3), (3, 8), (0, 8)])


def bar(outline: Polygon, length: float = 60.0) -> models.Model:
    """A polygon drawn out along z, its caps cut by shapely."""
    ring = np.array(outline.exterior.coords)[:-1]
    count = len(ring)
    low, high = (np.column_stack([ring, np.full(count, z)]) for z in (0.0, length))
    i, j = np.arange(count), (np.arange(count) + 1) % count
    sides = np.concatenate([np.stack([i, j, j + count], 1), np.stack([i, j + count, i + count], 1)])
    caps = []
    for one in shapely.constrained_delaunay_triangles(outline).geoms:
        corners = [int(np.abs(ring - corner).sum(axis=1).argmin()) for corner in np.array(one.exterior.coords)[:3]]
        turned = Polygon(ring[corners]).exterior.is_ccw
        caps += [corners[::-1] if turned else corners, [k + count for k in (corners if turned else corners[::-1])]]
    return np.concatenate([low, high]), np.concatenate([sides, caps]).astype(np.int32)


def moments(shape: Polygon) -> tuple[float, np.ndarray]:
    """Area and second moments about the centroid, from the triangles that shapely cuts: exact for each by its corners and
    their middle (a b + ... of a quadratic over a triangle is area / 12 (sum of corners squared + square of the sum))."""
    area, first, second = 0.0, np.zeros(2), np.zeros((2, 2))
    for one in shapely.constrained_delaunay_triangles(shape).geoms:
        corner = np.array(one.exterior.coords)[:3]
        area += one.area
        first += one.area * corner.mean(axis=0)
        second += one.area / 12 * (corner.T @ corner + np.outer(corner.sum(axis=0), corner.sum(axis=0)))
    return area, second - np.outer(first, first) / area


def test_moments_of_a_section_are_those_of_its_polygon():
    beam = sections.cut(surface(bar(L_SHAPE)), stations=5)
    area, second = moments(L_SHAPE)
    for outline in beam.outlines:
        found = sections.solid(outline)
        central = found.second - np.outer(found.first, found.first) / found.area
        assert found.area == pytest.approx(area * MM**2, rel=1e-6)
        assert np.linalg.eigvalsh(central) == pytest.approx(np.linalg.eigvalsh(second) * MM**4, rel=1e-6)


def test_a_plated_section_is_as_stiff_as_both_materials_together():
    """Copper of 50 um on an L of plastic: E I of polygon and of the ring that shapely's buffer adds, about their common
    neutral axis. 1 % for the corners of the ring."""
    outline = sections.cut(surface(bar(L_SHAPE)), stations=3).outlines[1]
    layer = np.full(len(outline.length), 50 * UM)
    told, _ = sections.rigidity([(2e9, sections.solid(outline)), (110e9, sections.strip(outline, layer))])
    ring = L_SHAPE.buffer(0.05, join_style="mitre").difference(L_SHAPE)
    total = np.zeros((2, 2))
    weights, firsts = 0.0, np.zeros(2)
    for modulus, shape in ((2e9, L_SHAPE), (110e9, ring)):
        area, second = moments(shape)
        middle = np.array(shape.centroid.coords[0])
        total += modulus * (second + area * np.outer(middle, middle))
        weights, firsts = weights + modulus * area, firsts + modulus * area * middle
    expected = np.linalg.eigvalsh(total - np.outer(firsts, firsts) / weights)[0] * MM**4
    assert told == pytest.approx(expected, rel=0.01)


def test_a_cantilever_bends_by_a_third_of_f_l3_over_e_i():
    """A square bar of 6 mm: L^3 / 3 E I, and the strain at its foot L c / E I; 1 % for 48 cuts."""
    beam = sections.cut(surface(models.box((6, 6, 100))))
    plain = [(2e9, sections.plastic(one, 1.2 * MM, filled=True)) for one in beam.outlines]
    found = sections.bend(beam, plain, 110e9, np.zeros(12))
    inertia = 6**4 / 12 * MM**4
    assert found.compliance == pytest.approx(0.1**3 / (3 * 2e9 * inertia), rel=1e-3)
    assert found.strain == pytest.approx(0.1 * np.hypot(3, 3) * MM / (2e9 * inertia), rel=0.012)


def test_a_tapering_surface_carries_a_thicker_strip():
    """A cone's layer in a cut is t / cos(half angle) thick: volume of the strip, area x t, whatever the taper."""
    cone = surface(models.lathe([(0, 0), (12, 0), (4, 30), (0, 30)], 96))
    side = np.abs(cone.normal[:, 2]) < 0.9
    beam = sections.cut(cone, np.array([0.0, 0.0, 1.0]), 200)
    layer = np.where(side, 50 * UM, 0.0)
    volume = beam.step * sum(sections.strip(one, layer[one.face]).area for one in beam.outlines)
    assert volume == pytest.approx(float(cone.area[side].sum()) * 50 * UM, rel=5e-3)


def test_heat_flows_through_the_skin():
    """A tube's skin: k t times the perimeter over the length."""
    part = surface(models.box((5, 5, 80)))
    found = sections.conductance(sections.cut(part), 400.0, np.full(12, 100 * UM))
    assert found == pytest.approx(400.0 * 100 * UM * 0.02 / 0.08, rel=1e-6)


def proposed(part: Surface, deposit=None, mass=None, **target) -> propose.Proposal:
    job = read_job({"target": {"thickness_um": 30, **target}, "part": {"infill": 1.0}})
    found = propose.propose(part, job, deposit, mass)
    assert found is not None
    return found


def test_a_proposal_meets_its_aim():
    """What is proposed is planned: then it is worth what was asked for, and nothing is found too thin."""
    bar_ = surface(bar(L_SHAPE))
    first = proposed(bar_, purpose="stiffness", stiffness_factor=3)
    assert [one.code for one in first.findings] == [Code.PURPOSE_THIN] and first.limit is Limit.SECTION
    then = proposed(bar_, purpose="stiffness", stiffness_factor=3, thickness_um=first.thickness / UM)
    assert then.worth["stiffness_factor"] == pytest.approx(3, rel=1e-4) and not then.findings
    heat = proposed(bar_, purpose="heat", conductance_W_K=0.02)
    assert proposed(bar_, purpose="heat", thickness_um=heat.thickness / UM).worth["conductance_W_K"] == pytest.approx(
        0.02
    )
    grams = proposed(bar_, mass=0.004, purpose="mass", mass_g=20)
    assert grams.thickness * float(bar_.area.sum()) * 8960 == pytest.approx(0.016)


def test_thin_places_set_the_mean():
    """A tenth of the area has a quarter of the deposit of the rest: for 15 um there it takes 15 x 0.925 / 0.25 um."""
    part = surface(models.box((20, 20, 20), (10, 10, 10)))
    deposit = np.where(np.arange(len(part.area)) < 0.1 * len(part.area), 10 * UM, 40 * UM)
    found = proposed(part, deposit, purpose="look", polish_um=10)
    assert found.needed == pytest.approx(15 * UM) and found.limit is Limit.THIN_PLACES
    assert found.thickness == pytest.approx(15 * UM * 0.925 / 0.25, rel=1e-6)
    assert found.worth["polished_through_share"] == pytest.approx(0.1, rel=1e-6)
    assert found.worth["polished_through_share_proposed"] == 0


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (
            {"purpose": "shielding", "shielding_dB": 300, "frequency_MHz": 0.01},
            "shielding_dB: 300 dB takes more than 5 mm",
        ),
        ({"purpose": "heat", "conductance_W_K": 100}, "would take .* of copper"),
        ({"purpose": "mass", "mass_g": 5}, "what the print weighs is not known"),
        ({"purpose": "strength", "load_N": 1}, "nothing yields, however thin"),
    ],
)
def test_what_cannot_be_met_is_refused_in_one_line(target, words):
    with pytest.raises(InputError, match=words):
        proposed(surface(models.box((30, 30, 40))), **target)


def test_nickel_shields_at_least_so_much_whatever_is_left_of_its_permeability():
    """The chain matrix of a line with the metal's own impedance j omega mu / gamma (circuit theory), for what is
    proposed, at both ends of the permeability: none weakens the wave by less than was asked for, and one just that."""
    target = {"purpose": "shielding", "shielding_dB": 120, "frequency_MHz": 1}
    job = read_job({"target": target, "bath": {"name": "nickel, Watts"}})
    found = propose.propose(surface(models.box((30, 30, 40))), job, None, None)
    omega, told = 2 * np.pi * 1e6, []
    for permeability in (1.0, 100.0):
        mu = 4e-7 * np.pi * permeability
        gamma = np.sqrt(1j * omega * mu / 6.99e-8)
        eta, way = 1j * omega * mu / gamma, gamma * found.needed
        a, b, c = np.cosh(way), eta * np.sinh(way), np.sinh(way) / eta
        told.append(20 * np.log10(abs(2 * a + b / shielding.ETA0 + c * shielding.ETA0) / 2))
        depth = shielding.skin_depth(6.99e-8, 1e6, permeability)
        assert depth == pytest.approx(np.sqrt(2 * 6.99e-8 / (omega * mu)))
    assert min(told) == pytest.approx(120, abs=0.01)
    assert found.worth["skin_depth_magnetic_um"] == pytest.approx(found.worth["skin_depth_um"] / 10)


def test_the_limit_load_is_that_of_the_first_fiber_that_yields():
    """Copper of 50 um on an L of plastic: E I and the outermost fibers of polygon and of the ring that shapely's buffer
    adds, along each principal direction; the load at the end of which the moment at the first cut brings one of them to
    its yield strain. 1.5 % for the corners of the ring."""
    worth = proposed(surface(bar(L_SHAPE)), purpose="strength", load_N=60, thickness_um=50).worth
    ring = L_SHAPE.buffer(0.05, join_style="mitre")
    (plastic, own), (both, whole) = moments(L_SHAPE), moments(ring)
    middles = [np.array(shape.centroid.coords[0]) for shape in (L_SHAPE, ring)]
    weights = np.array([(3.5e9 - 110e9) * plastic, 110e9 * both])
    axis = weights @ middles / weights.sum()
    second = (3.5e9 - 110e9) * own + 110e9 * whole
    second += sum(w * np.outer(m - axis, m - axis) for w, m in zip(weights, middles, strict=True))
    arm = 60 * (1 - 0.5 / sections.STATIONS)

    def load(shape: Polygon, around: np.ndarray, rigid: np.ndarray, strain: float) -> float:
        stiff, ways = np.linalg.eigh(rigid)
        off = np.abs((np.array(shape.exterior.coords) - around) @ ways).max(axis=0)
        return float((strain * stiff / off).min()) * 1e-6 / arm  # Pa mm4 / mm2

    loads = [load(L_SHAPE, axis, second, 50e6 / 3.5e9), load(ring, axis, second, 150e6 / 110e9)]
    assert worth["plastic_yields_N"] == pytest.approx(loads[0], rel=0.015)
    assert worth["limit_load_N"] == pytest.approx(min(loads), rel=0.015)
    bare = load(L_SHAPE, middles[0], 3.5e9 * own, 50e6 / 3.5e9)
    assert worth["bare_limit_load_N"] == pytest.approx(bare, rel=0.005)


def test_a_deposit_for_strength_bears_its_load_and_one_for_wear_wears_by_archards_law():
    part = surface(bar(L_SHAPE))
    first = proposed(part, purpose="strength", load_N=60)
    assert first.limit is Limit.METAL_YIELDS and [one.code for one in first.findings] == [Code.PURPOSE_THIN]
    then = proposed(part, purpose="strength", load_N=60, thickness_um=first.thickness / UM)
    assert then.worth["limit_load_N"] == pytest.approx(60, rel=1e-4) and not then.findings
    worn = proposed(part, purpose="wear", pressure_MPa=0.2, slide_m=500, wear_coefficient=1e-4)
    assert worn.worth["worn_um"] == pytest.approx(1e-4 * 0.2e6 * 500 / 1.0e9 / UM)  # K p s / H
    assert worn.needed == pytest.approx((worn.worth["worn_um"] + 5) * UM)
    assert worn.worth["slide_to_wear_through_m"] == pytest.approx(500 * 30 / worn.worth["worn_um"])


def test_a_purpose_makes_no_other_analysis_stale():
    """Its settings are aside of what the section is known by."""
    plain, aimed = (read_job({"target": target}).target for target in ({}, {"purpose": "look", "polish_um": 20}))
    assert repr(plain) == repr(aimed) and plain != aimed


def test_a_study_asks_for_a_purpose_only_where_the_job_has_one(trace):
    """Without one nothing is left to be computed; with one it is answered beside the usual analyses."""
    box_ = models.part(models.box((0.02, 0.02, 0.02)))
    skip = ", ".join(name for name in USUAL if name != "deposit")
    for kind, there in (("none", False), ("look", True)):
        study = run_to_end(run(box_, read_job({"target": {"purpose": kind}, "effort": {"skip": skip}}), trace))
        assert study.asked_for("purpose") is there and (study.results.purpose is not None) is there
