"""Printed masks: closed caps and plugs that cover what is masked, free of the part by what they say, or a line why not.

Bodies by trimesh, distances by libigl, rays by embree; volumes by hand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from addon.engine.errors import InputError
from addon.engine.field import solve as field
from addon.engine.helpers import mask, mask_effect, turned
from addon.engine.helpers.mask import Form, Masks, Why
from addon.engine.helpers.printed import MIN_WALL, sampled
from addon.engine.mesh.inspection import inspect
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.reporting import plan_masks
from addon.engine.settings.job import read_job
from addon.engine.trapping import gas
from addon.engine.units import MM

import models
from tracers import EmbreeTracer

JOB = read_job({"part": {"file": "x.stl", "hang": "as set"}, "effort": {"panels": 500}})
STUB = [(0, 0), (10, 0), (10, 10), (4, 10), (4, 20), (0, 20)]  # a plate with a stub of 8 mm, 10 mm long
PIN = [(0, -15), (4, -15), (4, 5), (4, 15), (0, 15)]  # a pin of 8 mm, whose upper 10 mm are masked
BLIND = [(0, 0), (10, 0), (10, 20), (3, 20), (3, 6), (0, 6)]
THROUGH = [(3, 0), (10, 0), (10, 20), (3, 20), (3, 0)]
POLYGON = turned.SIDES * np.tan(np.pi / turned.SIDES)  # area over the square of the radius to the flats


def surface_of(profile: list, low: float, high: float, radius: float, turn: np.ndarray | None = None) -> Surface:
    """A turned part, in mm, masked between two heights within a radius."""
    points, triangles = models.lathe(profile, 48)
    corners = points[triangles]
    within = np.linalg.norm(corners[:, :, :2], axis=2) < radius + 0.01
    masked = (within & (corners[:, :, 2] > low - 0.01) & (corners[:, :, 2] < high + 0.01)).all(axis=1)
    moved = models.moved((points, triangles), turn=turn, scale=MM)
    return run_to_end(inspect(models.part(moved, masked=masked)))


def found(surface: Surface) -> Masks:
    return mask.find(surface, EmbreeTracer(surface), JOB)


def solid(one: mask.Mask) -> trimesh.Trimesh:
    return trimesh.Trimesh(one.points / MM, one.triangles, process=False)


@pytest.mark.parametrize(("turn", "clearance_mm"), [(None, 0.15), (models.rotation(3), 0.3)])
def test_a_cap_is_closed_and_free_all_around_and_as_thick_as_a_printer_needs(turn, clearance_mm):
    """Volume: a prism of 48 sides less its hollow, both of flats at the stated distances."""
    surface = surface_of(STUB, 10, 20, 4, turn)
    job = replace(JOB, hanger=replace(JOB.hanger, cap_clearance=clearance_mm * MM))
    (one,) = mask.find(surface, EmbreeTracer(surface), job).masks
    mesh = solid(one)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1
    fit, wall = clearance_mm, MIN_WALL / MM
    inner, outer, deep = 4 + fit, 4 + fit + wall, 10.0  # the rim stands off the plate as far as the floor off the end
    assert mesh.volume == pytest.approx(POLYGON * (outer**2 * (deep + wall) - inner**2 * deep), rel=1e-9)
    assert one.volume / MM**3 == pytest.approx(mesh.volume, rel=1e-9)
    assert one.form == Form.CAP and one.outer == pytest.approx(2 * outer * MM, rel=1e-9)
    off = EmbreeTracer(surface).nearest(sampled(one.points[one.triangles], 0.2 * MM))
    assert off.min() == pytest.approx(fit * MM, rel=1e-6) and one.clearance == fit * MM
    middle = mesh.triangles_center[np.abs(mesh.face_normals @ one.axis) < 0.5]  # on its sides, in and out
    normal = mesh.face_normals[np.abs(mesh.face_normals @ one.axis) < 0.5]
    facing = np.einsum("ij,ij->i", middle - one.place / MM, normal) < 0  # on the hollow's
    hits = mesh.ray.intersects_location(middle[facing] - 1e-4 * normal[facing], -normal[facing], multiple_hits=False)[0]
    assert len(hits) == facing.sum()
    through = np.linalg.norm(hits - middle[facing], axis=1)
    assert through.min() == pytest.approx(wall, rel=1e-3)


@pytest.mark.parametrize(
    ("profile", "low", "high", "radius", "open_mm"),
    [(STUB, 10, 20, 4, JOB.hanger.cap_clearance / MM), (PIN, 5, 15, 4, 0)],
)
def test_a_cap_covers_every_masked_face(profile, low, high, radius, open_mm):
    """From each masked face but the band at a shoulder a ray straight out meets the cap before it meets the part."""
    surface = surface_of(models.steps(profile, 10), low, high, radius)
    (one,) = found(surface).masks
    masked = np.flatnonzero(surface.wetted & ~surface.plated)
    assert set(np.flatnonzero(one.faces)) == set(masked)
    origins = surface.centroid[masked] + 1e-6 * surface.normal[masked]
    meets = solid(one).ray.intersects_location(origins / MM, surface.normal[masked], multiple_hits=False)[1]
    above = origins[:, 2] / MM > low + open_mm
    assert set(np.flatnonzero(above)) <= set(meets)
    assert one.open / MM**2 == pytest.approx(2 * np.pi * 4 * open_mm, abs=1e-9)
    assert one.area / MM**2 == pytest.approx(48 * np.sin(np.pi / 48) * (2 * 4 * 10 + 16 * np.cos(np.pi / 48)), rel=1e-9)
    plated = surface.centroid[surface.plated]
    assert not solid(one).bounding_box.contains(plated / MM).any()


@pytest.mark.parametrize(("profile", "count"), [(BLIND, 1), (THROUGH, 2)])
def test_a_masked_bore_gets_a_taper_from_each_mouth(profile, count):
    """Volume of a frustum with regular polygons as ends; at the mouth it has the bore's own gauge: nothing is coated
    there."""
    surface = surface_of(profile, 0 if count == 2 else 6, 20, 3)
    masks = found(surface).masks
    assert len(masks) == count and {one.form for one in masks} == {Form.PLUG}
    for one in masks:
        mesh = solid(one)
        tip, top, length = one.diameter / MM - one.length / MM / 20, one.outer / MM, one.length / MM + 6
        ends = turned.SIDES / 8 * np.sin(2 * np.pi / turned.SIDES)
        assert mesh.is_watertight and mesh.body_count == 1
        assert mesh.volume == pytest.approx(ends * length / 3 * (tip**2 + tip * top + top**2), rel=1e-9)
        assert one.diameter == pytest.approx(6 * MM * np.cos(np.pi / 48), rel=1e-6)
        assert abs(one.axis[2]) == pytest.approx(1)
    assert {round(float(one.place[2] / MM), 6) for one in masks} == ({20.0} if count == 1 else {0.0, 20.0})
    depth = sum(one.length for one in masks) / MM + 6 * count
    assert depth + 0.5 <= 20  # pushed in all the way they meet neither the bottom nor each other


def test_the_part_with_masks_on_is_one_closed_surface():
    """Volumes of the prisms that a cap adds to a pin: geometry. The part's own triangles keep their rows."""
    surface = surface_of(models.steps(PIN, 10), 5, 15, 4)
    both = run_to_end(mask_effect.with_masks(surface, found(surface)))
    fit, wall = JOB.hanger.cap_clearance / MM, MIN_WALL / MM
    added = POLYGON * (4 + fit + wall) ** 2 * (10 + fit + wall) - 48 / 2 * 16 * np.sin(2 * np.pi / 48) * 10
    assert both.closed and (both.volume - surface.volume) / MM**3 == pytest.approx(added, rel=1e-9)
    count = len(surface.triangles)
    assert (both.plated[:count] == surface.plated).all() and not both.plated[count:].any()
    np.testing.assert_allclose(both.plated_area[:count], surface.plated_area, rtol=1e-12)


