"""The buttons: each tells the same as the engine does, says why it refuses, and is undone in one step."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from PIL import Image

from addon.engine import study as studies
from addon.engine.errors import InputError
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end
from addon.engine.reporting import workshop
from addon.engine.sheet import client, notes
from addon.engine.units import DM2
from addon.suite import language, operators
from addon.suite.draw import still as draw_still
from addon.suite.scene import capture
from addon.suite.session import session
from addon.suite.scene import settings, viewing
from addon.suite.scene.tracers import HostTracer

from models import box, cup, moved
from scene import kept

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(0.010, 0.020, 0.001, rows=4), turn=np.diag([1, -1, -1]))  # meters; it opens downwards
HOLDS = np.pi * 0.010**2 * 0.020  # m3 of gas under it, less what the polygon of 64 sides lacks


def updated() -> None:
    bpy.context.view_layer.update()


def test_measure_tells_what_the_engine_tells(add):
    """One study serves the button and a script."""
    add(BELL)
    assert bpy.ops.platewright.measure() == {"FINISHED"}
    found = capture.selected(bpy.context)
    direct = run_to_end(studies.run(found.part, read_job({}), HostTracer, only=["deposit", "gas"]))
    assert kept().study.results.deposit == direct.results.deposit
    assert kept().study.results.gas.trapped_volume == direct.results.gas.trapped_volume
    assert direct.results.gas.trapped_volume == pytest.approx(HOLDS, rel=2e-3)


def test_two_objects_are_one_part(add):
    add(box((0.01, 0.01, 0.01)), "A")
    add(moved(box((0.02, 0.02, 0.02)), (0.1, 0, 0)), "B")
    bpy.ops.platewright.measure()
    assert kept().study.surface.plated_area.sum() / DM2 == pytest.approx(6 * (0.01 + 0.04))
    assert [item.object.name for item in settings.of(bpy.context.scene).objects] == ["A", "B"]


def test_the_chosen_part_stays_while_something_else_is_selected(add):
    first, other = add(box(), "A"), add(box(), "B", select=False)
    bpy.ops.platewright.measure()
    first.select_set(False)
    other.select_set(True)
    assert session.objects(bpy.context) == [first]
    bpy.ops.platewright.choose()
    assert session.objects(bpy.context) == [other]
    assert session.find(bpy.context) is None


@pytest.mark.parametrize(
    ("call", "reason"),
    [
        (lambda: bpy.ops.platewright.measure(), "Select the object"),
        (lambda: bpy.ops.platewright.choose(), "Select the object"),
        (lambda: bpy.ops.platewright.normal(), "No colors are shown"),
    ],
)
def test_a_gray_button_says_why(call, reason):
    with pytest.raises(RuntimeError, match=reason):
        call()


def test_what_needs_a_study_says_so(add):
    add(box())
    for call in (bpy.ops.platewright.show, bpy.ops.platewright.jump, bpy.ops.platewright.plan):
        with pytest.raises(RuntimeError, match="Check the part first"):
            call()
    with pytest.raises(RuntimeError, match="Find hanging positions first"):
        bpy.ops.platewright.take_way_up()


def test_bad_settings_refuse_with_the_job_s_sentence_and_change_nothing(add):
    add(box())
    settings.of(bpy.context.scene).bath.window = (5, 4)
    with pytest.raises(InputError) as fault:
        settings.job_of(bpy.context.scene)
    with pytest.raises(RuntimeError) as refused:
        bpy.ops.platewright.measure()
    assert language.localized(str(fault.value)) in str(refused.value) and "Plating Range" in str(refused.value)
    assert session.find(bpy.context) is None
    assert not settings.of(bpy.context.scene).objects


def test_a_mesh_without_faces_is_refused_by_name(add):
    add((np.zeros((1, 3)), np.zeros((0, 3), dtype=int)), "Speck")
    with pytest.raises(RuntimeError, match="Speck"):
        bpy.ops.platewright.measure()


def test_settings_make_stale_what_reads_them_and_nothing_else(add):
    add(BELL)
    bpy.ops.platewright.measure()
    assert not kept().stale(bpy.context.scene)
    settings.of(bpy.context.scene).supply.current = 1.0
    assert kept().stale(bpy.context.scene) == {"deposit"}
    settings.of(bpy.context.scene).supply.current = 5.0
    assert not kept().stale(bpy.context.scene)


def test_another_shape_makes_all_stale_and_the_old_one_makes_it_fresh_again(add):
    part = add(BELL)
    bpy.ops.platewright.measure()
    before = part.data.vertices[0].co.copy()
    part.data.vertices[0].co.z += 0.001
    part.data.update()
    updated()
    assert kept().stale(bpy.context.scene) == set(kept().study.results.names)
    part.data.vertices[0].co = before
    part.data.update()
    updated()
    assert not kept().stale(bpy.context.scene)


def test_carrying_the_part_about_changes_nothing_but_turning_it_does(add):
    part = add(BELL)
    bpy.ops.platewright.measure()
    part.location = (0.3, -0.2, 0.1)
    updated()
    assert not kept().moved
    part.rotation_euler.x = 1.0
    updated()
    assert kept().moved


def test_a_copy_is_not_taken_for_its_original(add):
    """A duplicate has its original's name but for a number, and its data; it is another part all the same."""
    part = add(BELL)
    bpy.ops.platewright.measure()
    part.select_set(False)
    copy = part.copy()
    bpy.context.scene.collection.objects.link(copy)
    copy.select_set(True)
    bpy.ops.platewright.choose()
    assert session.find(bpy.context) is None


