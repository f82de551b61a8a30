"""How much gas a bore leaves: the meniscus that it must overcome, and closed forms of what lies below that head."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from addon.engine.findings import Code, Quantity, RemedyCode
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.trapping import bores, gas
from addon.engine.units import GRAVITY, ML, MM

from models import Model, box, cup, lathe, moved, part

sys.path.append(str(Path(__file__).parents[2] / "docs" / "demo"))
from finial import finial  # noqa: E402

UP = (0.0, 0.0, 1.0)
WATER = np.sqrt(0.0728 / (998.2 * 9.80665))  # m, capillary length at 20 C: 2.73 mm (CRC Handbook values, from memory)


def gas_of(*models: Model, up: object = UP, capillary: float = WATER) -> gas.Gas:
    surface = run_to_end(inspection.inspect(part(*models)))
    return run_to_end(gas.trapped(surface, up, capillary_length=capillary))


def bell(radius: float, depth: float, around: int = 64) -> Model:
    """Its mouth down, 2 mm thick; millimeters made meters."""
    return moved(cup(radius, depth, 2, around), turn=np.diag([1.0, -1.0, -1.0]), scale=MM)


def polygon(radius: float, around: int = 64) -> float:
    """m2 of a regular polygon in a circle of that many mm."""
    return around / 2 * np.sin(2 * np.pi / around) * (radius * MM) ** 2


@pytest.mark.parametrize("diameter", [0.5, 1.0, 3.0])
def test_the_head_is_that_of_the_largest_bubble_pressure(diameter):
    """4 sigma / d = rho g h: a bubble on an orifice of radius r bears 2 sigma / r at most (Young and Laplace), so in water
    30 mm of head go with 1 mm (29.7 mm by hand: 4 * 0.0728 / (998.2 * 9.80665 * 0.001))."""
    assert bores.head_needed(diameter * MM, WATER) == pytest.approx(29.75 * MM / diameter, rel=1e-3)


@pytest.mark.parametrize(("diameter", "left"), [(1.0, 29.75), (2.0, 14.87), (4.0, 7.437)])
def test_a_cylinder_keeps_what_lies_above_that_head(diameter, left):
    """A bell of 8 mm radius and 40 mm depth: the section times the head, in closed form."""
    (pocket,) = gas_of(bell(8, 40)).pockets
    told = {round(one.diameter / MM, 6): one.remaining for one in pocket.bores}
    assert told[diameter] == pytest.approx(polygon(8) * left * MM, rel=2e-3)
    assert pocket.mouth == pytest.approx(2 * np.sqrt(polygon(8) / np.pi), rel=1e-9)


def test_a_bore_under_too_little_head_frees_nothing():
    """A bell 10 mm deep: 1 mm would need 30 mm of head."""
    (pocket,) = gas_of(bell(8, 10)).pockets
    assert pocket.bores[0].diameter == pytest.approx(1 * MM)
    assert pocket.bores[0].remaining == pytest.approx(pocket.volume)


def test_no_hole_is_wider_than_the_mouth():
    """Of a pocket 3 mm wide no hole of 4 mm is told, and of one below the least none at all."""
    (pocket,) = gas_of(bell(1.5, 40)).pockets
    assert max(one.diameter for one in pocket.bores) <= 3 * MM
    (tiny,) = gas_of(bell(0.4, 40)).pockets
    assert tiny.bores == () and tiny.vent_diameter <= 0.8 * MM


def test_no_hole_is_wider_than_the_pocket_where_it_is_cut():
    """A bell 30 mm wide whose top narrows to a stem of 4 mm: the hole goes into the stem."""
    outer, inner = [(0, 0), (20, 0), (20, -60)], [(15, -60), (15, -30), (2, -20), (2, -2), (0, -2)]
    (pocket,) = gas_of(moved(lathe([*outer, *inner][::-1], 64), scale=MM)).pockets
    assert pocket.volume > 10 * ML
    assert max(one.diameter for one in pocket.bores) <= 4 * MM


def test_the_finial_of_the_demo():
    """As modeled, 12.6 mL; a bore of 2 mm leaves the dowel hole (8 mm wide) over a head of 4 sigma / (rho g d) = 12.86 mm,
    pi / 4 * 8^2 * 12.86 mm3 = 0.646 mL; the narrow neck's own way up, 1 mm, 25.7 mm, leaves part of the bell as well."""
    bath = read_job({}).bath
    head = 4 * bath.surface_tension / (bath.density * GRAVITY * 2 * MM)
    assert head == pytest.approx(12.86 * MM, rel=2e-3)
    corners = finial().astype(np.float64) * MM
    model = corners.reshape(-1, 3), np.arange(3 * len(corners), dtype=np.int32).reshape(-1, 3)
    (pocket,) = gas_of(model, capillary=bath.capillary_length).pockets
    told = {round(one.diameter / MM, 6): one.remaining / ML for one in pocket.bores}
    assert pocket.volume / ML == pytest.approx(12.6, abs=0.05)
    assert told[2.0] == pytest.approx(np.pi / 4 * 64 * head / MM * 1e-3, rel=0.01)
    assert told[1.0] > 2 * told[2.0]
    assert max(told) <= 8.0  # the dowel hole
    assert pocket.vent_diameter in (2.5 * MM, 3.0 * MM)


def test_less_wetting_tension_leaves_less():
    """With half of the surface tension, half of the head and half of what is left in a cylinder."""
    plain, wetter = (gas_of(bell(8, 80), capillary=WATER * factor).pockets[0] for factor in (1.0, np.sqrt(0.5)))
    assert wetter.bores[0].remaining == pytest.approx(0.5 * plain.bores[0].remaining, rel=1e-9)


def test_drains_follow_the_same_rule():
    """A drop in a hole in air bears the same pressure: a cup upright keeps what a bell keeps of gas."""
    surface = run_to_end(inspection.inspect(part(moved(cup(8, 40, 2, 64), scale=MM))))
    (pool,) = run_to_end(gas.held(surface, UP, capillary_length=WATER)).pools
    (pocket,) = gas_of(bell(8, 40)).pockets
    assert [one.remaining for one in pool.bores] == pytest.approx([one.remaining for one in pocket.bores])


def test_a_drop_asks_for_no_hole():
    """Beside a block of 96 cm2: 0.016 mL over 0.35 cm2 is told nowhere; 0.39 mL is, with its hole."""
    block = moved(box((60 * MM, 60 * MM, 10 * MM)), (0.1, 0, 0))
    tilted = (0.35, 0.2, 1.0)  # so that the block's own underside keeps nothing
    drop = gas_of(bell(1, 5), block, up=tilted)
    assert drop.trapped_volume > 0 and not drop.findings
    (found,) = gas_of(bell(2.5, 20), block, up=tilted).findings
    assert found.code == Code.GAS_TRAPPED
    assert found.remedy is not None and found.remedy.code == RemedyCode.VENT
    assert found.remedy.quantities[Quantity.DIAMETER] <= 5 * MM


def test_a_shallow_dish_gets_no_hole():
    """A dish 4 mm deep keeps a head of 4 mm: in water a bore of 6 mm wants 4.96 mm, so it is shaken out, and no wider hole
    is proposed for all that it would free more."""
    (pocket,) = gas_of(bell(20, 4)).pockets
    assert pocket.worth_a_hole(1.0)
    assert pocket.hole is None and pocket.vent_diameter <= 6 * MM
    (found,) = (one for one in gas_of(bell(20, 4)).findings if one.code == Code.GAS_TRAPPED)
    assert found.remedy is not None and found.remedy.code == RemedyCode.SHAKE