@pytest.mark.slow
def test_beside_a_cap_the_deposit_is_that_of_a_pin_modeled_with_it():
    """An independent model of part and cap in one: the same field but for the panels' size, 700 of them."""
    job = read_job({"part": {"file": "x.stl", "hang": "as set"}, "effort": {"panels": 700}})
    surface = surface_of(models.steps(PIN, 20), 5, 15, 4)
    made = found(surface)
    both = run_to_end(mask_effect.with_masks(surface, made))
    placed = mask_effect.placed(surface, both, job, {})
    with_it = run_to_end(field.run(both, placed)).thickness[: len(surface.triangles)]
    alone = run_to_end(field.run(surface, job)).thickness
    wide, top = (
        (4 + (JOB.hanger.cap_clearance + MIN_WALL) / MM) / np.cos(np.pi / 48),
        15 + (JOB.hanger.cap_clearance + MIN_WALL) / MM,
    )
    whole = surface_of(models.steps([(0, -15), (4, -15), (4, 5), (wide, 5), (wide, top), (0, top)], 20), 5, top, wide)
    wanted = run_to_end(field.run(whole, job)).thickness

    def near(one: Surface, thickness: np.ndarray) -> float:
        """Mean of the millimeters beside the edge."""
        some = one.plated & (np.abs(one.centroid[:, 2] / MM - 4) < 1)
        return float(np.average(thickness[some], weights=one.area[some]))

    assert near(surface, with_it) == pytest.approx(near(whole, wanted), rel=0.03)
    assert near(surface, alone) > 1.05 * near(surface, with_it)  # without it the edge gets more