def test_only_what_changed_is_computed_again(add):
    add(BELL)
    bpy.ops.platewright.measure()
    gas = kept().study.results.gas
    settings.of(bpy.context.scene).target.thickness = 12
    bpy.ops.platewright.measure()
    assert kept().study.results.gas is gas
    assert kept().study.results.deposit.thickness == pytest.approx(12e-6)


def test_one_question_leaves_the_other_answers(add):
    add(BELL)
    bpy.ops.platewright.measure()
    bpy.ops.platewright.study(only="openness")
    assert {"deposit", "gas", "openness"} <= set(kept().study.results.names)
    assert not kept().stale(bpy.context.scene)


def test_all_is_forgotten_when_another_file_is_loaded(add):
    add(BELL)
    bpy.ops.platewright.measure()
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    add(BELL)
    assert session.find(bpy.context) is None


def test_jump_selects_the_faces_of_the_pocket(add):
    part = add(BELL)
    bpy.ops.platewright.measure()
    bpy.ops.platewright.jump(kind="POCKET", number=0)
    chosen = np.array([polygon.select for polygon in part.data.polygons])
    assert set(np.flatnonzero(chosen)) == set(kept().study.results.gas.pockets[0].faces)
    with pytest.raises(RuntimeError, match="this place is gone"):
        bpy.ops.platewright.jump(kind="POCKET", number=9)


def test_jump_finds_an_open_edge(add):
    points, faces = box(cells=(2, 2, 2))
    part = add((points / 100, faces[1:]), "Open box")
    bpy.ops.platewright.measure()
    kinds = [fault.code.value for fault in kept().study.surface.faults]
    bpy.ops.platewright.jump(kind="FAULT", number=kinds.index("mesh-open"))
    assert any(polygon.select for polygon in part.data.polygons)


@pytest.mark.slow
def test_a_way_up_is_taken_over_and_measured(add):
    """Held with its mouth up, the bell traps nothing."""
    add(BELL)
    settings.of(bpy.context.scene).effort.directions = 60
    bpy.ops.platewright.measure()
    assert kept().study.results.gas.trapped_volume > 0.9 * HOLDS
    bpy.ops.platewright.study(only="hanging")
    bpy.ops.platewright.take_way_up(number=0)
    assert "gas" not in kept().stale(bpy.context.scene)
    assert kept().study.results.gas.trapped_volume < 0.1 * HOLDS


@pytest.mark.slow
def test_the_plan_is_a_text_and_the_same_one_again(add):
    add(BELL, "Bell")
    bpy.ops.platewright.measure()
    for _ in range(2):
        bpy.ops.platewright.plan()
    assert [text.name for text in bpy.data.texts] == ["Plating plan, Bell"]
    assert "Bell" in bpy.data.texts[0].as_string()


@pytest.mark.slow
def test_the_workshop_sheet_is_saved_where_it_is_asked_for_and_nowhere_else(add, tmp_path):
    """The same sheet as the command line writes; a name that cannot be written is one line, and nothing is left."""
    add(BELL, "Bell")
    bpy.ops.platewright.measure()
    bpy.ops.platewright.workshop(filepath=str(tmp_path / "sheet"))
    text = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert text == workshop.write(kept().study)
    with pytest.raises(RuntimeError, match="workshop"):
        bpy.ops.platewright.workshop(filepath=str(tmp_path / "none" / "sheet.html"))
    assert [one.name for one in tmp_path.iterdir()] == ["sheet.html"]


