"""The question marks and the manual's entries lead to headings that the guide has; presets bring back what they kept."""

from __future__ import annotations

import fnmatch
import importlib.util
import re
from pathlib import Path

import bpy
import pytest

import panels
from addon.suite import manual
from addon.suite.operators import CLASSES
from addon.suite.scene import settings

pytestmark = pytest.mark.usefixtures("platewright")

ROOT = Path(__file__).resolve().parents[2]


def page() -> str:
    """The guide as it is packaged."""
    spec = importlib.util.spec_from_file_location("tools_manual", ROOT / "tools" / "manual.py")
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    return tool.page(ROOT / "docs" / "guide.md")


def test_every_link_into_the_guide_leads_to_a_heading():
    text = page()
    there = set(re.findall(r'id="([^"]+)"', text))
    asked = {cls.page for cls in panels.classes() if cls.page} | set(manual.PAGES.values())
    assert asked <= there, asked - there
    inside = set(re.findall(r'href="#([^"]+)"', text))
    assert inside <= there, inside - there
    assert 'src="http' not in text and "<script" not in text, "it needs no network"


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
