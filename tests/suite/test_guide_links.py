"""The question marks and the manual's entries lead to headings that the guide has; presets bring back what they kept."""

from __future__ import annotations

import contextlib
import fnmatch
import importlib.util
import io
import json
import re
from pathlib import Path

import bpy
import pytest

import panels
import screen_words
from addon.engine.settings import job
from addon.engine.settings.schema import specs
from addon.suite import command as command_line
from addon.suite import manual, workshop
from addon.suite import panels as all_panels
from addon.suite.operators import CLASSES
from addon.suite.scene import roles, settings, viewing

pytestmark = pytest.mark.usefixtures("platewright")

ROOT = Path(__file__).resolve().parents[2]
OPTION = r"(?<![\w-])--[a-z][a-z-]+"
BLENDERS = {
    "n",
    "esc",
    "0.001",
    "install from disk",
    "a wrong scale",
    "my workshop",
    "scale",
    "dimensions",
    "decimate",
    "smooth",
    "online manual",
}  # keys, and what is no button of ours
PAGES = ("guide", "first-part", "calibrate", "troubleshooting", "tasks/*")


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
    """Every name in bold or in italics of the pages that tell what to do is a label of ours, as it is now."""
    chosen = settings.of(bpy.context.scene)
    groups = [
        type(chosen),
        *(type(getattr(chosen, name)) for name in (*settings.SECTIONS, "kinetics", "anode_kinetics")),
    ]
    groups += [roles.PLATEWRIGHT_PG_object, viewing.PLATEWRIGHT_PG_viewing]
    classes = [*CLASSES, *all_panels.CLASSES, *workshop.CLASSES]
    there = {*screen_words.of_registered(classes, groups), *screen_words.of_source()}
    labels = {text.rstrip(".").lower() for text in there} | BLENDERS
    labels |= {text.partition(":")[0] for text in labels}  # the part that does not change
    plan = (ROOT / "tests" / "golden" / "finial-plan.txt").read_text(encoding="utf-8")
    labels |= {text.strip().lower() for text in re.findall(r"^ *([A-Z][A-Z, ]+|Check)\b", plan, re.MULTILINE)}
    made = [re.sub(r"\\{\w+\\}", ".+", re.escape(text.lower())) for text in labels if "{" in text and len(text) < 40]
    for path in (path for name in PAGES for path in sorted((ROOT / "docs").glob(f"{name}.md"))):
        text = path.read_text(encoding="utf-8")
        named = [*re.findall(r"\*\*([^*]+)\*\*", text), *re.findall(r"(?<!\*)\*([^*]+)\*(?!\*)", text)]
        asked = {" ".join(one.split()) for one in named if not one.endswith((".", ":", ",")) or one.endswith("...")}
        asked = {one for one in asked if " > " not in one and one.rstrip(".").lower() not in labels}
        missing = {one for one in asked if not any(re.fullmatch(one_of, one.lower()) for one_of in made)}
        assert not missing, f"{path.name}: {missing}"


def test_what_the_pages_tell_to_type_is_there():
    """Every option is one of the command line's, and each of these is on the headless page; every key in a sentence is
    one of a job or of a report."""
    options = {option for one in ("plan", "compare", "area", "assets") for option in usage(one)}
    schema = json.loads((ROOT / "docs" / "report.schema.json").read_text(encoding="utf-8"))
    pages = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
    told = {path.name: path.read_text(encoding="utf-8") for path in pages if path.name != "gallery.md"}
    assert options <= set(re.findall(OPTION, told["headless.md"])), "each option has its line"
    for name, text in told.items():
        asked = set(re.findall(OPTION, text)) - {"--check", "--command", "--help"}
        assert asked <= options, f"{name}: {asked - options}"
        for section, key in re.findall(r"`([a-z]+)\.([A-Za-z]\w+)(?:\[\])?(?: = [^`]*)?`", text):
            kinds = [job.SECTIONS[section][1]] if section in job.SECTIONS else []
            keys = {spec.key for kind in kinds for spec in specs(kind).values()}
            keys |= set(schema["$defs"].get(section, schema["properties"].get(section, {})).get("properties", {}))
            assert not keys or key in keys, f"{name}: {section}.{key}"


def usage(command: str) -> set[str]:
    """The options that the help of a command names."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), pytest.raises(SystemExit):
        command_line.main([command, "--help"])
    return set(re.findall(OPTION, out.getvalue())) - {"--help"}


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