@pytest.mark.slow
def test_the_client_s_sheet_is_written_by_the_ending_of_its_name(add, tmp_path):
    """Blender's own letters; nothing is left in the scene; another ending is refused in one line."""
    add(BELL, "Bell")
    settings.of(bpy.context.scene).effort.panels = 600
    bpy.ops.platewright.study(only="field")
    before = [len(one) for one in (bpy.data.objects, bpy.data.curves, bpy.data.scenes, bpy.data.meshes)]
    pages, page = [], client.page
    with pytest.MonkeyPatch.context() as patch:  # the same page in three formats: it is set once
        patch.setattr(notes, "MAIN_VIEW_PIXELS", 300)
        patch.setattr(client, "page", lambda *given: pages[0] if pages else pages.append(page(*given)) or pages[0])
        for ending, start in ((".pdf", b"%PDF-"), (".svg", b"<svg"), (".png", b"\x89PNG")):
            bpy.ops.platewright.sheet(filepath=str(tmp_path / f"sheet{ending}"), form="square", theme="dark")
            assert (tmp_path / f"sheet{ending}").read_bytes().startswith(start)
    with pytest.raises(RuntimeError, match="must end in"):
        bpy.ops.platewright.sheet(filepath=str(tmp_path / "sheet.gif"))
    assert [len(one) for one in (bpy.data.objects, bpy.data.curves, bpy.data.scenes, bpy.data.meshes)] == before
    assert len(list(tmp_path.iterdir())) == 3


def test_undo_after_show_takes_back_the_edit_before_it_and_not_the_looking(add):
    """Background mode keeps no undo until a first step is pushed; then an operator called with undo adds one."""
    part = add(BELL)
    bpy.ops.platewright.measure()
    bpy.ops.ed.undo_push(message="measured")
    part.location.x = 0.5
    bpy.ops.ed.undo_push(message="moved")
    name = part.name
    bpy.ops.platewright.show("EXEC_DEFAULT", True, map_name="gas")
    bpy.ops.ed.undo()
    assert bpy.context.scene.objects[name].location.x == 0
    assert viewing.of(bpy.context).shown == "gas"
    assert not kept().stale(bpy.context.scene)
    bpy.ops.ed.redo()
    assert bpy.context.scene.objects[name].location.x == 0.5
    assert viewing.of(bpy.context).shown == "gas"


@pytest.mark.slow
def test_a_quick_look_is_told_from_the_full_map(add):
    add(BELL)
    settings.of(bpy.context.scene).effort.panels = 2500
    bpy.ops.platewright.study(only="field", quick=True)
    assert kept().quick(bpy.context.scene)
    assert not kept().stale(bpy.context.scene)
    settings.of(bpy.context.scene).target.density = 1.0
    assert not kept().quick(bpy.context.scene)
    assert "field" in kept().stale(bpy.context.scene)


def test_another_unit_of_the_scene_makes_all_stale(add):
    add(BELL)
    bpy.ops.platewright.measure()
    area = kept().study.surface.plated_area.sum()
    bpy.context.scene.unit_settings.scale_length = 0.001
    assert kept().stale(bpy.context.scene) == set(kept().study.results.names)
    bpy.ops.platewright.measure()
    assert kept().study.surface.plated_area.sum() == pytest.approx(1e-6 * area)


def test_a_curve_that_is_edited_is_stale():
    bpy.ops.curve.primitive_bezier_circle_add(radius=0.02)
    curve = bpy.context.active_object
    curve.data.bevel_depth = 0.004
    bpy.ops.platewright.measure()
    assert not kept().stale(bpy.context.scene)
    curve.data.bevel_depth = 0.005
    updated()
    assert kept().moved


def test_an_instance_is_stale_when_its_original_is_edited(instanced):
    original = instanced(BELL)
    bpy.ops.platewright.measure()
    updated()
    assert not kept().moved
    original.data.vertices[0].co.z += 0.001
    original.data.update()
    updated()
    assert kept().moved


def test_the_study_knows_how_far_the_part_was_carried(add):
    part = add(BELL)
    part.location.x = 0.5
    bpy.ops.platewright.measure()
    assert session.shift(bpy.context) == pytest.approx([0, 0, 0])
    part.location.x = 0.75
    updated()
    bpy.ops.platewright.measure()
    assert session.shift(bpy.context) == pytest.approx([0.25, 0, 0])


def test_an_object_that_is_hidden_is_no_part_of_the_part(add):
    """Two cubes of 1 cm: 12 cm2, half of it once one is hidden, which makes the results stale."""
    one, other = add(box((0.01, 0.01, 0.01))), add(moved(box((0.01, 0.01, 0.01)), (0.05, 0.0, 0.0)))
    for hidden, area in ((False, 12e-4), (True, 6e-4), (False, 12e-4)):
        other.hide_set(hidden)
        kept = session.find(bpy.context)
        assert kept is None or kept.stale(bpy.context.scene)
        bpy.ops.platewright.measure()
        found = session.find(bpy.context)
        assert found.study.surface.plated_area.sum() == pytest.approx(area, rel=1e-5)
        assert not found.stale(bpy.context.scene)
    assert one.visible_get()


