"""Gas pockets and held liquid: what must hold whatever the shape, and the report of each pocket."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.engine.findings import Code, RemedyCode, Severity
from addon.engine.reporting.finding_text import texts
from addon.engine.trapping import gas
from addon.engine.mesh import inspection
from addon.engine.trapping.gas import Drainage, Gas
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface
from addon.engine.verdict.judge import to_change

from grids import blocks, without_voids
from models import Model, box, cup, cylinder, inside_out, joined, lathe, moved, part, rotation, sphere, split, torus

UP, DOWN = np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, -1.0])
BATH = 2.3  # capillary length; the models are in mm, and nothing here minds


def surface_of(*models: Model, sheet_sides: int = 1, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(part(*models, **marks), sheet_sides=sheet_sides))


def gas_of(*models: Model, up: object = UP, bath: float = BATH) -> Gas:
    return run_to_end(gas.trapped(surface_of(*models), up, capillary_length=bath))


def held_in(*models: Model, up: object = UP) -> Drainage:
    return run_to_end(gas.held(surface_of(*models), up, capillary_length=BATH))


def shaggy(seed: int = 0) -> Model:
    """A bowl with a ring and a ball hung in it without touching, all of them wavy."""
    bowl = cup(10, 20, 2, around=48, rows=6)
    ring = moved(torus(6, 1.2, 32, 12), (0.3, 0.2, 8))
    ball = moved(sphere(2, 2), (-0.5, 0.4, 13))
    points, faces = joined(bowl, ring, ball)
    waves = np.random.default_rng(seed).normal(size=(3, 3))
    return points + 0.4 * np.sin(points @ waves), faces


TILTED = rotation(5) @ UP * [1, 1, 0.3] + DOWN


def test_does_not_depend_on_how_the_model_is_turned() -> None:
    """Part and up turned together, and both at another scale: volume grows with its cube, area with its square."""
    first = gas_of(shaggy(), up=TILTED)
    assert first.trapped_volume > 100
    for seed in range(4):
        turn = rotation(seed)
        second = gas_of(moved(shaggy(), (3, -40, 7), turn, 2.5), up=turn @ TILTED, bath=2.5 * BATH)
        assert second.trapped_volume == pytest.approx(2.5**3 * first.trapped_volume, rel=1e-9)
        assert second.trapped_area == pytest.approx(2.5**2 * first.trapped_area, rel=1e-9)
        assert second.face == pytest.approx(first.face, abs=1e-9)
        assert len(second.pockets) == len(first.pockets)
        vent = 2.5 * turn @ first.pockets[0].vent + (3, -40, 7)
        assert second.pockets[0].vent == pytest.approx(vent, abs=1e-6)


def test_does_not_depend_on_the_mesh() -> None:
    """The same shape with faces and points in another order, cut finer, or as loose triangles, holds the same gas."""
    points, faces = shaggy()
    random = np.random.default_rng(1)
    first = gas_of((points, faces), up=TILTED)
    place = random.permutation(len(points))
    order = random.permutation(len(faces))
    shuffled = points[np.argsort(place)], np.roll(place[faces], 1, axis=1)[order].astype(np.int32)
    loose = points[faces].reshape(-1, 3), np.arange(3 * len(faces), dtype=np.int32).reshape(-1, 3)
    for model in (shuffled, split((points, faces)), loose):
        second = gas_of(model, up=TILTED)
        assert second.trapped_volume == pytest.approx(first.trapped_volume, rel=1e-9)
        assert second.trapped_area == pytest.approx(first.trapped_area, rel=1e-9)
    assert gas_of(shuffled, up=TILTED).face == pytest.approx(first.face[order], abs=1e-9)


def test_held_liquid_is_gas_in_the_mirror() -> None:
    """Draining a part is venting its image in a level mirror."""
    points, faces = shaggy(2)
    mirrored = points * [1, 1, -1], faces[:, ::-1].copy()
    drained, filled = held_in((points, faces), up=(0.2, -0.1, 1)), gas_of(mirrored, up=(-0.2, 0.1, 1))
    assert drained.held_volume > 100
    assert drained.held_volume == pytest.approx(filled.trapped_volume, rel=1e-9)
    assert drained.held_area == pytest.approx(filled.trapped_area, rel=1e-9)
    assert drained.face == pytest.approx(filled.face, abs=1e-9)
    assert drained.pools[0].bottom == pytest.approx(filled.pockets[0].top * [1, 1, -1], abs=1e-9)


@pytest.mark.parametrize(("deep", "severity"), [(1.0, Severity.NOTE), (2.0, Severity.COSTS)])
def test_a_pool_that_only_tipping_empties_counts_from_what_clings_to_the_part(deep: float, severity: Severity) -> None:
    """A dish 12 mm wide in a round plate holds 0.11 mL a millimeter (cylinder). On the plate's 79 cm2 a film of 0.016 mm
    stays when it is well drained, 0.13 mL (Soderberg 1936, from memory): less is noted, more is to change."""
    dish = lathe([(0, 0), (30, 0), (30, 12), (6, 12), (6, 12 - deep), (0, 12 - deep)])
    surface = surface_of(moved(dish, scale=1e-3))
    (found,) = run_to_end(gas.held(surface, UP, capillary_length=2.5e-3)).findings
    assert found.remedy is not None and found.remedy.code == RemedyCode.SHAKE
    assert found.severity == severity and bool(to_change([found])) == (severity != Severity.NOTE)


def test_ring_hung_in_a_bell() -> None:
    """What hangs in a pocket without touching takes its volume from the gas, and is kept dry as well."""
    bell, ring = cup(10, 20, 1), moved(torus(6, 1.5, 64, 32), (0, 0, 8))
    alone, both = gas_of(bell, up=DOWN), gas_of(bell, ring, up=DOWN)
    ring_surface = surface_of(ring)
    assert alone.trapped_volume - both.trapped_volume == pytest.approx(ring_surface.volume, rel=1e-9)
    assert both.trapped_area - alone.trapped_area == pytest.approx(ring_surface.area.sum(), rel=1e-9)
    assert len(both.pockets) == 1


def test_cup_hung_in_a_bell() -> None:
    """A small bell below a large one's ceiling: one pocket, less the small bell's own solid."""
    bell, small = cup(10, 20, 1), moved(cup(3, 6, 1), (0, 0, 5))
    both = gas_of(bell, small, up=DOWN)
    solid = surface_of(small).volume
    assert both.trapped_volume == pytest.approx(gas_of(bell, up=DOWN).trapped_volume - solid, rel=1e-9)
    assert len(both.pockets) == 1


def test_ball_below_the_lip_changes_nothing() -> None:
    """A body under the pocket, seen by a ray upward but below the level: it stays wet."""
    bell, ball = cup(10, 20, 1), moved(sphere(4, 3), (0, 0, 25))
    both = gas_of(bell, ball, up=DOWN)
    assert both.trapped_volume == pytest.approx(gas_of(bell, up=DOWN).trapped_volume, rel=1e-12)
    assert not both.face[surface_of(bell, ball).shell == 1].any()


def test_sealed_hollow_is_no_pocket() -> None:
    """No liquid comes to a hollow without an opening, so it is no question of the way up."""
    hollow = moved(inside_out(sphere(4, 3)), (5, 5, 5))
    found = gas_of(box((10, 10, 10)), hollow)
    assert found.trapped_volume == 0.0
    assert not found.face.any()


def test_two_domes_are_one_pocket_with_two_vents() -> None:
    """Chambers that join above the lip spill as one; a hole in the higher leaves the other full above the sill.

    Each is 1 x 1, one 3 and the other 2 cells high, over a common mouth of 3 x 1 x 2 cells.
    """
    solid = np.ones((5, 3, 6), dtype=bool)
    solid[1:4, 1, :2] = False
    solid[1, 1, :5] = False
    solid[3, 1, :4] = False
    found = gas_of(blocks(solid), bath=1.0)
    assert found.trapped_volume == pytest.approx(3 * 2 + 3 + 2, abs=1e-9)
    (pocket,) = found.pockets
    assert pocket.top[2] == pytest.approx(5)
    assert pocket.spill_level == pytest.approx(0)
    assert pocket.vent == pytest.approx([1.5, 1.5, 5], abs=1e-9)
    assert pocket.more_vents == pytest.approx(np.array([[3.5, 1.5, 4]]), abs=1e-9)


def test_two_pockets_apart() -> None:
    """Cups side by side are two pockets, the larger first, each with its own faces."""
    small, large = cup(4, 6, 1), moved(cup(5, 8, 1), (30, 0, 0))
    found = gas_of(small, large, up=DOWN)
    first, second = found.pockets
    assert first.volume > second.volume
    assert found.trapped_volume == pytest.approx(first.volume + second.volume, rel=1e-12)
    shell = surface_of(small, large).shell
    assert set(shell[first.faces]) == {1}
    assert set(shell[second.faces]) == {0}


def test_pocket_of_a_tilted_cup() -> None:
    """Top, lip and vent lie where one would point at them: the ceiling's high edge, the rim's high point."""
    angle = np.radians(20)
    found = gas_of(cup(10, 20, 1, around=64), up=(np.sin(angle), 0, -np.cos(angle)))
    (pocket,) = found.pockets
    assert pocket.top == pytest.approx([10, 0, 0], abs=1e-9)
    assert pocket.vent == pytest.approx([10, 0, 0], abs=1e-9)
    assert pocket.spill == pytest.approx([10, 0, 20], abs=1e-9)
    assert pocket.spill_level == pytest.approx(found.up @ pocket.spill, abs=1e-12)
    assert len(pocket.more_vents) == 0


def test_vent_of_a_flat_ceiling_is_in_its_middle() -> None:
    """An upright bell is vented in the middle of its ceiling; a ring-shaped trough on the ring."""
    assert gas_of(cup(10, 20, 1), up=DOWN).pockets[0].vent == pytest.approx([0, 0, 0], abs=1e-9)
    profile = [(0, -2), (10, -2), (10, 6), (8, 6), (8, 0), (5, 0), (5, 6), (0, 6)]
    vent = gas_of(lathe(profile, 48), up=DOWN).pockets[0].vent
    assert 5 < np.hypot(*vent[:2]) < 8
    assert vent[2] == pytest.approx(0, abs=1e-9)


def test_shares_add_up_to_the_area() -> None:
    """Each face's share, times its area, makes the trapped area; ceilings are dry and the outside is wet."""
    surface = surface_of(shaggy())
    found = run_to_end(gas.trapped(surface, TILTED, capillary_length=BATH))
    assert found.face.min() == 0.0
    assert found.face.max() == 1.0
    assert found.face @ surface.wet_area == pytest.approx(found.trapped_area, rel=1e-12)


