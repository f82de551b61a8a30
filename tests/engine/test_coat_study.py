"""The first minutes, the warmth at the wire, and the coat's part of a study."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import models
import numpy as np
import pytest

from addon.engine.reasons import ReasonCode
from addon.engine.reporting.finding_text import texts
from addon.engine.coat import contact
from addon.engine import faraday
from addon.engine.mesh import inspection
from addon.engine.coat import drop, heat, proxy, ramp, sheet, study, wires
from addon.engine.errors import InputError
from addon.engine.findings import Quantity
from addon.engine.field import solve
from addon.engine.field.result import Flag
from addon.engine.settings.job import Job, read_job
from addon.engine.settings.part import Wire
from addon.engine.coat.result import CoatResult
from addon.engine.coat.spread import Spread
from addon.engine.linalg.sparse import Graph
from addon.engine.progress import Step, run_to_end
from addon.engine.mesh.surface import Surface

COPPER = faraday.metal("copper")
RATE = faraday.thickness(COPPER, 1.0, 1.0)  # m3/C


def surface(*parts: models.Model, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(models.part(*parts, **marks)))


def job(**sections: object) -> Job:
    return read_job({"effort": {"panels": 500}, **sections})


@cache
def ranked(part: Surface, ohms: float, density: float) -> contact.Contacts:
    return run_to_end(contact.rank(part, up=(0, 0, 1), sheet_resistance=ohms, density=density))


def coated(part: Surface, given: Job, **more: object) -> CoatResult:
    """The coat's result; contacts of one part and coat are ranked once for all tests, as `study.run` ranks them."""
    contacts = ranked(part, study.at_start(given), given.target.density)
    return run_to_end(study.run(part, given, contacts=contacts, **more))


BAR = surface(models.moved(models.box((60, 10, 4), (12, 2, 1)), scale=1e-3))
TWO_MODELS = (
    models.moved(models.box((60, 10, 4), (12, 2, 1)), scale=1e-3),
    models.moved(models.sphere(6, 2), (0.03, 0.03, 0.0), scale=1e-3),
)
TWO = surface(*TWO_MODELS)


STRIP = surface(models.moved(models.plate((60, 10), (60, 10)), scale=1e-3))
STRIP_COAT = run_to_end(sheet.build(STRIP, triangles=1))
PADS = wires.placed(STRIP, [Wire((0.0, 0.005, 0.0), 0.004)])  # half a disc of 2 mm at one end
FITTED, COVERED = run_to_end(sheet.with_pads(STRIP, STRIP_COAT, PADS))
FED = drop.Fed.of(FITTED, COVERED)
SPREAD = Spread.of(FED, run_to_end(proxy.build(FITTED, 400, COVERED)), PADS)


class Even:
    """A bath of the same resistance everywhere, ohm m2."""

    resolution = 0.0

    def __init__(self, resistance: float) -> None:
        self.resistance = resistance

    def seen(self, spread: Spread, conductance: np.ndarray, current: float):
        yield Step(1.0, "")
        return np.full(len(spread.own), self.resistance)


def voltage(sheet_resistance: float, resistance: float) -> float:
    """V for an ampere on the strip itself."""
    scaled = replace(FED.graph, weight=FED.graph.weight / sheet_resistance)
    bath = np.full(len(FITTED.area), resistance)
    return run_to_end(drop.shared(FED, scaled, FED.ground / sheet_resistance, bath, 1.0)).voltage


def walked(sheet_resistance: float, resistance: float, *, top: float = 600.0, film: float = 0.0, kappa: float = 1e-9):
    """The first minutes on a strip of 60 x 10 mm fed at one end: target 0.12 A, 30 um. kappa : S/m of a bath whose
    kinetics polarize by 0.1 mohm m2."""
    charge = faraday.charge(COPPER, 6e-4 * 30e-6 * COPPER.density)
    drive = ramp.Drive(0.12, charge, top, kappa, 1e-4, math.inf, math.inf, RATE, ramp.RESISTIVITY["copper"])
    conductance = np.full(len(SPREAD.own), 1 / sheet_resistance)
    bath = np.full(len(SPREAD.own), resistance)
    spread = SPREAD.fitted(conductance, bath, voltage(sheet_resistance, resistance))
    return run_to_end(ramp.run(spread, Even(resistance), sheet_resistance, drive, film=film))


