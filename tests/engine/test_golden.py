"""The demo's plan and report against tests/golden/: words exactly, numbers within the solver's own accuracy.

Nothing outside the project says what these are; what they guard is that nothing changes unseen. What is right is tested
elsewhere, on numbers. After a change that is meant: PYTHONPATH=.:tests python tests/demo_study.py, and read the difference.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest

from addon.engine.reporting import language, plan

import translations
from demo_study import GOLDEN, ROOT, demo, excerpt, golden
from plan_checks import faults, flat

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
REL, ABS = 0.03, 0.02  # two digits are shown; the last one may turn


@pytest.fixture(scope="module")
def made() -> tuple[str, dict[str, Any]]:
    return golden()


def leaves(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    """Every single value of a report with its path; the words of a sentence without its numbers, then these."""
    if isinstance(value, dict):
        for name, item in value.items():
            yield from leaves(item, f"{key}.{name}")
    elif isinstance(value, list):
        yield f"{key}.length", len(value)
        for number, item in enumerate(value):
            yield from leaves(item, f"{key}[{number}]")
    elif isinstance(value, str):
        yield key, NUMBER.sub("#", value)
    else:
        yield key, value


def differences(new: list[tuple[str, Any]], old: list[tuple[str, Any]]) -> list[str]:
    """What is not alike, by path."""
    said, was = dict(new), dict(old)
    found = [f"{key}: new" for key in said.keys() - was.keys()] + [f"{key}: gone" for key in was.keys() - said.keys()]
    for key in said.keys() & was.keys():
        one, other = said[key], was[key]
        number = isinstance(one, int | float) and isinstance(other, int | float) and not isinstance(one, bool)
        if one != (pytest.approx(other, rel=REL, abs=ABS) if number else other):
            found.append(f"{key}: {one}, was {other}")
    return sorted(found)


def test_the_words_of_the_plan(made):
    old = (GOLDEN / "finial-plan.txt").read_text(encoding="utf-8")
    new = [NUMBER.sub("#", one) for one in re.split(r"(?<=[.:]) ", flat(made[0]))]
    was = [NUMBER.sub("#", one) for one in re.split(r"(?<=[.:]) ", flat(old))]
    assert new == was


def test_the_numbers_of_the_plan(made):
    old = (GOLDEN / "finial-plan.txt").read_text(encoding="utf-8")
    new, was = ([float(one) for one in NUMBER.findall(flat(text))] for text in (made[0], old))
    assert new == pytest.approx(was, rel=0.05, abs=ABS)


def test_the_report(made):
    old = json.loads((GOLDEN / "finial-report.json").read_text(encoding="utf-8"))
    assert differences(list(leaves(made[1])), list(leaves(old))) == []


def test_readme_shows_the_demo_s_own_steps():
    text = (GOLDEN / "finial-plan.txt").read_text(encoding="utf-8")
    assert f"```text\n{excerpt(text)}\n```" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_a_changed_figure_and_a_changed_word_are_seen():
    old = {"a": 1.0, "b": ["part 3 floats"], "c": True}
    assert not differences(list(leaves({**old, "a": 1.01})), list(leaves(old)))
    for change in ({"a": 1.1}, {"b": ["part 3 sinks"]}, {"c": False}, {"d": 1}, {"b": []}):
        assert differences(list(leaves({**old, **change})), list(leaves(old)))


def test_the_demo_s_plan_does_not_contradict_itself(made):
    assert faults(made[0], demo()) == []


@pytest.mark.parametrize("name", language.names()[1:])
def test_the_plan_in_another_language(name):
    """No English text is left in it, and no figure is another one."""
    listening, lacking = translations.listening(name)
    told = plan.of(demo())
    assert plan.render(told, listening) and not lacking
    assert not translations.other_figures(told, language.of(name))
