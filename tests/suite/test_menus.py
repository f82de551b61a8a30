"""Where Blender's users look: menus, the object's properties, the extension's preferences."""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace

import bpy
import numpy as np
import pytest

from addon.engine import study as studies
from addon.engine.settings import tables
from addon.suite import workshop
from addon.suite.operators import CLASSES
from addon.suite.panels import menus
from addon.suite.scene import roles, settings

pytestmark = pytest.mark.usefixtures("platewright")

WORKSHOP = {"bath": "acid copper, high throw", "coat": "graphite lacquer", "current": 3.0, "voltage": 12.0}


def test_what_the_menus_offer_is_registered():
    known = {cls.bl_idname for cls in CLASSES}
    known.add("platewright.use_workshop")
    for table in (menus.OFFERED, menus.PRINTED, menus.WRITTEN, menus.ADDED):
        assert {name for name, _ in table} <= known


def test_every_command_stands_in_a_menu_which_f3_searches():
    """But those that stand for a row of a list or a finding, and what Blender calls by itself."""
    offered = {name for table in (menus.OFFERED, menus.PRINTED, menus.WRITTEN, menus.ADDED) for name, _ in table}
    of_a_row = {"fix", "show_finding", "take_way_up", "take_layout", "take_target", "preview", "jump", "drop_state"}
    of_a_panel = {"from_table", "quality", "size_is_right", "help", "follow_end"}
    asked = {cls.bl_idname for cls in CLASSES} - {f"platewright.{name}" for name in of_a_row | of_a_panel}
    assert asked - offered == {"platewright.study", "platewright.show"}, "these two have menus of their own"


def test_what_can_be_calculated_in_a_panel_can_be_in_the_menu():
    source = "".join(path.read_text(encoding="utf-8") for path in Path(menus.__file__).parent.glob("*.py"))
    buttons = set(re.findall(r'"platewright.study", text="([^"]+)"', source))
    assert buttons == {title for title, *_ in menus.CALCULATED}
    for _, only, _ in menus.CALCULATED:
        assert set(filter(None, only.replace(" ", "").split(","))) <= set(studies.NAMES)


def test_the_redo_panel_shows_no_inner_number():
    """What is left in it is what a person would change: sizes, counts, names."""
    inner = {"number", "kind", "only", "quick", "section", "page"}
    for cls in CLASSES:
        if "UNDO" in getattr(cls, "bl_options", ()) and cls.bl_idname != "platewright.suggest_wires":
            own = getattr(bpy.ops.platewright, cls.bl_idname.partition(".")[2]).get_rna_type()
            assert not [p.identifier for p in own.properties if p.identifier in inner and not p.is_hidden], cls


def test_every_operator_has_a_label_and_a_tooltip_that_is_a_sentence():
    for cls in CLASSES:
        assert cls.bl_label[:1].isupper(), cls
        assert (cls.__doc__ or "")[:1].isupper() and not (cls.__doc__ or "").endswith("."), cls


def test_the_menus_are_given_back(platewright):
    for name, draw in menus.EXTENDED:
        assert draw in getattr(bpy.types, name)._dyn_ui_initialize()
    menus.unregister()
    for name, draw in menus.EXTENDED:
        assert draw not in getattr(bpy.types, name)._dyn_ui_initialize()
    menus.register()


def test_an_anode_is_a_plate_at_the_cursor():
    """80 x 120 mm in a scene of meters: its area is 0.0096 m2, and it faces along Y."""
    bpy.context.scene.cursor.location = (0.1, 0.2, 0.3)
    bpy.ops.platewright.anode()
    (o,) = roles.every(bpy.context.scene, roles.ANODE)
    size = np.ptp(np.array([v.co[:] for v in o.data.vertices]), axis=0)
    assert np.allclose(sorted(size), [0.0, 0.08, 0.12], atol=1e-6)
    assert np.allclose(o.matrix_world.translation, (0.1, 0.2, 0.3))
    assert sum(p.area for p in o.data.polygons) == pytest.approx(0.08 * 0.12)


def test_a_new_file_begins_with_the_workshop(monkeypatch):
    own = {"own_tank": True, "size": (400.0, 250.0, 300.0), "level": 260.0}
    monkeypatch.setattr(workshop, "preferences", lambda: SimpleNamespace(**WORKSHOP, **own))
    workshop.loaded()
    job = settings.job_of(bpy.context.scene)
    assert WORKSHOP["bath"] in tables.names("baths")
    assert (job.bath.name, job.coat.name) == (WORKSHOP["bath"], WORKSHOP["coat"])
    assert (job.supply.current, job.supply.voltage) == (3.0, 12.0)
    assert np.allclose(job.tank.size, (0.4, 0.25, 0.3)) and job.tank.level == pytest.approx(0.26)


def test_a_file_that_was_saved_keeps_its_own_settings(monkeypatch, tmp_path):
    settings.of(bpy.context.scene).supply.current = 7.0
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "a.blend"))
    monkeypatch.setattr(workshop, "preferences", lambda: SimpleNamespace(**WORKSHOP, own_tank=False))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "a.blend"))
    assert settings.of(bpy.context.scene).supply.current == 7.0


def test_a_preset_that_is_gone_leaves_the_default(monkeypatch):
    gone = {**WORKSHOP, "bath": "no such bath", "coat": "no such coat"}
    monkeypatch.setattr(workshop, "preferences", lambda: SimpleNamespace(**gone, own_tank=False))
    before = settings.job_of(bpy.context.scene)
    workshop.loaded()
    after = settings.job_of(bpy.context.scene)
    assert (after.bath, after.coat) == (before.bath, before.coat)
