"""Every number that the tab shows is one of the report's, with its unit: the verdict, and each step with what is under it.

A fact is looked up by its name in the report; a number in a sentence or a table has to be in the step's rooms of it.
"""

from __future__ import annotations

import re
import runpy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest

import panels
from addon.engine.reporting import plan_text, report, verdict_text
from addon.engine.reporting.plan_text import sentence
from addon.suite import judged
from addon.suite.scene import settings
from addon.suite.session import session

pytestmark = [pytest.mark.usefixtures("platewright"), pytest.mark.slow]
ROOT = Path(__file__).resolve().parents[2]
UNITS = {  # a unit of the screen: how keys of the report end, and what their values are multiplied by
    "mL": {"mL": 1.0},
    "cm³": {"cm3": 1.0},
    "cm²": {"cm2": 1.0, "dm2": 100.0},
    "mm": {"mm": 1.0},
    "µm": {"um": 1.0, "um_max": 1.0},
    "g": {"g": 1.0},
    "A/dm²": {"A_dm2": 1.0},
    "Ah": {"Ah": 1.0},
    "A": {"A": 1.0},
    "mV": {"V": 1000.0},
    "V": {"V": 1.0},
    "h": {"h": 1.0, "minutes": 1 / 60, "min": 1 / 60},
    "K": {"K": 1.0},
    "°C": {"C": 1.0},
    "°": {"deg": 1.0},
    "%": {"share": 100.0, "share_1": 100.0, "covered": 100.0, "error": 100.0},
}
FIGURE = re.compile(r"(?<![\w.])-?\d[\d,]*(?:\.\d+)?")
DURATION = re.compile(r"(?:(\d[\d.]*) h)?(?: ?(\d[\d.]*) min)?")
PATHS: dict[tuple[str, str] | str, str] = {  # of a fact, where need be with its panel: where it stands in the report
    ("verdict", "Current"): "verdict.current_A",
    ("verdict", "Time"): "verdict.time_h",
    ("shelter", "Numerical Accuracy"): "openness.standard_error",
    "Weight Gain": "verdict.weight_gain_g",
    "Bare Visible Area": "verdict.bare_visible_cm2",
    "Plated Area": "part.plated_area_dm2",
    "Total Surface": "part.area_dm2",
    "Volume": "part.volume_cm3",
    "Triangles": "part.triangles",
    "Print Weight": "hanging.mass_g",
    "Lift in Bath": "hanging.net_g",
    "Lift When Plated": "hanging.net_end_g",
    "Growth of Each Face": "prepare.growth_um",
    "Loss of Hole Diameter": "prepare.growth_um",
    "Layer Steps, Median": "prepare.staircase_um.median",
    "Layer Steps, Highest": "prepare.staircase_um.max",
    "Area to Sand": "prepare.sanding_area_cm2",
    "Deposit Weight": "hanging.deposit_g",
    "Sinks from Thickness": "hanging.sinks_at_um",
    "Trapped Gas": "gas.trapped_mL",
    "Bare from Trapped Gas": "gas.trapped_area_cm2",
    "Bubble-prone Undersides": "gas.level_underside_cm2",
    "Drag-out": "drainage.held_mL",
    "Largest Voltage Drop in Coat": "coat.worst_drop_V",
    "Wires in This Calculation": "coat.wires",
    "Wires Needed": "coat.wires_needed",
    "Strike Current (start low)": "coat.safe_start_A",
    "Fully Covered After": "coat.covered_after_min",
    "Copper Wire for Current": "coat.wire_diameter_mm",
    "Copper Wire for Weight": "hanging.bearing_wire_mm",
    "Rigid Wire to Hold Down": "hanging.rigid_wire_mm",
    "Wire Gauge (AWG)": "coat.wire_gauge",
    "Temperature Rise in Air": "coat.wire_rise_K",
    "Coat at Wire": "coat.heating.temperature_C",
    "Plastic Softens At": "coat.heating.softens_C",
    "Current": "deposit.current_A",
    "Plating Time": "deposit.time_h",
    "Thinnest Spot": "field.thickness_um.min",
    "Median": "field.thickness_um.median",
    "Thickest Spot": "field.thickness_um.max",
    "Numerical Accuracy": "field.relative_error",
    "Cell Voltage": "field.cell_voltage_V",
    "Peak Current Density": "field.density_A_dm2.max",
    "Almost Bare": "field.bare_area_cm2",
    "Dull or Bare": "field.dull_area_cm2",
    "Burning": "field.burnt_area_cm2",
    "Most Shielded Face": "openness.min",
    "Median Face": "openness.median",
    "Shielded Area": "openness.hidden_area_cm2",
    "Charge": "deposit.charge_Ah",
    "Copper": "deposit.metal_g",
}
TIMES = {"Loss of Hole Diameter": 2.0}  # of what stands in the report: a hole has two sides
WORDS = {"never": None, "None": 0.0}  # facts that are no figure, and what the report has for them
ROOMS = {  # what the sentences and tables of a panel are about
    "verdict": ("findings",),
    "part": ("part",),
    "print": ("hanging", "fits", "findings"),
    "print_details": ("fits",),
    "hang": ("gas", "drainage", "hanging"),
    "positions": ("hanging",),
    "gas": ("gas", "drainage"),
    "coat_details": ("coat",),
    "wires": ("contacts",),
    "field": ("field",),
}
NO_RESULTS = re.compile(r"\d+ more: see|\d\. |\(\d+°\)|Rotate 180°|narrower than [\d.]+ mm")  # how many, which, limits


