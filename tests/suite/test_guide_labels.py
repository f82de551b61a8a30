"""What the guide and the first part set in bold or italics as a label is one, letter for letter."""

from __future__ import annotations

import re
from pathlib import Path

import bpy
import pytest

from addon.engine.reporting import language as dictionary
from addon.engine.reporting import verdict_text
from addon.engine.verdict.fixes import Fix, FixCode

import panels

pytestmark = pytest.mark.usefixtures("platewright")
DOCS = Path(__file__).resolve().parents[2] / "docs"
BOLD, ITALIC = re.compile(r"\*\*(.+?)\*\*", re.S), re.compile(r"(?<![*\w])\*([^*\s][^*]*?)\*(?![*\w])", re.S)
MENU = " > "
# Blender's own, as they stand in the window of Blender 4.3; keys of the keyboard; what is no label
BLENDERS = {
    *("Install from Disk", "Import STL", "Dimensions", "Item", "Scale", "File", "Import", "STL (.stl)", "View"),
    *("Frame Selected", "Edit", "Preferences", "Get Extensions", "Add-ons", "Interface", "Translation", "Scene"),
    *("Units", "Unit Scale", "Add", "Mesh", "Object", "Object Properties", "Online Manual"),
    *("N", "Esc", "Delete", "0.001", "A wrong scale"),
}


def labels() -> set[str]:
    """Of every panel, operator and field of ours, and all that is written on the screen."""
    found = {cls.bl_label for cls in panels.classes()} | {"Platewright"}
    found |= {getattr(bpy.ops.platewright, name).get_rna_type().name for name in dir(bpy.ops.platewright)}
    told = {re.split(r" \(|:", text)[0] for text in dictionary.words("de")}
    ways = [Fix(FixCode.USE_HANGING, up=(0.0, y, 0.0)) for y in (1.0, -1.0)]
    fixes = (*ways, Fix(FixCode.SET_WIRES, 3.0))
    return found | told | {str(verdict_text.change(fix)) for fix in fixes}


@pytest.mark.parametrize("page", ["first-part.md", "guide.md"])
def test_every_label_that_a_page_names_is_on_the_screen(page):
    text = (DOCS / page).read_text(encoding="utf-8")
    named = [*BOLD.findall(text), *ITALIC.findall(BOLD.sub("", text))]
    assert len(named) > 15
    said = {step for name in named for step in " ".join(name.split()).split(MENU)}
    unknown = sorted(said - labels() - BLENDERS)
    assert not unknown, unknown