def test_masked_faces_keep_gas_but_take_no_deposit() -> None:
    """A stopped-off face holds gas like any other; only the plated share of the area leaves it out."""
    model = cup(10, 20, 1)
    inside = np.hypot(*model[0][:, :2].T)[model[1]].max(axis=1) < 10.5
    plain = run_to_end(gas.trapped(surface_of(model), DOWN, capillary_length=BATH))
    masked = run_to_end(gas.trapped(surface_of(model, masked=inside), DOWN, capillary_length=BATH))
    assert masked.trapped_volume == plain.trapped_volume
    assert masked.trapped_area == plain.trapped_area == plain.trapped_plated_area
    assert masked.trapped_plated_area == 0.0


def dome(around: int) -> Model:
    """Half a sphere without thickness, open below."""
    turn = np.linspace(0, np.pi / 2, 33)
    profile = np.stack([10 * np.cos(turn), 10 * np.sin(turn)], axis=1)
    profile[-1, 0] = 0
    return lathe(profile, around)


def test_sheet_holds_gas_whichever_way_it_is_wound() -> None:
    """A declared sheet is wet on both sides: half a ball's volume below it, the dry side half of its area."""
    points, faces = dome(64)
    for model in ((points, faces), inside_out((points, faces))):
        surface = surface_of(model, sheet_sides=2)
        found = run_to_end(gas.trapped(surface, UP, capillary_length=BATH))
        assert found.trapped_volume == pytest.approx(2 / 3 * np.pi * 1000, rel=4e-3)
        assert found.trapped_area == pytest.approx(surface.area.sum(), rel=1e-9)
        assert found.face == pytest.approx(np.full(len(faces), 0.5), abs=1e-9)
        assert run_to_end(gas.trapped(surface, DOWN, capillary_length=BATH)).trapped_volume == 0.0
        upside_down = run_to_end(gas.held(surface, DOWN, capillary_length=BATH))
        assert upside_down.held_volume == pytest.approx(found.trapped_volume, rel=1e-12)


