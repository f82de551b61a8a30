"""The coat's part of a study: volts lost, by closed form, with a field, and wherever the part stands."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from addon.engine.coat import contact, drop, proxy, sheet, study, wires
from addon.engine.coat.spread import Spread
from addon.engine.errors import InputError
from addon.engine.linalg.sparse import Graph
from addon.engine.progress import run_to_end
from addon.engine.reporting.finding_text import texts
from addon.engine.settings.part import Wire

import models
from coats import BAR, TWO, coated, job, surface

pytestmark = pytest.mark.usefixtures("coarse_coat")


@pytest.mark.slow
def test_even_density_gives_the_closed_form_on_a_part():
    """A sphere with a round pad: 2 j Rs R^2 ln(1 / sin(t0 / 2)), through the whole room."""
    part = surface(models.sphere(0.02, 4))
    pad = 2 * 2 * 0.02 * math.sin(math.radians(10) / 2)
    given = job(
        coat={"sheet_resistance_ohm_sq": 0.1},
        target={"density_A_dm2": 1.0},
        wire=[{"point_mm": [0, 0, 20], "pad_mm": 1000 * pad}],
    )
    found = run_to_end(study.run(part, given))
    expected = 4.8801 * 100.0 * 0.1 * 0.02**2
    assert found.worst_drop == pytest.approx(expected, rel=0.01)
    assert found.drop_at == pytest.approx([0, 0, -0.02], abs=1e-3)
    assert np.nanmax(found.drop) == pytest.approx(expected, rel=0.01)
    assert found.coupled_drop < found.worst_drop


@pytest.mark.slow
def test_field_density_shapes_the_loss():
    """Current that comes to the far half only loses more than an even one; the total is the wanted one either way."""
    given = job(wire=[{"point_mm": [0, 5, 4]}])
    even = coated(BAR, given)
    far = coated(BAR, given, density=np.where(BAR.centroid[:, 0] > 0.03, 50.0, 0.0))
    assert far.worst_drop > 1.3 * even.worst_drop
    assert sum(w.current for w in far.wires) == pytest.approx(sum(w.current for w in even.wires), rel=0.01)


def test_loss_for_a_field_agrees_with_the_coupled_solution():
    """Applied again and again with j = (U - u) / rho it settles at the solution of the coupled system, to the coarse copy's
    few per cent."""
    coat = run_to_end(sheet.build(BAR))
    pads = wires.specified_pads(BAR, [Wire((0.0, 0.005, 0.004), 0.003)])
    fitted, covered = run_to_end(sheet.with_pads(BAR, coat, pads))
    fed = drop.WiredSheet.of(fitted, covered)
    rs, rho, total = 0.3, 3e-3, 0.3
    spread = Spread.of(fed, run_to_end(proxy.build(fitted, 1000, covered)), pads)
    graph = Graph(fed.graph.count, fed.graph.low, fed.graph.high, fed.graph.weight / rs)
    exact = run_to_end(drop.share_current(fed, graph, fed.ground / rs, np.full(len(fitted.area), rho), total))
    bare, bath = np.full(len(spread.own), 1 / rs), np.full(len(spread.own), rho)
    loss = spread.fitted(bare, bath, exact.voltage / total).loss(bare)
    u = np.zeros(len(BAR.triangles))
    for _ in range(25):
        u = 0.5 * u + 0.5 * loss.at_faces((exact.voltage - u) / rho)
    assert u == pytest.approx(fitted.on_faces(exact.drop), abs=0.06 * np.nanmax(u))


def test_metal_part_loses_nothing():
    found = coated(TWO, job(coat={"name": "none (metal part)"}))
    assert found.worst_drop == 0.0
    assert found.wires_needed == 2
    assert found.heating is None
    assert found.steps[0].current == found.safe_start
    assert found.safe_start == pytest.approx(200.0 * TWO.plated_area.sum())
    assert len(found.never_covered) == 0


@pytest.mark.slow
def test_displaced_zinc_starts_covered_with_a_caution():
    """Common practice, no source: in acid copper a film forms on zinc-rich primer without current."""
    found = coated(BAR, job(coat={"name": "zinc-rich primer"}))
    assert found.covered_after == 0.0
    lost = 0.3e-6 * BAR.plated_area.sum() * 8960 * 65.38 / 63.546  # ion for ion: Cu2+ + Zn -> Cu + Zn2+
    assert found.dissolved == pytest.approx(lost, rel=1e-6)
    assert any(f"{1000 * lost:.2g} g of zinc" in sentence for sentence in texts(found.findings))
    nickel = job(coat={"name": "zinc-rich primer"})
    nickel = replace(nickel, bath=replace(nickel.bath, metal="nickel"))
    assert study.displaced_film(nickel) == 0.0


@pytest.mark.slow
def test_result_does_not_depend_on_place_or_turn():
    """Part, wire and up turned and moved together: the same volts, currents and minutes to a per cent or two."""
    turn = models.rotation(11)
    shift = np.array([0.1, -0.2, 0.05])
    model = models.moved(models.box((60, 10, 4), (12, 2, 1)), scale=1e-3)
    point = np.array([0.0, 0.005, 0.004])
    here = run_to_end(study.run(surface(model), job(wire=[{"point_mm": list(1e3 * point)}])))
    there = run_to_end(
        study.run(
            surface(models.moved(model, shift, turn)), job(wire=[{"point_mm": list(1e3 * (turn @ point + shift))}])
        )
    )
    assert there.worst_drop == pytest.approx(here.worst_drop, rel=0.01)
    assert there.safe_start == pytest.approx(here.safe_start, rel=0.05)


def test_faults_reach_the_caller_in_one_line():
    with pytest.raises(InputError, match=r"wire\[0\]"):
        coated(BAR, job(wire=[{"point_mm": [0, 0, 40]}]))
    masked = surface(models.box((0.01, 0.01, 0.01)), masked=np.ones(12, dtype=bool))
    with pytest.raises(InputError, match="mask"):
        run_to_end(contact.rank(masked, up=(0, 0, 1), sheet_resistance=1.0, density=100.0))
