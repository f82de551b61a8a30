"""Sentences in another language: told whole, from dictionaries that agree with each other."""

from __future__ import annotations

import pytest

from addon.engine.errors import InputError
from addon.engine.reporting import language
from addon.engine.reporting.filled import filled, joined, sentence
from addon.engine.reporting.language import Language, decimal_comma, translated
from addon.engine.reporting.words import listed

WORDS = {
    "{count} mL of gas stay in {where}": "In {where} bleiben {count} mL Gas",
    "the bell": "der Glocke",
    "{items} and {last}": "{items} und {last}",
    "no bath": "kein Bad",
    "wire": "Draht",
}
GERMAN = Language("de", lambda text: WORDS.get(text, text), decimal_comma)


def test_values_are_told_before_they_are_set_in():
    gas = filled("{count} mL of gas stay in {where}", count="4.5", where="the bell")
    assert gas == "4.5 mL of gas stay in the bell" and translated(gas, language.ENGLISH) == gas
    assert translated(gas, GERMAN) == "In der Glocke bleiben 4,5 mL Gas"
    assert (
        translated(joined([sentence("no bath"), sentence(gas)]), GERMAN)
        == "Kein Bad. In der Glocke bleiben 4,5 mL Gas."
    )
    assert translated(listed(["1.5", "wire", "no bath"]), GERMAN) == "1,5, Draht und kein Bad"


def test_names_and_what_no_dictionary_has_stay():
    assert translated(filled("{name}: {what}", name="wire", what="wire"), GERMAN) == "wire: Draht"
    assert translated(filled("{name} hangs {way}", name="bell 1.5", way="so"), GERMAN) == "bell 1.5 hangs so"


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("(4.5, -12, 23.7) mm", "(4,5; -12; 23,7) mm"),
        ("1,850,000", "1.850.000"),
        ("30 um (1.2 mil)", "30 um (1,2 mil)"),
        ("1, 2 and 3.", "1; 2 and 3."),
        ("wire, 12", "wire, 12"),
    ],
)
def test_figures_have_a_decimal_comma(english, german):
    """German usage: DIN 1333 and 5008, from memory; a semicolon parts figures that have commas."""
    assert decimal_comma(english) == german


def test_a_language_that_is_not_there_is_refused_and_no_text_stands_twice():
    assert language.names() == ("en", "de") and language.of("en") is language.ENGLISH
    with pytest.raises(InputError, match="choose one of en, de"):
        language.of("xx")
    assert language.words("de")


def test_a_text_in_two_files_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(language, "FOLDER", tmp_path)
    for name in ("xx.toml", "xx.plan.toml"):
        (tmp_path / name).write_text('"wire" = "x"\n', encoding="utf-8")
    with pytest.raises(InputError, match="'wire' stands in another file too"):
        language.words.__wrapped__("xx")
