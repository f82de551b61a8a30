"""Findings, reasons, refusals and steps in another language: nothing of them is told in English."""

from __future__ import annotations

from collections.abc import Callable

import pytest

import every_text
from addon.engine.errors import InputError
from addon.engine.filled import Filled, filled
from addon.engine.findings import Code, Finding, Severity
from addon.engine.findings import Quantity as Of
from addon.engine.reporting import finding_text, language, reason_text, skip_text, verdict_text, words
from addon.engine.reporting.language import NUMERALS, Language

OTHERS = [name for name in language.names() if name != language.ENGLISH.name]


@pytest.fixture(params=OTHERS)
def listening(request) -> tuple[Language, set[str]]:
    """A language, and what it was asked for and does not have."""
    known, lacking = language.words(request.param), set[str]()

    def look_up(text: str) -> str:
        if text not in known and every_text.has_words(text):
            lacking.add(text)
        return known.get(text, text)

    return Language(request.param, look_up, NUMERALS[request.param]), lacking


@pytest.mark.parametrize("say", [finding_text.text, verdict_text.headline])
def test_every_finding_is_told_whole(listening, say: Callable[[Finding], str]):
    """All codes, with one and several of what they count, with each remedy and without what they may lack."""
    other, lacking = listening
    for english in {say(finding) for finding in every_text.findings()}:
        assert language.translated(english, other) and language.translated(english, language.ENGLISH) == english
    assert not lacking


def test_reasons_places_and_what_was_left_out_are_told_whole(listening):
    other, lacking = listening
    texts = [reason_text.text(one) for one in every_text.reasons()]
    texts += [skip_text.text(one) for one in every_text.skipped()]
    texts += [words.place_name(one) for one in every_text.locations()]
    texts += [words.way_up((x, y, z)) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0.5, 1)]
    for english in texts:
        assert language.translated(english, other)
    assert not lacking


@pytest.mark.slow
@pytest.mark.parametrize("other", OTHERS)
def test_every_template_in_the_source_has_an_entry(other):
    known = language.words(other)
    missing = {text: where for text, where in every_text.templates().items() if text not in known}
    assert not missing, "\n".join(f"{where}: {text!r}" for text, where in missing.items())


def test_a_fault_keeps_what_it_was_made_of():
    """Through str(), as reasons of a study are kept, and with what cannot be printed escaped; not where it was cut."""
    german = language.of("de")
    fault = InputError(filled("{path}: there is no file '{name}'; check the name", path="a\nb.toml", name="Draht 1.5"))
    assert str(fault) == "a\\nb.toml: there is no file 'Draht 1.5'; check the name"
    assert language.translated(str(fault), german) == "a\\nb.toml: es gibt keine Datei „Draht 1.5“; den Namen prüfen"
    long = InputError(filled("{path}: the file is empty; export the model again", path="x" * 2000))
    assert not isinstance(str(long), Filled) and len(str(long)) < 2000


def test_a_sentence_is_told_in_german():
    """Word order, numerals and the headline are the language's own."""
    german = language.of("de")
    weak = {Of.LIMIT_VOLTAGE: 12.0, Of.CURRENT: 4.0, Of.LIMIT_CURRENT: 1.5}
    finding = Finding(Code.SUPPLY_VOLTAGE_TOO_SMALL, Severity.COSTS, weak)
    assert language.translated(finding_text.text(finding), german) == (
        "Mit seinen 12 V treibt das Netzteil 1,5 A; die verlangten 4 A bräuchten mehr. Die Anoden näher bringen oder"
        " ein Netzteil mit mehr Volt nehmen."
    )
    assert language.translated(verdict_text.headline(finding), german) == "12 V des Netzteils reichen nicht"
    welded = Finding(Code.POINTS_WELDED, Severity.COSTS, {Of.COUNT: 1200})
    assert language.translated(verdict_text.headline(welded), german) == ("1.200 doppelte Punkte gelten als einer")
