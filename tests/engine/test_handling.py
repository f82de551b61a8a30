"""What handling does to a part and a bath: drag-out, rinses, entry, wear. Closed forms and trade figures."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine import handling
from addon.engine.mesh.inspection import inspect
from addon.engine.progress import run_to_end
from addon.engine.units import MM, UM

import models
from cup_study import SETTINGS, study


def surface(size):
    return run_to_end(inspect(models.part(models.moved(models.box(size, (4, 4, 4)), scale=MM))))


def test_the_first_wetted_area_of_a_block():
    """The floor, a b, and four walls of 5 mm: 2 (a + b) 5 mm; whichever way it hangs."""
    block = surface((20, 30, 60))
    assert handling.first_wetted(block, (0, 0, 1)) == pytest.approx((20 * 30 + 100 * 5) * MM**2)
    assert handling.first_wetted(block, (0, 0, -3)) == pytest.approx((20 * 30 + 100 * 5) * MM**2)
    assert handling.first_wetted(block, (1, 0, 0)) == pytest.approx((30 * 60 + 180 * 5) * MM**2)


@pytest.mark.parametrize(("carried", "water", "count"), [(1e-6, 0.5e-3, 2), (10e-6, 0.5e-3, 3), (0.5e-3, 0.5e-3, 5)])
def test_rinses_thin_what_is_carried_over(carried, water, count):
    """Each rinse dilutes by (water + carried) / carried; 5000 in all, between two and five rinses."""
    assert handling.rinses(carried, water) == count
    if count < handling.MAX_RINSES:
        assert ((water + carried) / carried) ** count >= handling.RINSE_DILUTION


def test_a_rinse_takes_the_part_under():
    assert handling.rinse_volume(surface((20, 30, 60))) == 0.5e-3
    assert handling.rinse_volume(surface((100, 100, 100))) == 2e-3  # 1 L of part, half as much again


def test_drag_out_is_the_film_of_a_poorly_drained_rack():
    """4 US gal on 1000 ft2 = 0.163 L/m2 (Soderberg 1936, from memory)."""
    assert pytest.approx(0.163e-3, rel=2e-3) == handling.DRAG_OUT_FILM_M
    whole = study()
    found = handling.of_study(whole)
    film = handling.DRAG_OUT_FILM_M * float(whole.surface.wet_area.sum())
    assert found.carried_out == pytest.approx(film + whole.results.drainage.held_volume)


def test_what_goes_out_with_it():
    """Bench mix: 200 g/L of salt hold 50.9 g/L of copper (references of the recipe), and 85 g/L of acid."""
    found = handling.of_study(study())
    liters = found.carried_out / 1e-3
    assert found.metal == pytest.approx(50.9e-3 * liters, rel=2e-3)
    assert found.acid == pytest.approx(85e-3 * liters, rel=1e-9)
    assert found.first_rinse_metal * (found.rinse_volume + found.carried_out) == pytest.approx(found.metal)
    assert found.metal_gain == 0.0


def test_a_nickel_bath_gains_what_its_cathode_wastes():
    """At 95 % on the part and 100 % at the anode, 5 parts in 95 of the deposit."""
    whole = study({**SETTINGS, "bath": {"name": "nickel, Watts"}})
    mass = whole.results.deposit.mass
    assert handling.of_study(whole).metal_gain == pytest.approx(mass * 5 / 95)


def test_wear_counts_the_area_under_the_polishing_loss():
    block = surface((20, 30, 60))
    thickness = np.where(block.normal[:, 2] < -0.5, 5 * UM, 50 * UM)
    assert handling.worn(block, thickness) == pytest.approx(600 / 7200)  # the floor of 2 (ab + bc + ca) = 7200 mm2
