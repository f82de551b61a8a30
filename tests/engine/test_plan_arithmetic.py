"""The figures of a report checked by hand, for every bath on three parts, the coats in turn, without calling what made them.

Everything here is worked out again from the report's own numbers, tables of a handbook and Faraday's constant.
Sources: atomic weights CIAAW, densities CRC Handbook, solubilities of the classic tables (all from memory); densities of
sulfuric acid of the chemical engineers' table (from memory).
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from addon.engine.progress import run_to_end
from addon.engine import schedule
from addon.engine.field import rack
from addon.engine.reporting import plan, report
from addon.engine.settings import tables
from addon.engine.settings.job import read_job
from addon.engine.study import Study, run

import models
from plan_checks import faults
from tracers import EmbreeTracer

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("coarse_coat", "coarse_field")]

FARADAY = 96485.33212  # C/mol
METALS = {"copper": (63.546, 2, 8.96), "nickel": (58.6934, 2, 8.908)}  # g/mol, charge, g/mL
WATER_20 = 998.2  # g/L
ACID_DENSITY = {0.37: 1277.5, 0.148: 1100.0}  # g/L at 20 C, within 0.3 %
# g of the anhydrous salt in 100 g of water at C; of boric acid as it is
SOLUBLE = {
    "copper sulfate pentahydrate": ([0, 20, 40, 60], [14.3, 20.3, 28.5, 39.0], 159.609 / 249.685),
    "nickel sulfate hexahydrate": ([0, 20, 40, 60], [26.5, 37.7, 46.0, 55.0], 154.756 / 262.848),
    "nickel chloride hexahydrate": ([0, 20, 40, 60], [53.0, 60.0, 70.0, 80.0], 129.599 / 237.691),
    "boric acid": ([0, 20, 40, 60], [2.6, 4.7, 8.4, 14.0], 1.0),
}
BATHS, COATS = tables.names("baths"), tables.names("coats")
PARTS = {
    "block": models.moved(models.box((30, 12, 20), (3, 1, 2)), scale=1e-3),
    "cup": models.moved(models.cup(10, 20, 1.5, 24, 2), scale=1e-3),
    "ball": models.moved(models.sphere(14, 2), scale=1e-3),
}
MATERIAL = "polycarbonate"  # stands every bath of the table
# The block is hollow enough to float to the end; ball and cup sink
PRINTED = {"block": {"walls_mm": 0.8, "infill": 0.1}, "cup": {}, "ball": {"infill": 1.0}}
SKIP = "narrow, openness"
MIX_ONLY = "narrow, openness, gas, drainage, hanging, preparation"


@cache
def studied(part: str, bath: str, coat: str) -> Study:
    job = {
        "part": {"material": MATERIAL, **PRINTED[part]},
        "bath": {"name": bath},
        "coat": {"name": coat},
        "target": {"thickness_um": 25},
        "effort": {"panels": 500, "rays": 16, "directions": 50, "skip": SKIP},
    }
    return run_to_end(run(models.part(PARTS[part], name=part), read_job(job), EmbreeTracer))


@cache
def reported(part: str, bath: str, coat: str) -> dict[str, Any]:
    return report.build(studied(part, bath, coat), {})


@cache
def mixed(bath: str, acid: float) -> dict[str, Any]:
    job = {"bath": {"name": bath}, "batch": {"acid_percent": 100 * acid, "volume_L": 1.7}, "effort": {"skip": MIX_ONLY}}
    study = run_to_end(run(models.part(PARTS["ball"]), read_job(job), EmbreeTracer, only=["deposit"]))
    return report.build(study, {})


# Every coat; every bath, those that are usual with a part that floats to the end and one that sinks, a poor coat in one
CASES = [
    ("block", "acid copper, decorative", "graphite lacquer"),
    ("block", "acid copper, high throw", "electroless copper"),
    ("ball", "acid copper, high throw", "nickel paint"),
    ("block", "acid copper, bench mix", "silver-coated copper paint"),
    ("ball", "acid copper, bench mix", "zinc-rich primer"),
    ("block", "nickel, Watts", "copper paint"),
    ("cup", "nickel, Watts", "silver paint"),
    ("ball", "nickel, sulfamate", "none (metal part)"),
]


def test_the_cases_hold_every_part_bath_and_coat():
    for every, held in zip((PARTS, BATHS, COATS), zip(*CASES, strict=True), strict=True):
        assert set(held) == set(every)


@pytest.mark.parametrize(("part", "bath", "coat"), CASES)
def test_charge_time_and_metal(part, bath, coat):
    """mass = area x thickness x density; charge = mass z F / (M efficiency); the steps' charges add up to it, current
    times time each; no step is below what the supply sets or above the full current; it ends at full cover or not at
    all where the coat is refused."""
    table = reported(part, bath, coat)
    molar, charge, density = METALS[table["deposit"]["metal"]]
    efficiency = table["assumed"]["bath"]["efficiency"]
    grams = table["part"]["plated_area_dm2"] * 1e-2 * 25e-6 * density * 1e6
    ampere_hours = grams * charge * FARADAY / molar / efficiency / 3600
    assert table["deposit"]["metal_g"] == pytest.approx(grams, rel=1e-4)
    assert table["deposit"]["charge_Ah"] == pytest.approx(ampere_hours, rel=1e-4)
    stops = [one for one in table["findings"] if one["severity"] == "stops"]
    timetable = table["schedule"]
    assert (timetable is None) == bool(stops), [one["code"] for one in stops]
    if timetable is None:
        assert stops[0] is table["findings"][0] and stops[0]["text"] in table["warnings"]
        return
    steps = timetable["steps"]
    each = [one["current_A"] * one["minutes"] / 60 for one in steps]
    assert each == pytest.approx([one["charge_Ah"] for one in steps], rel=1e-4)
    assert sum(each) == pytest.approx(ampere_hours, rel=1e-4) == pytest.approx(timetable["charge_Ah"], rel=1e-4)
    assert sum(one["minutes"] for one in steps) / 60 == pytest.approx(timetable["time_h"], rel=1e-4)
    currents = [one["current_A"] for one in steps]
    assert currents == sorted(currents) and currents[-1] == pytest.approx(timetable["full_current_A"], rel=1e-4)
    assert currents[0] >= table["assumed"]["supply"]["step_A"] - 1e-9
    assert currents[-1] <= timetable["wanted_current_A"] * (1 + 1e-4)


def test_the_wires_of_the_table_carry_the_full_current():
    """The table told their currents at the wanted one, 1.85 A in all, where the coat bore 1.00 A of it."""
    whole = studied(*CASES[0])
    coat = whole.results.coat
    steps = tuple(replace(one, current=one.current / 2, seconds=2 * one.seconds) for one in coat.steps)
    halved = replace(whole, results=replace(whole.results, coat=replace(coat, steps=steps, held="burn")))
    for study in (whole, halved):
        table = plan.write(study).partition("C. WIRES")[2].partition("D. ")[0]
        told = [float(one) for one in re.findall(r"\d\. \([^)]*\)[^A]*?([\d.]+) A", table)]
        assert len(told) == len(coat.wires) > 3
        assert sum(told) == pytest.approx(schedule.of_study(study).full_current, rel=0.05)  # each has two digits
    assert schedule.of_study(halved).full_current == pytest.approx(schedule.of_study(whole).full_current / 2)


@pytest.mark.parametrize(("part", "bath", "coat"), CASES)
def test_ranges_hold_their_figures(part, bath, coat):
    """By the dotted path of each; every figure of the distribution and of the supply that the report has is ranged."""
    table = reported(part, bath, coat)
    for key, (low, high) in table["ranges"].items():
        value: Any = table
        for name in key.split("."):
            value = value[name]
        assert low * (1 - 1e-4) - 1e-6 <= value <= high * (1 + 1e-4) + 1e-6, key
    wanted = {"deposit.current_A", "deposit.metal_g", "tank.volume_L"}
    if table["field"] is not None:
        wanted |= {f"field.thickness_um.{name}" for name in ("min", "p5", "median", "p95", "max")}
        wanted |= {"field.cell_voltage_V"}
    if table["schedule"] is not None:
        wanted |= {"schedule.time_h", "schedule.charge_Ah", "schedule.full_current_A"}
    assert wanted <= table["ranges"].keys()


@pytest.mark.parametrize(("part", "bath", "coat"), CASES)
def test_the_thickness_map_carries_the_charge(part, bath, coat):
    """The field is of the current that flows; mean density is current over area; thickness over density is the same
    everywhere (Faraday), and what is thinnest and thickest lies about the mean."""
    table = reported(part, bath, coat)
    field = table["field"]
    molar, charge, metal = METALS[table["deposit"]["metal"]]
    mean = field["current_A"] / table["part"]["plated_area_dm2"]
    for name, density in field["density_A_dm2"].items():
        ratio = field["thickness_um"][name] / max(density, 1e-12)
        if density > 0:
            assert ratio == pytest.approx(25 / mean, rel=2e-2), name
    assert field["thickness_um"]["min"] < 25 < field["thickness_um"]["max"]
    full = (table["schedule"] or {}).get("full_current_A", table["deposit"]["current_A"])
    assert field["current_A"] == pytest.approx(full, rel=6e-3)  # nearer than 0.5 %, two currents are one
    volts = field["ohmic_V"] + field["polarisation_V"] + (field["coat_V"] or 0.0)
    assert volts == pytest.approx(field["cell_voltage_V"], rel=1e-4)


@pytest.mark.parametrize(("part", "bath", "coat"), CASES)
def test_the_start_covers_in_order(part, bath, coat):
    table = reported(part, bath, coat)
    coat_ = table["coat"]
    times = [coat_[f"covered_{share}_min"] for share in (50, 90, 99)]
    known = [time for time in times if time is not None]
    assert known == sorted(known) and times[: len(known)] == known  # what never comes, comes last
    if coat_["steps"]:
        assert (np.diff([one["covered"] for one in coat_["steps"]]) >= 0).all()
        whole = sum(one["minutes"] for one in coat_["steps"])
        assert all(time <= whole * (1 + 1e-6) for time in known)


@pytest.mark.parametrize(("part", "bath", "coat"), CASES)
def test_the_plan_contradicts_itself_nowhere(part, bath, coat):
    """With a real field, coat and hanging: the checks of `plan_checks`, one of each kind of part and coat."""
    study = studied(part, bath, coat)
    assert faults(plan.write(study), study) == []


@cache
def racked(asked: bool) -> Study:
    """Three blocks in one tank, their places asked for or, the same ones, given."""
    places = np.array(racked(True).in_tank.rack.positions) * 1e3 if not asked else None
    job = {
        "part": {"material": MATERIAL, "hang": "as set", **PRINTED["block"]},
        "tank": {"size_mm": [220, 160, 160], "level_mm": 80},
        "rack": {"suggest": 3, "tolerance": 0.4}
        if places is None
        else {"positions_mm": places.tolist(), "turns_deg": [0] * 3},
        "effort": {"panels": 500, "rays": 16, "directions": 50, "skip": f"{SKIP}, ranges, orientation, fits, vents"},
    }
    with pytest.MonkeyPatch.context() as patch:  # few panels a copy, and two gaps, are enough for a place
        patch.setattr(rack, "MIN_PIECES_PER_COPY", 240)
        patch.setattr(rack, "MAX_PIECES_PER_COPY", 240)
        patch.setattr(rack, "TRIED_GAPS_OVER_SIZE", (0.4, 1.0))
        return run_to_end(run(models.part(PARTS["block"], name="block"), read_job(job), EmbreeTracer))


def test_the_plan_of_a_suggested_rack_is_of_all_its_parts():
    """Step for step the plan of the same job with the places given; three times the charge of one by Faraday's law."""
    study, given = racked(True), racked(False)
    text, other = plan.write(study), plan.write(given)
    line, placed = (re.sub(r"\s+", " ", text.split("\nAPPENDIX")[0]) for text in (text, other))
    spaced = re.search(
        r"Hang the 3 parts (in a row along the anodes, with [\d.]+ mm \([\d.]+ in\) of liquid between neighbors)", line
    )
    assert faults(text, study) == [] and spaced and line.replace(spaced[1], "where the job places them") == placed
    assert "each of 3 parts" in text and "To each of the 3 parts fix" in text and "Weigh each dry" in text
    table = report.build(study, {})
    molar, charge, density = METALS["copper"]
    grams = table["part"]["plated_area_dm2"] * 1e-2 * 30e-6 * density * 1e6  # one part, 30 um
    hours = 3 * grams * charge * FARADAY / molar / table["assumed"]["bath"]["efficiency"] / 3600
    assert table["deposit"]["parts"] == 3 and table["deposit"]["metal_g"] == pytest.approx(grams, rel=1e-4)
    assert table["schedule"]["charge_Ah"] == pytest.approx(hours, rel=1e-4)
    assert len(table["field"]["part_currents_A"]) == 3
    assert table["schedule"]["full_current_A"] == pytest.approx(sum(table["field"]["part_currents_A"]), rel=6e-3)
    assert re.search(r"Wanted: ([\d.]+) g more", " ".join(text.split()))[1] == f"{grams:.2f}"