def test_sheet_divided_by_a_sheet_is_two_pockets() -> None:
    """Three sheets that meet along an edge part the gas: a wall across a dome makes two chambers of it."""
    points, faces = dome(32)
    seam = np.flatnonzero(np.abs(points[:, 1]) < 1e-9)
    seam = seam[np.argsort(np.arctan2(points[seam, 2], points[seam, 0]))]
    wall = np.stack([np.full(len(seam) - 1, len(points)), seam[:-1], seam[1:]], axis=1)
    both = np.vstack([points, [[0, 0, 0]]]), np.vstack([faces, wall]).astype(np.int32)
    found = run_to_end(gas.trapped(surface_of(both, sheet_sides=2), UP, capillary_length=BATH))
    whole = run_to_end(gas.trapped(surface_of((points, faces), sheet_sides=2), UP, capillary_length=BATH))
    assert found.trapped_volume == pytest.approx(whole.trapped_volume, rel=1e-9)
    assert [p.volume for p in found.pockets] == pytest.approx([whole.trapped_volume / 2] * 2, rel=1e-9)


def test_open_part_is_taken_as_solid_behind_its_gaps() -> None:
    """A missing triangle is closed by a flat patch: the gas is the whole cup's, the area less the patch's own."""
    points, faces = cup(10, 20, 1, rows=4)
    surface = surface_of((points, faces))
    inner = (np.hypot(*surface.centroid[:, :2].T) < 10) & (surface.centroid[:, 2] > 5)
    gone = np.flatnonzero(inner)[0]
    torn = surface_of((points, np.delete(faces, gone, axis=0)))
    before, after = (run_to_end(gas.trapped(each, DOWN, capillary_length=BATH)) for each in (surface, torn))
    assert not torn.closed
    assert after.trapped_volume == pytest.approx(before.trapped_volume, rel=1e-9)
    assert after.trapped_area == pytest.approx(before.trapped_area - surface.area[gone], rel=1e-9)