@pytest.mark.slow
@pytest.mark.parametrize("sheet_resistance", [1.0, 10.0, 100.0])
def test_first_current_is_that_of_the_coat_itself(sheet_resistance):
    """Under a bath that resists place by place, and so conducts nothing sideways, the density beside the pad is nearly
    voltage / rho, and may be `top`: the first current is near rho top / (voltage an ampere)."""
    rho, top = 2e-3, 300.0
    expected = min(rho * top / voltage(sheet_resistance, rho), 0.12)
    found = walked(sheet_resistance, rho, top=top)
    assert 0.9 * expected <= found.stages[0].current <= 1.25 * expected


def test_a_bath_that_conducts_sideways_gathers_current_at_the_rim():
    """And so the start must be lower; on a coat that loses next to nothing it makes no difference."""
    assert walked(10.0, 2e-3, kappa=18.0).stages[0].current < 0.7 * walked(10.0, 2e-3).stages[0].current
    assert walked(0.01, 2e-3, kappa=18.0).stages[0].current == 0.12


def test_ramp_rises_covers_and_passes_the_wanted_charge():
    """Current goes up only, cover too; time x current is the charge of 30 um whatever the steps."""
    found = walked(30.0, 2e-3)
    currents = [stage.current for stage in found.stages]
    covered = [stage.covered for stage in found.stages]
    assert len(currents) > 1
    assert currents == sorted(currents)
    assert currents[-1] == 0.12
    assert covered == sorted(covered)
    assert covered[-1] == pytest.approx(1.0)
    assert found.covered_after is not None
    charge = sum(stage.current * stage.seconds for stage in found.stages)
    assert charge == pytest.approx(faraday.charge(COPPER, 6e-4 * 30e-6 * COPPER.density), rel=1e-6)
    assert all(stage.seconds >= ramp.HOLD for stage in found.stages)


@pytest.mark.slow
def test_better_coats_start_higher_and_cover_sooner():
    coats = [walked(rs, 2e-3) for rs in (0.1, 3.0, 30.0, 100.0)]
    first = [found.stages[0].current for found in coats]
    assert first == sorted(first, reverse=True)
    assert first[0] == 0.12
    after = [found.covered_after for found in coats]
    assert after == sorted(after)


def test_film_that_lies_there_from_the_start_counts_as_cover():
    found = walked(1000.0, 2e-3, film=0.5e-6)
    assert found.covered_after == 0.0
    assert found.stages[0].covered == pytest.approx(1.0)


def test_metal_of_the_film_is_kept():
    """What the charge deposits is found again on the patches, by Faraday's law."""
    found = walked(10.0, 2e-3)
    assert SPREAD.patches.area @ found.film == pytest.approx(6e-4 * 30e-6, rel=1e-3)


def test_currents_are_rounded_down_to_what_a_knob_can_be_set_to():
    assert ramp.rounded_down(0.1289, 1.0) == 0.12
    assert ramp.rounded_down(2.0, 5.0) == 2.0
    assert ramp.rounded_down(7.99, 7.5) == 7.5
    assert ramp.rounded_down(0.0010899, 1.0) == 0.001


def test_warmth_at_a_round_pad():
    """Next to a pad of radius a in a wide sheet the flux is Rs (I / 2 pi a)^2 W/m2."""
    part = surface(models.lathe([(0, 0), (0.03, 0)], 120))
    pads = wires.placed(part, [Wire((0.0, 0.0, 0.0), 0.004)])
    coat, covered = run_to_end(sheet.with_pads(part, run_to_end(sheet.build(part)), pads))
    fed = drop.Fed.of(coat, covered)
    rim = np.linalg.norm(coat.mesh.points, axis=1) > 0.0299
    current = np.where(rim, 1.0 / rim.sum(), 0.0)  # an ampere that comes in from afar
    u = run_to_end(run_to_end(drop.Loss.build(fed, 2.0)).at_points(current))
    warm = heat.coat(fed, pads, u, 2.0, 1.0, bath=298.15, softens=328.15)
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
    matrix = np.diag(out + inward + heat.LIQUID) - np.diag(out[:-1], 1) - np.diag(inward[1:], -1)
    rise = np.linalg.solve(matrix, flux)
    assert rise.max() * heat.LIQUID == pytest.approx(share, abs=0.02)