@pytest.mark.parametrize("acid", sorted(ACID_DENSITY))
@pytest.mark.parametrize("bath", BATHS)
def test_the_mix_is_the_recipe(bath, acid):
    """Poured water, weighed salts and acid by its own density weigh what the batch weighs; each salt is the table's g/L;
    no step holds more than the vessel or more than 0.95 of what dissolves, by the tables here."""
    table = mixed(bath, acid)
    cells = tables.entry("baths", bath, "")["composition"]
    recipe = {name: tables.value(cell) for name, cell in cells.items()}
    made = table["mix"]
    if made is None:  # 190 g/L of acid want 17.5 % at least
        assert bath == "acid copper, high throw" and acid == 0.148
        return
    liters, weighed, held = made["volume_L"], 0.0, dict[str, float]()
    assert liters == pytest.approx(1.7)
    water = 0.0
    for one in made["steps"]:
        name, amount = one["substance"], one["amount"]
        if one["action"] in ("pour-water", "fill-up"):
            water += amount * WATER_20 / 1000
        elif one["action"] == "add-acid":
            pure = amount * ACID_DENSITY[acid] / 1000 * acid
            held["sulfuric acid"] = pure
            water += amount * ACID_DENSITY[acid] / 1000 * (1 - acid)
        elif one["action"] == "dissolve":
            held[name] = held.get(name, 0.0) + amount
        crystal = sum(mass * (1 - SOLUBLE[key][2]) for key, mass in held.items() if key in SOLUBLE)
        salted = math.exp(-4.0 * held.get("sulfuric acid", 0.0) / max(water + crystal, 1e-9))
        for key, mass in held.items():
            if key in SOLUBLE:
                celsius, grams, share = SOLUBLE[key]
                most = np.interp(one["temperature_C"], celsius, grams) / 100 * (water + crystal)
                most *= salted if "sulfate" in key else 1.0
                assert mass * share <= 0.97 * most, (one["action"], key)  # 0.95, and the coarser table here
        assert one["volume_L"] <= made["vessel_L"] and one["saturation"] <= 0.95
        weighed = water + sum(held.values())
    assert weighed == pytest.approx(liters * made["density_g_mL"] * 1000, rel=5e-3)
    for name, content in recipe.items():
        if name == "chloride":
            salt = held["sodium chloride (table salt)"]
            assert salt == pytest.approx(content * liters * 58.443 / 35.453, rel=1e-3)
        else:
            assert held[name] == pytest.approx(content * liters, rel=5e-3), name
    added = {one["unit"]: one["amount"] for one in made["additions"]}
    entry = tables.entry("baths", bath, "")
    for unit, key in (("mL", "additive_mL_L"), ("g", "wetter_g_L")):
        assert added.get(unit, 0.0) == pytest.approx(liters * tables.value(entry.get(key, 0.0)), rel=1e-4)