@pytest.mark.parametrize("up", [(0, 0, 1), (0, 0, -1), (1, 0, 0)])
def test_no_gas_is_kept_under_a_cap_that_lies_on(up):
    surface = surface_of(STUB, 10, 20, 4)
    alone = run_to_end(gas.trapped(surface, np.array(up, float), capillary_length=JOB.bath.capillary_length))
    assert run_to_end(mask_effect.dried(surface, JOB, found(surface), alone)).gas == pytest.approx(0.0, abs=1e-12)


RING = [(0, 0), (4, 0), (4, 8), (4, 12), (4, 20), (0, 20)]
DEEP = [(3, 0), (10, 0), (10, 20), (3, 20), (3, 10), (3, 0)]
HALVES = [(0, 0), (4, 0), (4, 6), (10, 6), (10, 8), (4, 8), (4, 20), (0, 20)]
NEEDLE = [(0, 0), (10, 0), (10, 10), (0.8, 10), (0.8, 20), (0, 20)]


@pytest.mark.parametrize(
    ("surface", "why"),
    [
        (surface_of(RING, 8, 12, 4), Why.RING),
        (surface_of(DEEP, 0, 10, 3), Why.BLOCKED),
        (surface_of(NEEDLE, 10, 20, 0.8), Why.NARROW),
        (surface_of([(0, 0), (8, 0), (8, 10), (0, 10)], 10, 10, 8), Why.FREE_FORM),
    ],
    ids=["ring", "inner half of a bore", "needle", "flat end"],
)
def test_what_is_neither_end_nor_bore_is_one_line(surface, why):
    with pytest.raises(InputError, match="no printed mask fits: .*; use stop-off lacquer or tape") as told:
        found(surface)
    assert mask.REASONS[why] in str(told.value)


def test_other_regions_are_named_beside_the_masks():
    """A stub and the rim of its plate: a cap for the one, lacquer for the other."""
    points, triangles = models.lathe(STUB, 48)
    corners = points[triangles]
    stub = (corners[:, :, 2] > 9.99).all(axis=1) & (np.linalg.norm(corners[:, :, :2], axis=2) < 4.01).all(axis=1)
    rim = (np.linalg.norm(corners[:, :, :2], axis=2) > 9.99).all(axis=1)
    surface = run_to_end(inspect(models.part(models.moved((points, triangles), scale=MM), masked=stub | rim)))
    made = found(surface)
    assert [one.form for one in made.masks] == [Form.CAP] and [one.why for one in made.by_hand] == [Why.RING]
    assert made.by_hand[0].area / MM**2 == pytest.approx(48 * 2 * 10 * np.sin(np.pi / 48) * 10, rel=1e-9)


def test_a_mask_in_speckles_is_told_in_a_few_lines():
    """Every other triangle of the plate's rim: one line each of the largest, and how many more there are."""
    points, triangles = models.lathe(STUB, 48)
    corners = points[triangles]
    stub = (corners[:, :, 2] > 9.99).all(axis=1) & (np.linalg.norm(corners[:, :, :2], axis=2) < 4.01).all(axis=1)
    rim = np.flatnonzero((np.linalg.norm(corners[:, :, :2], axis=2) > 9.99).all(axis=1))
    masked = stub.copy()
    masked[rim[::2]] = True
    made = found(run_to_end(inspect(models.part(models.moved((points, triangles), scale=MM), masked=masked))))
    lines = plan_masks.by_hand(made)
    assert len(made.by_hand) > 10 and len(lines) == plan_masks.MAX_LISTED_BY_HAND + 1
    assert str(len(made.by_hand) - plan_masks.MAX_LISTED_BY_HAND) in lines[-1]


def test_nothing_masked_an_open_mesh_and_a_soft_plastic_are_one_line():
    with pytest.raises(InputError, match="no face is masked"):
        found(surface_of(STUB, 90, 99, 1))
    points, triangles = models.lathe(STUB, 48)
    opened = run_to_end(inspect(models.part((points * MM, triangles[:-5]), masked=np.ones(len(triangles) - 5, bool))))
    with pytest.raises(InputError, match="closed mesh"):
        found(opened)
    warm = read_job({"part": {"file": "x.stl", "material": "PLA"}, "bath": {"temperature_C": 58}})
    surface = surface_of(STUB, 10, 20, 4)
    with pytest.raises(InputError, match="masks: PLA softens in this bath"):
        mask.find(surface, EmbreeTracer(surface), warm)
    metal = read_job({"part": {"file": "x.stl"}, "coat": {"name": "none (metal part)"}, "bath": {"temperature_C": 58}})
    with pytest.raises(InputError, match="masks: PLA softens in this bath; do without") as fault:
        mask.find(surface, EmbreeTracer(surface), metal)
    assert "part.material" not in str(fault.value)  # with it the metal part was weighed as plastic, and floated
