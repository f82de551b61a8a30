"""The screen in another language: every text of it has one in German, sentences are translated whole."""

from __future__ import annotations

import re
import string

import bpy
import pytest

import screen_words
from addon.engine.errors import InputError
from addon.engine.filled import settings_in
from addon.engine.findings import Code, Finding, Severity
from addon.engine.findings import Quantity as Of
from addon.engine.reporting import language as dictionary
from addon.engine.reporting import verdict_text
from addon.engine.reporting.filled import Filled, filled
from addon.engine.settings.job import read_job
from addon.suite import language, operators, panels, workshop
from addon.suite.scene import roles, settings, viewing

pytestmark = pytest.mark.usefixtures("platewright")

SAME = {"Platewright", "Normal", "Linear", "Tafel", "Butler-Volmer", "Anode", "Position"}  # in both languages


def everything() -> dict[str, str]:
    chosen = settings.of(bpy.context.scene)
    groups = [type(getattr(chosen, name)) for name in (*settings.SECTIONS, "kinetics", "anode_kinetics")]
    groups += [type(chosen), roles.PLATEWRIGHT_PG_object, viewing.PLATEWRIGHT_PG_viewing]
    classes = [*operators.CLASSES, *panels.CLASSES, *workshop.CLASSES]
    return {**screen_words.of_registered(classes, groups), **screen_words.of_source()}


@pytest.mark.slow
@pytest.mark.parametrize("other", language.LOCALES)
def test_every_text_of_the_screen_is_translated(other):
    words = dictionary.words(other)
    missing = {text: where for text, where in everything().items() if text not in words}
    assert not missing, "\n".join(f"{where}: {text!r}" for text, where in missing.items())


def test_no_sentence_of_the_screen_is_glued_together():
    assert not screen_words.glued()


@pytest.mark.parametrize("other", language.LOCALES)
def test_a_translation_fills_in_what_the_english_does(other):
    for english, own in dictionary.words(other).items():
        there, here = ({name for _, name, _, _ in string.Formatter().parse(text) if name} for text in (own, english))
        assert there == here, english
        assert own and own == own.strip(), english
        assert english.endswith("...") == own.endswith("..."), english


def test_blender_is_given_them_and_sentences_are_told_whole(monkeypatch):
    """As Blender would: its own look-up, in place of an interface in German, which the module does not ship."""
    words = dictionary.words("de")
    monkeypatch.setattr(language, "looked_up", lambda text, _context: words.get(text, text))
    finding = Finding(Code.GAS_TRAPPED, Severity.SPOILS, {Of.VOLUME: 13e-6, Of.AREA: 26e-4})
    headline = verdict_text.headline(finding)
    assert isinstance(headline, Filled) and headline == "13 mL of trapped gas leave 26 cm2 bare"
    assert language.localized(headline) == "13 mL eingeschlossenes Gas lassen 26 cm² ohne Metall"
    assert language.localized(filled("{name} placed", name="Wire")) == "Wire gesetzt", "a name is nobody's to translate"
    assert language.localized(filled("{name}: {why}; choose a face that is plated", name="A", why="wire")).startswith(
        "A: Draht"
    )


def test_figures_are_set_as_the_language_sets_them(monkeypatch):
    """A decimal comma in German (DIN 1333, from memory), in what is filled in as well; a name stays as it is."""
    monkeypatch.setattr(language, "locale_in_use", lambda: "de_DE")
    assert language.localized("2.5 mm") == "2,5 mm" and language.localized("1,240 mm") == "1.240 mm"
    assert language.localized(filled("model {size} mm", size="8.09")).count("8,09") == 1
    assert language.localized(filled("{name}: {count}", name="Bracket 1.5", count="2.5")) == "Bracket 1.5: 2,5"
    monkeypatch.setattr(language, "locale_in_use", lambda: "en_US")
    assert language.localized("2.5 mm") == "2.5 mm"


def test_the_dictionaries_are_blender_s_own(platewright):
    """Registered for the locales that Blender has, and taken back."""
    known = set(bpy.app.translations.locales) or {"de_DE", "de"}
    for locales in language.LOCALES.values():
        assert known & set(locales), known
    assert not re.search(r"\{\w+\}", language.localized("Check Part"))


def test_a_plan_follows_the_interface(monkeypatch):
    """Blender's own locales; where the interface is not translated, or in a language without a dictionary, English."""
    for locale, name in (("de_DE", "de"), ("de", "de"), ("fr_FR", "en"), ("", "en")):
        monkeypatch.setattr(language, "locale_in_use", lambda here=locale: here)
        assert language.written().name == name


def test_a_setting_is_called_on_the_screen_as_its_panel_calls_it(monkeypatch):
    """A sentence that the job file shares names its key; what only looks like one, as an object's name, stays."""
    refused = filled("{name}: hang fewer of them ({rack.suggest}), or say where ({rack.positions_mm})", name="part.up")
    assert refused == "part.up: hang fewer of them (rack.suggest), or say where (rack.positions_mm)"
    assert dictionary.translated(refused, dictionary.of("de")) == refused, (
        "what is written keeps the keys of the job file"
    )
    assert language.localized(refused) == "part.up: hang fewer of them (Number of Parts), or say where (Positions)"
    words = dictionary.words("de")
    monkeypatch.setattr(language, "looked_up", lambda text, _context: words.get(text, text))
    assert language.localized(refused) == "part.up: hang fewer of them (Anzahl der Teile), or say where (Lagen)"


@pytest.mark.parametrize(
    ("table", "key", "shown"),
    [
        ({"tank": {"level_mm": "high"}}, "job.toml: tank.level_mm: ", "job.toml: Liquid Level: "),
        ({"part": {"up": [0, 0, 0]}}, "job.toml: part.up: ", "job.toml: Up: "),
        ({"anode": [{"file": 3}]}, "job.toml: anode[0].file: ", "job.toml: anode[0].file: "),
    ],
)
def test_a_refused_setting_has_its_label_on_the_screen_and_its_key_in_the_terminal(table, key, shown):
    """Where the panels show no such setting, or several of its kind, the key stays."""
    with pytest.raises(InputError) as refused:
        read_job(table, "job.toml")
    assert str(refused.value).startswith(key)
    assert language.localized(refused.value.args[0]).startswith(shown)


@pytest.mark.parametrize("other", language.LOCALES)
def test_templates_name_settings_as_settings(other):
    """A key written out in a sentence would reach the screen as it stands; one in braces must be a key of the job."""
    plain = re.compile(r"(?<![\w{])(?:" + "|".join(map(re.escape, language.LABELS)) + r")(?![\w}])")
    texts = [text for text in dictionary.words(other) if " " in text]
    assert not [text for text in texts if plain.search(text)]
    named = {key for text in texts for key in settings_in(text)}
    assert len(named) > 20 and named <= language.LABELS.keys()
