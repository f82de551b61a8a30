"""Findings: every code has its sentence and its place in the documentation, and the gravest come first."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from addon.engine.chemistry import cautions
from addon.engine.coat import cautions as coat_cautions
from addon.engine.field import cautions as field_cautions
from addon.engine.findings import Code, Finding, Quantity, Severity, each_fact_once, most_severe_first
from addon.engine.reasons import ReasonCode
from addon.engine.mesh.skipped import Skipped, Why
from addon.engine.reporting import finding_text, reason_text, skip_text
from addon.engine.reporting.finding_text import TEMPLATES
from addon.engine.settings.job import read_job

DOCS = Path(__file__).resolve().parents[2] / "docs" / "headless.md"


def test_every_code_has_a_sentence_and_is_documented():
    assert set(TEMPLATES) == set(Code)
    listed = DOCS.read_text(encoding="utf-8").split("### Codes of findings")[1]
    assert [code.value for code in Code if f"`{code.value}`" not in listed] == []


def test_the_schema_lists_every_code_and_severity(report_schema):
    told = report_schema["$defs"]["finding"]["properties"]
    assert told["code"]["enum"] == [code.value for code in Code]
    assert told["severity"]["enum"] == [severity.value for severity in Severity]


def test_the_most_severe_come_first():
    given = [Finding(Code.FLOATS, severity) for severity in reversed(Severity)]
    assert [one.severity for one in most_severe_first(given)] == list(Severity)


@pytest.mark.parametrize(("kilograms", "told"), [(0.46e-3, "up to 0.46 g"), (7.6e-3, "up to 7.6 g")])
def test_bath_that_creeps_into_a_small_print_is_not_told_as_nothing(kilograms, told):
    """A bolt of 30 mm was told that up to 0 g of bath may creep in."""
    one = Finding(Code.INFILL_AIR, Severity.COSTS, {Quantity.VOLUME: kilograms / 1160, Quantity.MASS: kilograms})
    assert told in str(finding_text.text(one))


def test_a_temperature_is_told_in_celsius():
    assert Quantity.TEMPERATURE.shown(328.15) == pytest.approx(55.0)


@pytest.mark.parametrize(("celsius", "soft"), [(44.0, False), (45.0, True), (55.0, True)])
def test_a_bath_ten_kelvin_below_the_softening_of_pla_stops_the_job(celsius, soft):
    """PLA softens from 55 C (data/plastics.toml); the margin of 10 K is common practice, no source."""
    found = cautions.plastic(read_job({"bath": {"temperature_C": celsius}}))
    assert [(one.code, one.severity) for one in found] == [(Code.PLASTIC_SOFT, Severity.STOPS)] * soft


@pytest.mark.parametrize("name", ["acid copper, high throw", "acid copper, decorative"])
def test_acid_above_15_percent_is_restricted(name):
    """Regulation (EU) 2019/1148: the high-throw bath is above 15 % itself, the other only the 37 % acid it is made of."""
    (found,) = cautions.acid(read_job({"bath": {"name": name}}))
    assert found.severity == Severity.COSTS and found.quantities[Quantity.BOUGHT_SHARE] == pytest.approx(0.37)


def test_every_reason_has_words():
    assert set(reason_text.TEMPLATES) == set(ReasonCode)


def test_every_reason_to_leave_something_out_has_words():
    assert set(skip_text.TEMPLATES) == set(Why)
    assert skip_text.text(Skipped(Why.HIDDEN, "res4.ply")).startswith("res4.ply: is hidden")


def test_of_codes_that_say_the_same_the_first_stands_for_the_others():
    """4 cm2 never plated lie within the 6 % that hardly get any metal: told once, whichever comes first; others stay."""
    never, hardly, floats = (
        Finding(code, Severity.SPOILS) for code in (Code.COAT_STAYS_BARE, Code.ALMOST_BARE, Code.FLOATS)
    )
    assert each_fact_once([hardly, floats, never]) == [floats, never]
    assert each_fact_once([hardly, floats]) == [hardly, floats]


def test_anodes_over_their_limit_are_one_finding_on_the_worst():
    loads = tuple(
        SimpleNamespace(name=f"anode {k}", current=0.5, density=density)
        for k, density in ((1, 210.0), (2, 220.0), (3, 90.0))
    )
    (one,) = field_cautions.overloaded(SimpleNamespace(anodes=loads), 200.0)
    assert one.quantities[Quantity.COUNT] == 2 and one.names["anode"] == "anode 2"
    assert field_cautions.overloaded(SimpleNamespace(anodes=loads[2:]), 200.0) == []


@pytest.mark.parametrize(("limit", "told"), [(0.96, False), (0.9, True)])
def test_a_start_limit_that_is_nearly_the_wanted_current_is_kept_unsaid(limit, told):
    """The start obeys it anyway; "no more than 1.4 A of the 1.44 A" tells nobody anything."""
    warm = SimpleNamespace(rise=1.0, limit=limit, softens=358.0, at=(0.0, 0.0, 0.0))
    found = coat_cautions.warmth(read_job({}), warm, warm, 1.0)
    assert (Code.COAT_HOT in [one.code for one in found]) == told


def test_a_part_of_metal_neither_floats_nor_is_it_of_a_plastic():
    """Without resistance, and without a plastic that was named; a print that is plated already names its own."""
    bare = {"coat": {"name": "none (metal part)"}}
    assert read_job(bare).is_metal
    assert not read_job({**bare, "part": {"material": "ABS"}}).is_metal
    assert not read_job({}).is_metal
