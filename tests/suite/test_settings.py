"""The panels' settings against the job's own description of them, and through a .blend and back."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import pytest

from addon.engine.settings import schema
from addon.engine.errors import InputError
from addon.engine.settings.job import read_job
from addon.suite import language, workshop
from addon.suite.operators import CLASSES
from addon.suite.operators.popup import Popup
from addon.suite.scene import roles, scene_units, settings, viewing

pytestmark = pytest.mark.usefixtures("platewright")

UNDRAWN = {"shown", "size_is_right"}  # noted, and on no panel
UNUSUAL = {
    "part": {"up": [0.1, -0.2, 0.97], "material": "PETG", "walls_mm": 0.8, "infill": 1, "sheet_sides": 2},
    "target": {"thickness_um": 55.5, "density_A_dm2": 1.7},
    "bath": {
        "name": "acid copper, high throw",
        "conductivity_S_m": 51.3,
        "temperature_C": 21.5,
        "window_A_dm2": [0.3, 3.3],
        "kinetics": {"kind": "linear", "resistance_ohm_m2": 0.0021},
    },
    "batch": {"volume_L": 3.5, "acid_percent": 15},
    "tank": {"shape": "cylinder", "size_mm": [180, 180, 240], "level_mm": 200.5},
    "coat": {"name": "graphite lacquer", "sheet_resistance_ohm_sq": 41.7},
    "supply": {"max_A": 0.75, "max_V": 12},
    "print": {"layer_mm": 0.12, "up": [1, 0, 0]},
    "effort": {"rays": 100, "directions": 77, "panels": 5000, "skip": "hanging"},
}


def scene() -> bpy.types.Scene:
    return bpy.context.scene


def test_a_new_scene_is_an_empty_job_file():
    assert settings.job_of(scene()) == read_job({})


def test_a_job_goes_through_the_panels_unchanged():
    """Single precision does not show: what was typed with up to seven digits comes back as typed."""
    job = read_job(UNUSUAL)
    settings.fill(scene(), job)
    assert settings.job_of(scene()) == job


def test_settings_are_saved_in_the_file(tmp_path):
    settings.fill(scene(), read_job(UNUSUAL))
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "part.blend"))
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert settings.job_of(scene()) == read_job({})
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "part.blend"))
    assert settings.job_of(scene()) == read_job(UNUSUAL)


@pytest.mark.parametrize("name", settings.SECTIONS)
def test_limits_unit_and_tooltip_are_the_job_file_s(name):
    group = getattr(settings.of(scene()), name)
    for field, spec in schema.specs(type(getattr(settings.DEFAULT, name))).items():
        if field in settings.ELSEWHERE.get(name, ()):
            continue
        prop = group.bl_rna.properties[settings.RENAMED.get(field, field)]
        assert prop.name.startswith(language.title_case(spec.label))
        assert prop.description.startswith(spec.doc)
        assert ("(" in prop.name) == bool(spec.unit)
        if prop.type in ("FLOAT", "INT") and spec.low > -schema.MAX_SETTING:
            unset = getattr(getattr(settings.DEFAULT, name), field) is None  # zero: not set
            assert prop.hard_min == pytest.approx(0.0 if unset else spec.low)
            assert prop.hard_max == pytest.approx(spec.high)


def test_choosing_a_bath_brings_its_values_and_keeps_none_of_the_old():
    bath = settings.of(scene()).bath
    bath.conductivity = 3.0
    bath.entry = "nickel, Watts"
    assert settings.job_of(scene()).bath == read_job({"bath": {"name": "nickel, Watts"}}).bath


def test_values_from_the_table_undo_own_measurements():
    coat = settings.of(scene()).coat
    coat.sheet_resistance = 77.0
    bpy.ops.platewright.from_table(section="coat")
    assert settings.job_of(scene()).coat == read_job({}).coat


def test_a_bath_table_of_one_s_own(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        '["bench"]\nmetal = "copper"\ntemperature_C = 22\ndensity_g_mL = 1.1\nconductivity_S_m = 12\n'
        "window_A_dm2 = [1, 3]\nefficiency = 1\nlimiting_A_dm2 = 6\nanode_limit_A_dm2 = 2\nsurface_tension_N_m = 0.07\n"
        'kinetics = { kind = "none" }\n'
    )
    bath = settings.of(scene()).bath
    bath.file = str(own)
    bath.entry = "bench"
    found = settings.job_of(scene()).bath
    assert (found.conductivity, found.window, found.kinetics.kind) == (12.0, (100.0, 300.0), "none")


@pytest.mark.parametrize(
    ("table", "group", "prop", "value"),
    [
        ({"part": {"up": [0, 0, 0]}}, "part", "up", (0, 0, 0)),
        ({"bath": {"window_A_dm2": [3, 2]}}, "bath", "window", (3, 2)),
        ({"bath": {"name": "nickel, Wats"}}, "bath", "entry", "nickel, Wats"),
        ({"part": {"material": "PLQ"}}, "part", "material", "PLQ"),
    ],
)
def test_the_sentence_is_the_job_file_s(table, group, prop, value):
    with pytest.raises(InputError) as from_file:
        read_job(table, "scene 'Scene'")
    setattr(getattr(settings.of(scene()), group), prop, value)
    with pytest.raises(InputError) as from_panel:
        settings.job_of(scene())
    assert str(from_panel.value) == str(from_file.value)


def test_a_scene_in_inches_shows_the_settings_in_inches_and_the_job_stays_the_same():
    """25.4 mm to the inch, and the boiling point of water at 212 F is 373.15 K: the definitions of the units. Blender
    keeps lengths in units of the scene and temperatures in kelvins."""
    tank, bath, before = settings.of(scene()).tank, settings.of(scene()).bath, settings.job_of(scene())
    assert scene_units.name_of(tank, "level", scene()) == "level", "a scene that nobody set up is in the trade's units"
    scene().unit_settings.system = "IMPERIAL"
    scene().unit_settings.length_unit = "INCHES"
    assert settings.job_of(scene()) == before
    assert scene_units.name_of(tank, "level", scene()) == "level_in_scene_units"
    assert scene_units.name_of(bath, "conductivity", scene()) == "conductivity", "Blender has no such unit"
    tank.level_in_scene_units = 5 * 0.0254
    bath.temperature_in_scene_units = 310.15
    tank.size_in_scene_units = (0.254, 0.127, 0.254)
    job = settings.job_of(scene())
    assert (job.tank.level, job.bath.temperature) == (0.127, 310.15)
    assert job.tank.size == (0.254, 0.127, 0.254)
    scene().unit_settings.scale_length = 0.001
    assert tank.level_in_scene_units == pytest.approx(127)
    tank.level_in_scene_units = 100.0
    assert tank.level == 100.0
    assert settings.job_of(scene()).tank.level == pytest.approx(0.1)


def test_reset_gives_a_setting_its_own_default_whatever_the_unit_of_the_scene():
    """Blender's Reset to Default Value writes the default of the property that is drawn."""
    scene().unit_settings.scale_length = 0.001
    tank = settings.of(scene()).tank
    default = tank.bl_rna.properties["level"].default
    tank.level = 55.0
    tank.level_in_scene_units = tank.bl_rna.properties["level_in_scene_units"].default
    assert tank.level == default
    tank.size = (1, 2, 3)
    tank.size_in_scene_units = tank.bl_rna.properties["size_in_scene_units"].default_array
    assert tuple(tank.size) == tuple(tank.bl_rna.properties["size"].default_array)