def test_wire_of_a_millimeter():
    """Resistance of 0.5 m of 1 mm copper 10.98 mohm (1.7241e-8 ohm m, IEC 60028); 1.024 mm is gauge 18 (ASTM B258)."""
    advice = heat.wire(3.9, wetted=0.05, density=200.0)
    assert advice.diameter == pytest.approx(1e-3)
    assert advice.lost / advice.current == pytest.approx(0.01098, rel=1e-3)
    assert advice.gauge == 18
    assert advice.takes == pytest.approx(math.pi * 1e-3 * 0.05 * 200.0)
    assert heat.wire(0.1, wetted=0.05, density=200.0).diameter < advice.diameter


@pytest.mark.slow
def test_current_of_the_wires_adds_up():
    """Three wires carry together all that the coat collects."""
    given = job(wire=[{"point_mm": [0, 5, 4]}, {"point_mm": [60, 5, 4]}, {"point_mm": [30, 5, 0]}])
    found = coated(BAR, given)
    total = given.target.density * BAR.plated_area.sum()
    assert sum(wire.current for wire in found.wires) == pytest.approx(total, rel=1e-3)
    assert found.wires[0].current == pytest.approx(found.wires[1].current, rel=0.02)
    assert not any(wire.suggested for wire in found.wires)
    moved = [tuple(wire.second) for wire in found.wires if wire.second is not None]
    assert len(set(moved)) == len(moved)


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
    pads = wires.placed(BAR, [Wire((0.0, 0.005, 0.004), 0.003)])
    fitted, covered = run_to_end(sheet.with_pads(BAR, coat, pads))
    fed = drop.Fed.of(fitted, covered)
    rs, rho, total = 0.3, 3e-3, 0.3
    spread = Spread.of(fed, run_to_end(proxy.build(fitted, 1000, covered)), pads)
    graph = Graph(fed.graph.count, fed.graph.low, fed.graph.high, fed.graph.weight / rs)
    exact = run_to_end(drop.shared(fed, graph, fed.ground / rs, np.full(len(fitted.area), rho), total))
    bare, bath = np.full(len(spread.own), 1 / rs), np.full(len(spread.own), rho)
    loss = spread.fitted(bare, bath, exact.voltage / total).loss(bare)
    u = np.zeros(len(BAR.triangles))
    for _ in range(25):
        u = 0.5 * u + 0.5 * loss.at_faces((exact.voltage - u) / rho)
    assert u == pytest.approx(fitted.on_faces(exact.drop), abs=0.06 * np.nanmax(u))


@pytest.mark.slow
def test_suggests_a_wire_for_each_piece():
    found = coated(TWO, job())
    assert found.pieces == 2
    assert found.unserved == 0
    assert {wire.piece for wire in found.wires} == {0, 1}
    assert all(wire.suggested for wire in found.wires)
    assert not np.isnan(found.drop).any()


@pytest.mark.slow
def test_piece_without_a_wire_is_named_and_stays_bare():
    found = coated(TWO, job(wire=[{"point_mm": [0, 5, 4]}]))
    ball = TWO.shell == TWO.shell[np.argmax(TWO.centroid[:, 1])]
    assert found.unserved == 1
    assert np.isnan(found.drop[ball]).all()
    assert not np.isnan(found.drop[~ball]).any()
    assert set(found.never_covered) == set(np.flatnonzero(ball))
    assert any("no wire" in sentence and "cm2" in sentence for sentence in texts(found.findings))


