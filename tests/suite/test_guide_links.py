"""The question marks and the manual's entries lead to headings that the guide has; presets bring back what they kept."""

from __future__ import annotations

import fnmatch
import importlib.util
import re
from pathlib import Path

import bpy
import pytest

import panels
import screen_words
from addon.suite import manual, workshop
from addon.suite import panels as all_panels
from addon.suite.operators import CLASSES
from addon.suite.scene import roles, settings, viewing

pytestmark = pytest.mark.usefixtures("platewright")

ROOT = Path(__file__).resolve().parents[2]
BLENDERS = {
    "n",
    "esc",
    "0.001",
    "install from disk",
    "a wrong scale",
    "my workshop",
}  # keys, and what is no button of ours


def page() -> str:
    """The guide as it is packaged."""
    spec = importlib.util.spec_from_file_location("tools_manual", ROOT / "tools" / "manual.py")
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    return tool.page(ROOT / "docs" / "guide.md")


def test_every_link_into_the_guide_leads_to_a_heading():
    text = page()
    there = set(re.findall(r'id="([^"]+)"', text))
    assert not [cls for cls in panels.classes() if not cls.page], "each panel has its question mark"
    asked = {cls.page for cls in panels.classes()} | set(manual.PAGES.values())
    assert asked <= there, asked - there
    inside = set(re.findall(r'href="#([^"]+)"', text))
    assert inside <= there, inside - there
    assert 'src="http' not in text and "<script" not in text, "it needs no network"


def test_what_the_pages_tell_to_press_is_on_the_screen():
    """Every name in bold of the guide, the first part, the tasks and the calibration is a label of ours, as it is now."""
    chosen = settings.of(bpy.context.scene)
    groups = [
        type(chosen),
        *(type(getattr(chosen, name)) for name in (*settings.SECTIONS, "kinetics", "anode_kinetics")),
    ]
    groups += [roles.PLATEWRIGHT_PG_object, viewing.PLATEWRIGHT_PG_viewing]
    classes = [*CLASSES, *all_panels.CLASSES, *workshop.CLASSES]
    there = {*screen_words.of_registered(classes, groups), *screen_words.of_source()}
    labels = {text.rstrip(".").lower() for text in there} | BLENDERS
    for name in ("guide", "first-part", "calibrate", "tasks/*"):
        for path in sorted((ROOT / "docs").glob(f"{name}.md")):
            bold = re.findall(r"\*\*([^*]+)\*\*", path.read_text(encoding="utf-8"))
            asked = {" ".join(text.split()) for text in bold if not text.endswith((".", ":")) or text.endswith("...")}
            missing = {text for text in asked if text.rstrip(".").lower() not in labels}
            assert not missing, f"{path.name}: {missing}"


def test_every_operator_has_its_page():
    """As Blender looks for it: the first pattern that fits."""
    for cls in CLASSES:
        what = f"bpy.ops.{cls.bl_idname}"
        assert any(fnmatch.fnmatchcase(what, pattern) for pattern in manual.PAGES), what
    prefix, found = manual.mapped()
    assert prefix.startswith("file:") and len(found) == len(manual.PAGES)


def test_a_preset_brings_back_what_it_kept(tmp_path, monkeypatch):
    """Written and read by Blender's own preset operators: the bath with its kinetics, with another bath in between."""
    monkeypatch.setattr(bpy.utils, "user_resource", lambda *_args, path="", **_rest: made(tmp_path / path))
    chosen = settings.of(bpy.context.scene)
    chosen.bath.entry = "nickel, Watts"
    chosen.bath.conductivity, chosen.anode_kinetics.kind, chosen.anode_kinetics.resistance = 7.5, "linear", 0.002
    before = settings.job_of(bpy.context.scene).bath
    menu = bpy.types.PLATEWRIGHT_MT_bath_presets
    monkeypatch.setattr(menu, "bl_label", menu.bl_label)  # Blender calls it after the preset: not in other tests
    bpy.ops.platewright.bath_preset_add(name="my nickel")
    (written,) = (tmp_path / "presets" / "platewright" / "bath").glob("*.py")
    chosen.bath.entry = "acid copper, high throw"
    assert settings.job_of(bpy.context.scene).bath != before
    bpy.ops.script.execute_preset(filepath=str(written), menu_idname="PLATEWRIGHT_MT_bath_presets")
    assert settings.job_of(bpy.context.scene).bath == before


def made(folder: Path) -> str:
    folder.mkdir(parents=True, exist_ok=True)
    return str(folder)