def test_every_field_has_a_tooltip():
    """Groups of the scene and of objects, and what the operators' panels ask for."""
    groups = [type(getattr(settings.of(scene()), name)) for name in (*settings.SECTIONS, "kinetics", "anode_kinetics")]
    groups += [type(settings.of(scene())), roles.PLATEWRIGHT_PG_object, viewing.PLATEWRIGHT_PG_viewing]
    for group in groups:
        for prop in group.bl_rna.properties:
            if prop.identifier not in ("rna_type", "name") and prop.type not in ("POINTER", "COLLECTION"):
                assert prop.description or prop.identifier in UNDRAWN, f"{group.__name__}.{prop.identifier}"
    for cls in CLASSES:
        for prop in getattr(bpy.ops.platewright, cls.bl_idname.partition(".")[2]).get_rna_type().properties:
            if prop.identifier != "rna_type" and not prop.is_hidden:
                assert prop.description, f"{cls.bl_idname}: {prop.identifier}"


@pytest.mark.parametrize(
    ("operator", "names"),
    [
        ("sheet_resistance", ("width", "gap")),
        ("conductivity", ("gap",)),
        ("anode", ("width", "height")),
        ("rack", ("spacing",)),
        ("place_wire", ("pad",)),
    ],
)
def test_lengths_in_popups_are_in_the_scene_s_units_as_well(operator, names):
    """An imperial scene shows, and is typed, inches in popups and redo panels, as in its panels."""
    scene().unit_settings.system, scene().unit_settings.length_unit = "IMPERIAL", "INCHES"
    cls = next(one for one in CLASSES if one.bl_idname == f"platewright.{operator}")
    props = getattr(bpy.ops.platewright, operator).get_rna_type()
    for name in names:
        shown = scene_units.name_of(SimpleNamespace(bl_rna=props), name, scene())
        assert shown == name + scene_units.TWIN and props.properties[shown].unit == "LENGTH"
    assert "draw" in vars(cls) or issubclass(cls, Popup)


def test_the_workshop_s_tank_is_in_the_scene_s_units_as_well():
    shown = workshop.PLATEWRIGHT_preferences.bl_rna.properties
    assert {shown[f"{name}{scene_units.TWIN}"].unit for name in ("size", "level")} == {"LENGTH"}