@pytest.mark.slow
def test_wires_without_a_point_are_spread_where_they_help():
    one = coated(BAR, job())
    two = coated(BAR, job(wire=[{}, {}]))
    assert len(two.wires) == 2
    assert two.worst_drop < 0.65 * one.worst_drop
    mixed = coated(BAR, job(wire=[{"point_mm": [0, 5, 4]}, {"pad_mm": 2}]))
    assert [wire.suggested for wire in mixed.wires] == [False, True]
    assert mixed.wires[1].point[0] > 0.03


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
    assert study.displaced(nickel) == 0.0


@pytest.mark.slow
def test_hot_contact_holds_the_start_down():
    """A small pad on a poor coat in a warm bath: the plastic's softening limits the first current, and the sentence says so."""
    found = run_to_end(
        study.run(
            BAR,
            job(
                wire=[{"point_mm": [30, 5, 4], "pad_mm": 1}],
                coat={"sheet_resistance_ohm_sq": 2},
                bath={"temperature_C": 44},
            ),
        )
    )
    assert found.heating.temperature <= found.heating.softens - heat.SOFTENING_MARGIN_K + 0.5
    assert found.heating_full.temperature > found.heating_full.softens
    assert found.safe_reason.code == ReasonCode.WOULD_WARM
    assert any("softens" in sentence for sentence in texts(found.findings))


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


@pytest.mark.slow
def test_a_bath_without_polarization_makes_no_poor_coat_safe():
    """50 ohm a square lose more at the full current than any bath drives: the first current is a small part of it, and
    not far from that in a bath with next to no polarization."""
    first = []
    for kinetics in ({"kind": "none"}, {"kind": "linear", "resistance_ohm_m2": 1e-5}):
        wire = [{"point_mm": [20, 0, 4]}]
        poor = job(
            coat={"sheet_resistance_ohm_sq": 50.0}, bath={"kinetics": kinetics}, supply={"step_A": 1e-4}, wire=wire
        )
        first.append(coated(BAR, poor))
    none, little = first
    assert none.safe_start < 0.015 * none.steps[-1].current
    assert none.safe_start == pytest.approx(little.safe_start, rel=0.25)
    assert none.coupled_drop > 0


@pytest.mark.slow
@pytest.mark.parametrize("ohms", [0, 0.5])
def test_coat_without_a_wire_floats(ohms):
    """An insulated conductor takes no net current: a field with one of two shells wired is the field of that shell beside
    an insulator, in which the wired one takes the whole current; what floats gets no metal and counts as bare."""
    anodes = [{"plate_mm": [150, 40], "centre_mm": [0, y, 110], "normal": [0, -y, 0]} for y in (-95, 95)]
    one = job(
        wire=[{"point_mm": [0, 5, 4]}], coat={"sheet_resistance_ohm_sq": ohms}, effort={"panels": 1200}, anode=anodes
    )
    ball = TWO.shell == TWO.shell[np.argmax(TWO.centroid[:, 1])]
    contacts = run_to_end(contact.rank(TWO, up=(0, 0, 1), sheet_resistance=ohms, density=200.0))
    losses = run_to_end(study.half_grown(TWO, one, contacts))
    field = run_to_end(solve.run(TWO, one, wire_drop=losses))
    assert np.all(field.density[ball] == 0.0) and np.all(field.flag[ball] == Flag.BARE)
    assert field.bare_area >= TWO.plated_area[ball].sum() * (1 - 0.02)
    assert field.density[~ball] @ TWO.plated_area[~ball] == pytest.approx(field.current)
    masked = surface(*TWO_MODELS, masked=ball)
    alone = run_to_end(contact.rank(masked, up=(0, 0, 1), sheet_resistance=ohms, density=200.0))
    same = replace(one, target=replace(one.target, density=field.current / float(masked.plated_area.sum())))
    beside = run_to_end(solve.run(masked, same, wire_drop=run_to_end(study.half_grown(masked, same, alone))))
    assert field.voltage == pytest.approx(beside.voltage, rel=0.01)
    assert field.density[~ball] == pytest.approx(beside.density[~ball], abs=0.03 * field.density[~ball].max())
    found = run_to_end(study.run(TWO, one, contacts=contacts, density=field.density, level=field.level))
    assert set(found.never_covered) == set(np.flatnonzero(ball))
    assert float(np.nansum(found.share * TWO.plated_area)) == pytest.approx(TWO.plated_area.sum(), rel=1e-3)
    assert sum(wire.current for wire in found.wires) == pytest.approx(field.current, rel=1e-3)


