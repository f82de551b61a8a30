"""The warmth at the wire, and the wire itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from addon.engine.coat import drop, heat, sheet, wires
from addon.engine.progress import run_to_end
from addon.engine.reasons import ReasonCode
from addon.engine.reporting.finding_text import texts
from addon.engine.settings.part import Wire

import models
from coats import BAR, coated, job, surface

pytestmark = pytest.mark.usefixtures("coarse_coat")


def test_warmth_at_a_round_pad():
    """Next to a pad of radius a in a wide sheet the flux is Rs (I / 2 pi a)^2 W/m2."""
    part = surface(models.lathe([(0, 0), (0.03, 0)], 120))
    pads = wires.specified_pads(part, [Wire((0.0, 0.0, 0.0), 0.004)])
    coat, covered = run_to_end(sheet.with_pads(part, run_to_end(sheet.build(part, triangles=20_000)), pads))
    fed = drop.WiredSheet.of(coat, covered)
    rim = np.linalg.norm(coat.mesh.points, axis=1) > 0.0299
    current = np.where(rim, 1.0 / rim.sum(), 0.0)  # an ampere that comes in from afar
    u = run_to_end(run_to_end(drop.Loss.build(fed, 2.0)).at_points(current))
    warm = heat.coat_heating(fed, pads, u, 2.0, 1.0, bath=298.15, softens=328.15)
    assert warm.flux == pytest.approx(2.0 * (1.0 / (2 * math.pi * 0.002)) ** 2, rel=0.05)
    assert warm.power == pytest.approx(2.0 / (2 * math.pi) * math.log(0.03 / 0.002), rel=0.02)
    # 20 K to spare, 10 K below 55 C in a bath of 25 C, carry off 20 times 500 W/m2 (docs/theory-coat.md)
    assert warm.limit == pytest.approx(2 * math.pi * 0.002 * math.sqrt(20 * 500 / 2.0), rel=0.025)
    assert heat.at_current(warm, warm.limit).temperature == pytest.approx(273.15 + 45)


@pytest.mark.parametrize(("radius", "share"), [(1.5e-3, 0.42), (15e-3, 0.80)])
def test_warmth_is_told_on_the_warm_side(radius, share):
    """What the plastic carries sideways, which the estimate leaves out, by the equation of a round fin (H. S. Carslaw and J. C.
    Jaeger, Conduction of Heat in Solids, 2nd ed. (1959); from memory), k t (T'' + T' / r) = h T - q: a wall of 1.2 mm of
    PLA, 0.13 W/(m K) (from memory). By finite differences the rise is 42 % of ours at a pad of 3 mm, and nears it with
    wider ones."""
    conducts = 0.13 * 1.2e-3
    step = radius / 150
    r = (np.arange(1500) + 0.5) * step
    flux = np.where(r > radius, (radius / r) ** 2, 0.0)  # of Rs (I / 2 pi a)^2
    out, inward = conducts * (r + step / 2) / r / step**2, conducts * (r - step / 2) / r / step**2
    matrix = np.diag(out + inward + heat.LIQUID_TRANSFER_W_M2K) - np.diag(out[:-1], 1) - np.diag(inward[1:], -1)
    rise = np.linalg.solve(matrix, flux)
    assert rise.max() * heat.LIQUID_TRANSFER_W_M2K == pytest.approx(share, abs=0.02)


def test_wire_of_a_millimeter():
    """Resistance of 0.5 m of 1 mm copper 10.98 mohm (1.7241e-8 ohm m, IEC 60028); 1.024 mm is gauge 18 (ASTM B258)."""
    advice = heat.wire_advice(3.9, wetted=0.05, density=200.0)
    assert advice.diameter == pytest.approx(1e-3)
    assert advice.lost / advice.current == pytest.approx(0.01098, rel=1e-3)
    assert advice.gauge == 18
    assert advice.takes == pytest.approx(math.pi * 1e-3 * 0.05 * 200.0)
    assert heat.wire_advice(0.1, wetted=0.05, density=200.0).diameter < advice.diameter


@pytest.mark.slow
def test_hot_contact_holds_the_start_down():
    """A small pad on a poor coat in a warm bath: the plastic's softening limits the first current, and the sentence says so."""
    found = coated(
        BAR,
        job(
            wire=[{"point_mm": [30, 5, 4], "pad_mm": 1}],
            coat={"sheet_resistance_ohm_sq": 2},
            bath={"temperature_C": 44},
        ),
    )
    assert found.heating.temperature <= found.heating.softens - heat.SOFTENING_MARGIN_K + 0.5
    assert found.heating_full.temperature > found.heating_full.softens
    assert found.safe_reason.code == ReasonCode.WOULD_WARM
    assert any("softens" in sentence for sentence in texts(found.findings))


@pytest.mark.slow
def test_a_plastic_that_is_soft_in_the_bath_gets_no_current():
    """PLA softens at 55 C (published property page), 10 K are kept: a Watts bath at 55 C is no place for it, ABS is fine.
    The limit of 0 A was once taken for none at all."""
    soft = coated(BAR, job(bath={"name": "nickel, Watts"}))
    assert soft.steps == () and soft.safe_start == 0.0
    assert soft.heating_full.limit == 0.0
    hard = coated(BAR, job(bath={"name": "nickel, Watts"}, part={"material": "ABS"}))
    assert hard.steps and hard.safe_start > 0
