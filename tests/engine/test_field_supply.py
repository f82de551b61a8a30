"""The current that the supply really gives, and Newton's steps whatever the coat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from addon.engine.chemistry import deposit, kinetics
from addon.engine.field import equations
from addon.engine.field.follow import followed
from addon.engine.field.network import OnPanels
from addon.engine.field.panels import cell, lay
from addon.engine.field.problem import Control, Ending, NotSolvedError
from addon.engine.field.refine import a_side
from addon.engine.field.solve import run, solved
from addon.engine.findings import Code, Quantity, Severity
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.schedule import schedule
from addon.engine.settings.job import read_job
from addon.engine.tank.arrange import arrange
from addon.engine.tank.body import Role

import cells
import models

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("coarse_coat")]

MM = 1e-3
TANK = {"size_mm": [120, 100, 100], "level_mm": 90}


@pytest.fixture(scope="module")
def part():
    return run_to_end(inspection.inspect(models.part(models.moved(models.cup(10.0, 20.0, 1.0, around=32), scale=MM))))


def job(panels=500, **sections):
    return read_job({"tank": TANK, "effort": {"panels": panels}, **sections})


def codes(field):
    return {one.code: one for one in field.findings}


def test_a_supply_without_enough_volts_drives_what_its_volts_drive(part):
    """The same field as with that voltage held, which is another equation; the wish is named once, with what it would
    take."""
    wish = run_to_end(run(part, job()))
    assert wish.control == Control.CURRENT and Code.SUPPLY_VOLTAGE_TOO_SMALL not in codes(wish)
    volts = 0.7 * wish.voltage
    short = run_to_end(run(part, job(supply={"max_V": volts})))
    held = run_to_end(run(part, job(supply={"hold_V": volts})))
    assert short.control == Control.VOLTAGE and short.voltage == pytest.approx(volts, rel=1e-6)
    # each to 1e-7 of the voltage; the panels are laid by coarse solutions that differ by as much
    assert short.current == pytest.approx(held.current, rel=1e-5)
    assert short.current < 0.9 * short.wanted_current == pytest.approx(0.9 * wish.current, rel=1e-6)
    told = codes(short)[Code.SUPPLY_VOLTAGE_TOO_SMALL].quantities
    assert told[Quantity.LIMIT_CURRENT] == short.current and told[Quantity.CURRENT] == short.wanted_current
    assert told[Quantity.VOLTAGE] == pytest.approx(wish.voltage, rel=0.05)  # of the coarse level
    assert short.time == pytest.approx(wish.time * wish.current / short.current, rel=1e-6)


def test_a_supply_without_enough_amperes_drives_those_it_has(part):
    """Of 0.1 A no more flows, through parts and thieves together: the balance of currents (Kirchhoff)."""
    assert run_to_end(run(part, job(supply={"max_A": 0.1}))).current == pytest.approx(0.1, rel=1e-6)
    rod = models.part(models.moved(models.cylinder(2.0, 60.0, 16, 6), shift=(0.02, 0, 0.04), scale=MM))
    wanted = job(supply={"max_A": 0.1}, thief=[{"file": "rod.stl"}])
    thief = run_to_end(run(part, wanted, meshes={"rod.stl": rod}))
    assert thief.control == Control.DRAW and thief.thief_current > 0
    needed = next(found for found in thief.findings if found.code == Code.DRAW_TOO_LARGE).quantities[Quantity.CURRENT]
    assert needed == pytest.approx(0.1 * thief.wanted_current / sum(thief.part_currents), rel=1e-6) and needed > 0.1
    assert thief.current == pytest.approx(0.1, rel=1e-6) == pytest.approx(thief.anode_current, rel=1e-6)


def test_the_schedule_has_the_current_that_flows(part):
    """At less current the same charge (Faraday), hence as much longer; no step asks for more than flows."""
    wanted = deposit.estimate(part, job().target, job().bath, job().supply)
    most = 0.6 * wanted.current
    found = schedule(wanted, None, most)
    assert found.full_current == pytest.approx(most)
    assert found.charge == pytest.approx(wanted.charge) and found.time >= wanted.charge / most * (1 - 1e-9)


@pytest.mark.parametrize("ohms", [0.0, 0.5, 200.0])  # between: test_random_jobs
def test_newton_s_steps_do_not_grow_with_the_coat_s_resistance(part, ohms):
    """6 steps and 60 products whatever the coat; 9 and 100 at 200 ohm a square before steps were followed behind the
    whole coat, 26 before the linear equations were solved to the kinetics' e-fold."""
    coat = cells.even_coat(part, ohms) if ohms else None
    found = run_to_end(solved(part, job(panels=600), wire_drop=coat)).state
    assert found.ending == Ending.CONVERGED and found.newton_steps <= 6 and found.products <= 60


