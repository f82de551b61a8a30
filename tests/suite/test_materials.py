"""The materials: rendered by Cycles in white light from all sides, where every surface is as bright as its own color."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from PIL import Image

from addon.engine import color
from addon.engine.sheet import finish
from addon.suite import command
from addon.suite.draw import materials

pytestmark = pytest.mark.usefixtures("platewright")

SIDE = 8  # pixels a face


@pytest.fixture
def faces(tmp_path):
    """A row of five squares that a parallel camera fills its picture with: colors of their middles with a material."""
    scene = bpy.context.scene
    mesh = bpy.data.meshes.new("Row")
    points = [(x, y, 0.0) for x in range(6) for y in (0, 1)]
    mesh.from_pydata(points, [], [(2 * k, 2 * k + 2, 2 * k + 3, 2 * k + 1) for k in range(5)])
    part = bpy.data.objects.new("Row", mesh)
    camera = bpy.data.objects.new("Camera", bpy.data.cameras.new("Camera"))
    scene.collection.objects.link(part)
    scene.collection.objects.link(camera)
    camera.data.type, camera.data.ortho_scale, camera.location = "ORTHO", 5.0, (2.5, 0.5, 3.0)
    scene.camera, scene.world = camera, bpy.data.worlds.new("White")
    scene.world.color = (1.0, 1.0, 1.0)
    if bpy.app.version < (5, 0, 0):
        scene.world.use_nodes = True
    background = next(node for node in scene.world.node_tree.nodes if node.type == "BACKGROUND")
    background.inputs["Color"].default_value = (1.0, 1.0, 1.0, 1.0)
    scene.render.engine, scene.cycles.samples, scene.cycles.use_denoising = "CYCLES", 64, False
    scene.render.resolution_x, scene.render.resolution_y = 5 * SIDE, SIDE
    scene.view_settings.view_transform = "Standard"
    scene.render.filepath = str(tmp_path / "row.png")

    def rendered(material: str, **attributes) -> np.ndarray:
        for name, values in attributes.items():
            own = mesh.attributes.get(f"platewright_{name}") or mesh.attributes.new(
                f"platewright_{name}", "FLOAT", "FACE"
            )
            own.data.foreach_set("value", np.array(values, dtype=np.float32))
        mesh.materials.clear()
        mesh.materials.append(bpy.data.materials[material])
        bpy.ops.render.render(write_still=True)
        shown = np.asarray(Image.open(scene.render.filepath).convert("RGB")) / 255.0
        return shown.reshape(SIDE, 5, SIDE, 3)[2:-2, :, 2:-2].mean(axis=(0, 2))

    return rendered


def test_materials_show_what_the_attributes_say(faces):
    """The thickness in the map's own colors; metal, coat, burnt and plastic by their places; patina by the open share."""
    nan = float("nan")
    materials.add("copper", "silver paint", 10.0, 50.0)
    found = faces("Platewright Thickness", thickness=[10.0, 20.0, 37.0, 90.0, nan])
    wanted = color.encoded(color.ramp([0.0, 0.25, 0.675, 1.0, nan]))
    assert found == pytest.approx(wanted, abs=2 / 255)
    found = faces("Platewright Copper Satin", window=[0.0, 1.0, 2.0, 3.0, nan])
    copper = finish.metal_color("copper")
    assert found[0] == pytest.approx(finish.coat_color("silver paint"), abs=0.06)
    assert found[1] == pytest.approx(copper, abs=0.06) and found[2] == pytest.approx(copper, abs=0.06)
    assert found[3].max() < 0.3 and found[4] == pytest.approx(finish.PLASTIC, abs=0.06)
    found = faces("Platewright Copper Patina", window=[2.0] * 5, openness=[0.0, 100.0, 50.0, nan, 75.0])
    assert found[0] == pytest.approx(finish.patina_color("copper"), abs=0.06)
    assert found[1] == pytest.approx(copper, abs=0.06) and found[2] == pytest.approx(found[3], abs=0.01)
    assert (found[2] < found[4]).all() and (found[4] < found[1]).all()


def test_the_button_marks_assets_once_and_names_every_input():
    """Pressed twice it adds nothing; all of them are assets with a description, each input with its own."""
    for _ in range(2):
        assert bpy.ops.platewright.materials() == {"FINISHED"}
    groups = {group.name: group for group in bpy.data.node_groups}
    assert set(groups) == {materials.RAMP, materials.PATINA, materials.METAL}
    assert {one.name for one in bpy.data.materials} == {
        "Platewright Thickness",
        *(f"Platewright Copper {finish}" for finish in ("Bright", "Satin", "Patina")),
    }
    assert all(one.asset_data.description for one in (*groups.values(), *bpy.data.materials))
    for group in groups.values():
        assert all(item.description for item in group.interface.items_tree if item.in_out == "INPUT")


def test_the_command_line_writes_an_asset_library(tmp_path):
    """Read again by Blender: the groups once, three finishes of each metal and the map, all of them assets."""
    path = tmp_path / "library.blend"
    assert command.main(["assets", "--blend", str(path)]) == 0
    with bpy.data.libraries.load(str(path), assets_only=True) as (found, _):
        assert set(found.node_groups) == {materials.RAMP, materials.PATINA, materials.METAL}
        assert len(found.materials) == 3 * len(finish.METALS) + 1
    assert command.main(["assets", "--blend", str(tmp_path / "library.png")]) == 2
    assert [one.name for one in tmp_path.iterdir()] == ["library.blend"]


def test_what_is_in_the_file_already_follows_a_new_calculation():
    """Pressed after another study: the ramp's range and the coat's color are of that one, what was changed by hand stays."""
    first = materials.add("copper", "silver paint", 10.0, 50.0)
    plated = bpy.data.materials["Platewright Copper Bright"].node_tree
    metal = next(node for node in plated.nodes if node.type == "GROUP")
    metal.inputs["Roughness"].default_value = 0.77
    assert materials.add("copper", "graphite paint", 5.0, 30.0) == first
    ramp = next(node for node in bpy.data.materials["Platewright Thickness"].node_tree.nodes if node.type == "GROUP")
    assert (ramp.inputs["Low"].default_value, ramp.inputs["High"].default_value) == (5.0, 30.0)
    coat = color.decoded(finish.coat_color("graphite paint"))
    assert tuple(metal.inputs["Coat Color"].default_value)[:3] == pytest.approx(tuple(coat))
    assert metal.inputs["Roughness"].default_value == pytest.approx(0.77)