@pytest.fixture
def table(add, both_levels) -> dict[str, Any]:
    """The report of the demo part, checked as a whole; no other module asks for this one, so no coarse answer is known."""
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    bpy.context.scene.unit_settings.scale_length = 0.001
    corners = np.asarray(demo["finial"](4000), dtype=float)
    points, index = np.unique(corners.reshape(-1, 3).round(6), axis=0, return_inverse=True)
    add((points, index.reshape(-1, 3)), "finial")
    effort = settings.of(bpy.context.scene).effort
    effort.rays, effort.directions, effort.panels = 8, 60, 500
    bpy.ops.platewright.check()
    return report.build(session.find(bpy.context).study, {})


def leaves(table: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number of a table, with where it stands."""
    rows = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    for key, value in rows:
        yield from leaves(value, f"{path}.{key}" if path else str(key))
    if isinstance(table, int | float) and not isinstance(table, bool):
        yield path, float(table)


def factor(path: str, unit: str) -> float | None:
    """What a number of the report is multiplied by to be in a unit of the screen; None where it is of another kind."""
    for part in reversed(path.split(".")):
        for ending, one in UNITS[unit].items():
            if part == ending or part.endswith(f"_{ending}"):
                return one
    return None


def told(text: str) -> Iterator[tuple[float, float, str]]:
    """Every figure of a text: its value, half of its last digit, its unit or ""."""
    rest = text
    for found in DURATION.finditer(text):
        if found[0].strip():
            hours, minutes = (float(one or 0.0) for one in found.groups())
            yield hours + minutes / 60, 0.5 / 60 if found[2] else 0.05, "h"
            rest = rest.replace(found[0], " ", 1)
    for found in FIGURE.finditer(rest):
        after = rest[found.end() :].lstrip(" \u00a0")
        unit = next((one for one in UNITS if re.match(rf"{re.escape(one)}(?![\w/²³])", after)), "")
        whole, _, decimals = found[0].replace(",", "").partition(".")
        zeros = len(whole) - len(whole.rstrip("0")) if len(whole) > 2 else 0  # "1200" has two digits
        place = -len(decimals) if decimals else zeros
        yield float(found[0].replace(",", "")), 0.5 * 10.0**place, unit


def same(shown: tuple[float, float, str], path: str, value: float) -> bool:
    """Whether a figure of the screen is a number of the report, within its last digit."""
    number, half, unit = shown
    times = factor(path, unit) if unit else 1.0
    return times is not None and abs(abs(number) - abs(value) * times) <= half * 1.001 + 1e-9


def at(table: dict[str, Any], path: str) -> Any:
    for key in path.split("."):
        table = table[key]
    return table


def name_of(cls: type) -> str:
    return cls.__name__.removeprefix("PLATEWRIGHT_PT_")


def wrong_fact(panel: str, name: str, value: str, table: dict[str, Any]) -> str:
    """What is wrong with a fact of a panel, or nothing."""
    path = PATHS.get((panel, name), PATHS.get(name))
    if path is None:
        return f"{panel}: {name!r} is in no room of the report: {value}"
    expected = at(table, path)
    if value in WORDS:
        return "" if expected == WORDS[value] else f"{panel}: {name} is {value!r}, {path} is {expected}"
    expected *= TIMES.get(name, 1.0)
    found = list(told(value))
    unit = found[0][2] if found else ""
    if unit == "%" and factor(path, unit) is None:
        found, expected = [(found[0][0], found[0][1], "")], 100.0 * expected
    if len(found) == 1 and same(found[0], path, expected):
        return ""
    return f"{panel}: {name} is {value!r}, {path} is {expected}"


def test_every_fact_of_the_tab_is_that_of_the_report(table):
    """The names on the left and the figures on the right, in every panel, open or closed."""
    wrong, count = [], 0
    for cls in panels.classes():
        for name, value in panels.draw(cls).facts:
            if re.search(r"\d", name) or not name:
                continue  # a bore by its diameter, a share under its figure: of the sentences
            count += 1
            wrong.append(wrong_fact(name_of(cls), name, value, table))
    assert not list(filter(None, wrong)), "\n".join(filter(None, wrong))
    assert count > 45


def test_every_other_number_of_the_tab_is_in_its_room_of_the_report(table):
    """Headlines, tables and sentences; a sentence that the report has word for word is the report's. What a fix sets is no
    result."""
    mean = table["deposit"]["mean_thickness_um"]
    table["field"]["uniformity_share"] = table["field"]["thickness_um"]["min"] / mean
    table["part"]["extent_mm"] = np.ptp(table["part"]["bounds_mm"], axis=0).tolist()
    fixes = judged.judgment(session.find(bpy.context).study).fixes
    sentences = [plan_text.typeset(one["text"]) for one in table["findings"]]
    for one in table["hanging"]["suggestions"]:
        sentences.append(plan_text.typeset(sentence("; ".join(one["reasons"]))))
    sentences.append(plan_text.typeset(sentence(table["coat"]["safe_start_reason"])))
    sentences += [plan_text.typeset(verdict_text.change(one)) for one in fixes if one is not None]
    wrong, count = [], 0
    for cls in panels.classes():
        panel, drawn = name_of(cls), panels.draw(cls)
        facts = [value for name, value in drawn.facts if name and not re.search(r"\d", name)]
        texts = list(drawn.texts)
        for value in facts:
            texts.remove(value)
        text = " ".join(one for one in texts if one).replace("\u00a0", " ")
        for one in sentences:
            text = text.replace(one.replace("\u00a0", " "), "")
        text = NO_RESULTS.sub("", text)
        rooms = [(path, value) for room in ROOMS.get(panel, ()) for path, value in leaves(table[room], room)]
        for shown in told(text):
            count += 1
            if not any(same(shown, path, value) for path, value in rooms):
                wrong.append(f"{panel}: {shown[0]:g} {shown[2]} of {text!r}")
    assert not wrong, "\n".join(wrong)
    assert count > 30