def test_steps_heed_the_whole_coat_only_where_it_loses_volts(part):
    """Behind a coat of next to no resistance each panel follows its law by itself, as on metal; before, panels in one
    gap ran away from each other, and a scan with half a deposit on its coat took 20 steps and stagnated at 1e-4."""
    panels = run_to_end(lay(part, arrange(part, job(), None), 300))
    metal = run_to_end(cell(panels, *kinetics.laws(job().bath), job().bath.conductivity))
    random = np.random.default_rng(5)
    j = random.uniform(50.0, 500.0, len(panels.role))
    step = random.uniform(-0.9, 2.0, len(j)) * j
    for ohms, apart in ((1e-4, False), (10.0, True)):
        loss = cells.even_coat(part, ohms).onto(panels.part.cover, panels.part.twin)
        shunt = OnPanels(loss, panels, metal.role == Role.PART)
        coated = replace(metal, shunt=shunt, lift=lambda j, loss=loss: shunt.on_panels(loss(a_side(panels, j))))
        off = np.abs(followed(coated, j, step) - followed(metal, j, step)).max()
        assert off > 1.0 if apart else off == 0.0


def test_steps_behind_the_coat_that_lead_nowhere_are_given_up(part, monkeypatch):
    """Panels are then followed one by one, and the equations are met; before, Newton's method went on as it had."""
    asked = []

    def misled(cell, j, step, *, behind_coat):
        asked.append(behind_coat)
        return (2.0 if behind_coat else 1.0) * followed(cell, j, step, behind_coat=behind_coat)

    monkeypatch.setattr(equations, "followed", misled)
    found = run_to_end(solved(part, job(), wire_drop=cells.even_coat(part, 1.0))).state
    assert asked[0] and not all(asked) and found.ending == Ending.CONVERGED


def test_a_coat_that_the_liquid_shunts_loses_what_its_own_currents_do(part):
    """The volts that are left drive currents, whose loss by the network alone is what was lost (Kirchhoff)."""
    panels = run_to_end(lay(part, arrange(part, job(), None), 300))
    random, count = np.random.default_rng(4), len(panels.part.pieces)
    conductance, twin = random.uniform(0.0, 3000.0, count), random.permutation(count)
    loss = cells.even_coat(part, 10.0).onto(panels.part.cover, twin)
    volts = random.uniform(-1.0, 1.0, count)
    lost = loss.shunted(conductance)(volts)
    assert np.abs(lost).max() > 0.05
    np.testing.assert_allclose(loss((conductance * (volts - lost))[twin]), lost, atol=1e-9)


def test_a_coat_that_lets_all_in_at_the_wire_is_refused_with_its_finding(part):
    """No metal grows at many times the limiting density; the reason is data, and the field of a better coat stands."""
    with pytest.raises(NotSolvedError, match="coat is too poor") as refused:
        run_to_end(run(part, job(), wire_drop=cells.even_coat(part, 1000.0)))
    (finding,) = refused.value.findings
    assert finding.code == Code.COAT_TOO_POOR and finding.severity == Severity.STOPS
    assert finding.quantities[Quantity.DENSITY] > 10 * finding.quantities[Quantity.LIMIT_DENSITY]
    sound = run_to_end(run(part, job(), wire_drop=cells.even_coat(part, 0.01)))
    assert Code.COAT_TOO_POOR not in codes(sound) and np.isfinite(sound.density).all()