def test_level_underside() -> None:
    """A block's bottom counts up to 15 degrees of tilt; a bell's ceiling does not, being in a pocket already."""
    for degrees, area in ((0, 200.0), (14, 200.0), (16, 0.0)):
        angle = np.radians(degrees)
        found = gas_of(box((10, 20, 5)), up=(0, np.sin(angle), np.cos(angle)))
        assert found.level_underside_area == pytest.approx(area, rel=1e-12)
        assert found.level_underside.sum() == (2 if area else 0)
    rim = 64 * np.sin(2 * np.pi / 64) / 2 * (11**2 - 10**2)
    found = gas_of(cup(10, 20, 1, around=64), up=DOWN)
    assert found.level_underside_area == pytest.approx(rim, rel=1e-9)


def test_bubbles_are_counted_but_not_listed() -> None:
    """Pockets that hold less than a bubble a quarter of a capillary length wide are in the totals and in `small`."""
    dent = np.ones((3, 3, 2), dtype=bool)
    dent[1, 1, 0] = False
    found = gas_of(blocks(dent), bath=10.0)
    assert (found.pockets, found.small) == ((), 1)
    assert found.trapped_volume == pytest.approx(1.0, abs=1e-12)


def test_rounding_of_the_model_makes_no_pockets() -> None:
    """A level ceiling turned in single precision is uneven by rounding; that is no shape."""
    turn = rotation(3)
    points, faces = moved(box((30, 20, 5), (30, 20, 1)), turn=turn)
    found = gas_of((points.astype(np.float32).astype(np.float64), faces), up=turn @ UP)
    assert found.trapped_volume == 0.0
    assert found.small == 0


@pytest.mark.slow
@given(seed=st.integers(0, 10_000), turn=st.integers(0, 50))
@settings(max_examples=20, deadline=None, derandomize=True)
def test_random_blocks_give_sound_figures(seed: int, turn: int) -> None:
    """However its cells touch and whichever way it is held, a porous block's figures keep within their bounds.

    No pocket holds less than nothing, no face is dry beyond its area, and pockets make up the totals.
    """
    solid = without_voids(np.random.default_rng(seed).random((6, 6, 6)) < 0.6)
    found = gas_of(blocks(solid), up=rotation(turn) @ UP, bath=1e-4)
    assert all(pocket.volume > 0 for pocket in found.pockets)
    assert found.trapped_volume == pytest.approx(sum(pocket.volume for pocket in found.pockets), abs=1e-9)
    assert found.trapped_area == pytest.approx(sum(pocket.area for pocket in found.pockets), abs=1e-9)
    assert found.face.min() >= 0.0
    assert found.face.max() <= 1.0
    for pocket in found.pockets:
        assert found.up @ pocket.top > pocket.spill_level
        assert found.up @ pocket.vent >= pocket.spill_level - 1e-9


def test_says_where_its_figures_do_not_hold() -> None:
    """A tube and its lid as two bodies hold gas that neither holds alone: not seen, but said. So are gaps."""
    tube = lathe([(10, 0), (11, 0), (11, 20), (10, 20), (10, 0)], 48)
    together = gas_of(tube, moved(cylinder(11, 2, 48), (0, 0, 19)))
    assert "Join the bodies" in texts(together.findings)[0]
    points, faces = cup(10, 20, 1)
    assert "flat patch" in texts(gas_of((points, faces[1:]), up=DOWN).findings)[0]
    assert not {Code.TRAPPING_OVERLAP, Code.TRAPPING_PATCHED} & {
        one.code for one in gas_of((points, faces), up=DOWN).findings
    }


def test_an_underside_smaller_than_a_bubble_is_no_finding() -> None:
    """A bubble of 2 mm covers 3 mm2 (Fritz 1935, from memory): a tip of 1 mm2 keeps none, 4 mm2 may keep one."""
    for side, told in ((1.0, False), (2.0, True)):
        found = gas_of(box((side * 1e-3, side * 1e-3, 4e-3)), bath=2.5e-3)
        assert any(one.code == Code.BUBBLE_PRONE for one in found.findings) == told
