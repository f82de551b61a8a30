"""The plan in German: every sentence has one of its own, whole, with the same figures in it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from addon.engine.reporting import language, plan, plan_assumed, plan_purpose, workshop
from addon.engine.settings import tables
from addon.engine.settings.job import read_job
from addon.engine.settings.schema import specs

import translations
from cup_study import study
from plan_checks import MAX_LINES
from plan_variants import variants

OWN = ("reporting/*.py",)


MADE_UP = {"left out", "the job's own anodes and density"}  # that only these studies have


@pytest.fixture(scope="module")
def plans() -> dict[str, plan.Plan]:
    return {name: plan.of(study) for name, study in variants()}


@pytest.mark.parametrize("name", language.names()[1:])
def test_every_template_of_the_plan_is_translated(name):
    """Read off the source: instructions, filled templates, what a deposit is worth, settings, baths, coats, vessels."""
    known = language.words(name)
    texts = {text for pattern in OWN for text in translations.of_source(pattern)} | translations.of_instructions()
    texts |= {*plan_purpose.WORTH.values(), *_settings(), *_tables()}
    assert not sorted(text for text in texts if translations.has_words(text) and text not in known)


def _settings() -> Iterator[str]:
    """Labels and choices of what a plan lists as assumed."""
    job = read_job({})
    for section in plan_assumed.LISTED:
        yield f"{section} (section)"
        for spec in specs(type(getattr(job, section))).values():
            if spec.key not in plan_assumed.NEVER_ASSUMED:
                yield spec.label
                yield from spec.choices if section != "target" else ()


def _tables() -> Iterator[str]:
    """Names and words of the data that a plan quotes."""
    for file in ("coats", "plastics", "vessels", "baths"):
        for name, entry in tables.toml(tables.DATA / f"{file}.toml").items():
            yield name
            for key, one in entry.items():
                value = one.get("value", one) if isinstance(one, dict) else one
                if isinstance(value, str) and key != "file":
                    yield value


@pytest.mark.slow
@pytest.mark.parametrize("name", language.names()[1:])
def test_no_text_of_a_plan_stays_english(name, plans):
    """Heard while plans of every kind are told: templates, headings, and every value with a word in it."""
    listening, lacking = translations.listening(name)
    for made in plans.values():
        plan.render(made, listening)
    workshop.write(study(), listening)
    assert not sorted(lacking - MADE_UP)


@pytest.mark.slow
def test_the_figures_are_the_same(plans):
    """Line by line: no figure is lost, none is added, whatever the order of the words."""
    for name, made in plans.items():
        assert not translations.other_figures(made, language.of("de")), name


def test_a_word_without_a_translation_is_heard():
    listening, lacking = translations.listening("de")
    language.translated("Drink the bath.", listening)
    assert lacking == {"Drink the bath."} and not translations.has_words("{low} to {high}, 3 US gal")


@pytest.mark.slow
def test_a_plan_has_two_pages_in_every_language(plans):
    """As in English: two pages of sixty lines before the appendix. In German they ran to 131."""
    for name in language.names()[1:]:
        other = language.of(name)
        for study_name, one in plans.items():
            front = plan.render(one, other).split("\n" + language.translated(plan.APPENDIX, other))[0]
            assert len(front.splitlines()) <= MAX_LINES, study_name