def test_a_second_object_scaled_to_nothing_does_not_upset_what_is_drawn(add):
    add(box((0.01, 0.01, 0.01)))
    add(moved(box((0.01, 0.01, 0.01)), (0.05, 0.0, 0.0))).scale = (1.0, 1.0, 0.0)
    bpy.context.view_layer.update()
    bpy.ops.platewright.measure()
    np.testing.assert_allclose(session.moves(bpy.context), np.eye(4)[None], atol=1e-6)


def test_every_analysis_has_a_name_on_the_screen():
    """What is out of date is named: an analysis without a name broke the panel that draws the list."""
    from addon.suite.figures import TITLES

    assert set(TITLES) == set(studies.NAMES)


class Refusing:
    """Blender, but that it does not render: as a build without a denoiser where the scene asks for one."""

    def __getattr__(self, name):
        return self if name in ("ops", "render") else getattr(bpy, name)

    def __call__(self, **_):
        raise RuntimeError("Error: no denoiser\nLocation: ops.py:107")


@pytest.mark.slow
def test_an_annotated_still_is_the_user_s_own_picture_and_leaves_his_scene_alone(add, tmp_path, monkeypatch):
    """Cycles on the processor: upper pixels off the marks are those of his own render; settings and data stay."""
    add(BELL, "Bell")
    scene = bpy.context.scene
    settings.of(scene).effort.panels = 600
    bpy.ops.platewright.study(only="field")
    with pytest.raises(RuntimeError, match="Add a camera|poll"):
        bpy.ops.platewright.still(filepath=str(tmp_path / "still.png"))
    camera = bpy.data.objects.new("Camera", bpy.data.cameras.new("Camera"))
    scene.collection.objects.link(camera)
    scene.camera, camera.location, camera.rotation_euler.x = camera, (0.0, -0.12, 0.01), np.pi / 2
    camera.data.clip_start = 0.001
    scene.world = bpy.data.worlds.new("World")
    scene.render.engine, scene.cycles.samples, scene.cycles.use_denoising = "CYCLES", 1, False
    scene.render.resolution_x, scene.render.resolution_y, scene.render.filepath = 120, 90, "//own-"
    scene.render.image_settings.file_format, scene.render.use_border = "JPEG", True
    before = [len(one) for one in (bpy.data.objects, bpy.data.scenes, bpy.data.meshes, bpy.data.materials)]
    bpy.ops.platewright.still(filepath=str(tmp_path / "still.png"))
    assert [len(one) for one in (bpy.data.objects, bpy.data.scenes, bpy.data.meshes, bpy.data.materials)] == before
    assert (scene.render.image_settings.file_format, scene.render.use_border) == ("JPEG", True)
    assert scene.render.filepath == "//own-"
    scene.render.image_settings.file_format, scene.render.use_border = "PNG", False
    scene.render.filepath = str(tmp_path / "own.png")
    bpy.ops.render.render(write_still=True)
    own, still = (np.asarray(Image.open(tmp_path / f"{name}.png").convert("RGB")) for name in ("own", "still"))
    assert still.shape[0] > 95 and still.shape[1] == 120  # the sentences stand below
    assert (still[:90] == own).all(axis=2).mean() > 0.7 and (still[92:] == 255).all(axis=2).any()
    camera.rotation_euler.x = -np.pi / 2
    with pytest.raises(RuntimeError, match="does not see the part"):
        bpy.ops.platewright.still(filepath=str(tmp_path / "other.png"))
    camera.rotation_euler.x = np.pi / 2
    monkeypatch.setattr(draw_still, "bpy", Refusing())
    with pytest.raises(RuntimeError, match="cannot render this scene: no denoiser; see") as told:
        bpy.ops.platewright.still(filepath=str(tmp_path / "other.png"))
    assert "Traceback" not in str(told.value) and not (tmp_path / "other.png").exists()


def test_every_operator_brings_what_its_base_asks_for():
    """Blender's classes have a metaclass of their own, beside which `abc.ABC` cannot stand: so it is asked here."""
    for cls in operators.CLASSES:
        asked = {name for name in dir(cls) if getattr(getattr(cls, name, None), "__isabstractmethod__", False)}
        assert not asked, cls.__name__