def test_a_plastic_that_is_soft_in_the_bath_gets_no_current():
    """PLA softens at 55 C (published property page), 10 K are kept: a Watts bath at 55 C is no place for it, ABS is fine.
    The limit of 0 A was once taken for none at all."""
    soft = coated(BAR, job(bath={"name": "nickel, Watts"}))
    assert soft.steps == () and soft.safe_start == 0.0
    assert soft.heating_full.limit == 0.0
    hard = coated(BAR, job(bath={"name": "nickel, Watts"}, part={"material": "ABS"}))
    assert hard.steps and hard.safe_start > 0


def stopping(found):
    return [one for one in found.findings if one.severity.value == "stops"]


def test_a_coat_of_more_than_two_hundred_ohm_is_refused():
    refused = stopping(coated(BAR, job(coat={"sheet_resistance_ohm_sq": 210})))
    assert [one.code.value for one in refused] == ["coat-too-poor"]
    assert "copper paint" in refused[0].remedy.names["coats"] and "graphite" not in refused[0].remedy.names["coats"]
    assert not stopping(coated(BAR, job(coat={"sheet_resistance_ohm_sq": 3})))


def test_no_step_is_below_what_the_supply_sets():
    """A supply in steps of 0.1 A cannot start a coat that bears less: more wires are tried, then it is refused."""
    poor = {"coat": {"sheet_resistance_ohm_sq": 30}}
    usual = coated(BAR, job(**poor))
    assert usual.steps and usual.steps[0].current >= 0.01
    for one in usual.steps[:-1]:
        assert one.current / 0.01 == pytest.approx(round(one.current / 0.01))
    coarse = coated(BAR, job(**poor, supply={"step_A": 0.25}))
    assert coarse.steps == () and len(coarse.wires) > len(usual.wires)
    assert [one.code.value for one in stopping(coarse)] == ["coat-too-poor"]
    given = coated(BAR, job(**poor, supply={"step_A": 0.25}, wire=[{"point_mm": [0, 5, 4]}]))
    assert len(given.wires) == 1  # wires that were placed stay as they are


def test_a_coat_that_does_not_last_until_half_is_covered_is_refused():
    short = coated(BAR, job(coat={"sheet_resistance_ohm_sq": 30, "bath_life_h": 0.01}))
    assert short.steps == () and [one.code.value for one in stopping(short)] == ["coat-too-poor"]
    assert stopping(short)[0].quantities.keys() >= {Quantity.TIME, Quantity.LIMIT_TIME}


def test_covering_is_told_by_its_shares_and_its_last_place():
    """Even current covers 1 um at once, by Faraday's law at 13.231 um/h and 1 A/dm2 (handbook): the strip's far end is last."""
    even = walked(1e-6, 2e-3)
    at_once = 3600 / 13.231 / 2.0  # s for 1 um at 0.12 A on 6 cm2
    assert all(after == pytest.approx(at_once, rel=0.02) for after in even.milestones)
    poor = walked(30.0, 2e-3)
    half, most, nearly = poor.milestones
    assert 0 < half < most < nearly <= poor.covered_after
    assert poor.last[0] > 0.055  # fed at x = 0
    spreads = [stage.spread for stage in poor.stages]
    assert spreads == sorted(spreads) and spreads[-1] > 0.05


def test_the_start_keeps_to_half_of_the_limiting_density():
    """Window to 6 A/dm2, limiting 10: no place gets more than 5 while coat is bare; of a bench mix, 2."""
    assert read_job({"bath": {"name": "acid copper, decorative"}}).bath.safe_density == pytest.approx(500.0)
    assert read_job({"bath": {"name": "acid copper, bench mix"}}).bath.safe_density == pytest.approx(200.0)
    found = walked(3.0, 2e-3, top=250.0)
    rates = [stage.current / SPREAD.area.sum() for stage in found.stages[:-1]]
    assert rates and max(rates) <= 250.0
