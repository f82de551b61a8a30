"""Every panel, map and button in the real window, with the finial: no traceback, and all as it was in the end.

Every operator that the extension registers is pressed; a new one that is not fails the walk. Run by `make window`;
pictures go to build/window.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import bpy
import numpy as np

from hand import PACKAGE, PICTURES, Hand, busy, coarse, emptied, engine, imported, kept, pixels, room, until

sidebar_tab, maximise_viewport, xdotool, viewport = (
    globals()[name] for name in ("sidebar_tab", "maximise_viewport", "xdotool", "viewport")
)
hand = Hand(globals())
pressed: set[str] = set()


def operators() -> set[str]:
    """The names of all operators that the extension has registered."""
    found = {cls.bl_idname for cls in bpy.types.Operator.__subclasses__() if cls.__module__.startswith(PACKAGE)}
    return {name.removeprefix("platewright.") for name in found}


def fold(closed: bool) -> None:
    """Open what is closed by default, so that it is drawn as well, or close it again.

    The window knows a panel that it has shown by its name, so that an open one needs another name; and so do those
    that are part of it.
    """
    ending, found = "_open", sys.modules[f"{PACKAGE}.suite.panels"].CLASSES
    panels = [cls for cls in found if getattr(cls, "bl_category", "") == "Platewright"]
    for cls in reversed(panels):
        bpy.utils.unregister_class(cls)
    for cls in panels:
        cls.bl_idname = cls.__name__ if closed else cls.__name__ + ending
        if hasattr(cls, "bl_parent_id"):
            parent = cls.bl_parent_id.removesuffix(ending)
            cls.bl_parent_id = parent if closed else parent + ending
        options = {"HIDE_HEADER"} & set(getattr(cls, "bl_options", set()))
        cls.bl_options = options or ({"DEFAULT_CLOSED"} if closed else set())
        bpy.utils.register_class(cls)


def part() -> bpy.types.Object:
    """The demo part, in a scene in millimeters."""
    emptied()
    bpy.context.scene.unit_settings.scale_length = 0.001
    made = imported(1.0)
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_selected()
        bpy.context.space_data.clip_end = 10_000
    return made


def call(operator: str, how: str = "INVOKE_DEFAULT", **options: object) -> set[str]:
    """Run one of our operators as its button does, and note that it was pressed."""
    pressed.add(operator)
    return hand.call(operator, how, **options)


def done(operator: str, how: str = "INVOKE_DEFAULT", **options: object) -> Iterator[float]:
    """Run one and see it to its end."""
    pressed.add(operator)
    yield from hand.press(operator, how, **options)


def middle() -> tuple[int, int]:
    """A place of the window where the part is, looked at whole."""
    area = viewport()["region"]
    return area.x + area.width // 2, bpy.context.window.height - area.y - area.height // 2


def shading() -> dict[str, object]:
    found = viewport()["area"].spaces.active.shading
    return {name: getattr(found, name) for name in ("type", "light", "color_type", "show_shadows", "show_cavity")}


def look_at_all() -> None:
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_all()


def computed() -> Iterator[float]:
    """Measure, cancel what takes long with Esc, compute everything."""
    yield from done("measure")
    assert kept().study.surface.closed
    assert call("study", only="hanging") == {"RUNNING_MODAL"}
    yield 0.3
    xdotool("mousemove", *middle())
    xdotool("key", "Escape")
    yield from until(lambda: not busy(), "Esc does not cancel")
    assert kept().study.results.hanging is None
    coarse(500)
    yield from done("study", only="")
    hand.picture("measured")
    print("seconds:", {name: round(time, 2) for name, time in kept().study.timings.items()})
    print("reasons:", dict(kept().study.reasons))


def shown(before: dict[str, object]) -> Iterator[float]:
    """Every map; undo takes back the user's own edit and leaves the looking alone; the shading is the user's all along."""
    maps, overlay, viewing = room("draw.maps"), room("draw.overlay"), bpy.context.window_manager.platewright
    for name in maps.available(kept().study):
        yield from done("show", map_name=name)
        assert shading() == before, f"the shading was {before} and is {shading()}"
        assert not kept().stale(bpy.context.scene), "colors make the study stale"
        hand.picture(f"map_{name}")
    yield from done("show", map_name="gas")
    hand.picture("map_gas")
    wetted = maps.color.encoded(maps.color.ramp([1.0]))[0]
    x, y = bpy.context.window.width * 2 // 5, bpy.context.window.height * 3 // 5
    found = pixels(PICTURES / "map_gas.png")[-1 - y, x]
    assert np.abs(found - wetted).max() < 0.15, f"a wetted face is {found}, its place in the legend {wetted}"
    viewing.bodies = True
    yield 0.3
    hand.picture("map_gas_inside")
    viewing.bodies = False
    yield from undone()
    yield from done("normal")
    assert not room("session").session.state(overlay.Overlays).shown


def undone() -> Iterator[float]:
    """G, X, 30 moves the part; then Show, then Ctrl Z with real keys: the move is gone, the map is not."""
    name = bpy.context.active_object.name
    xdotool("mousemove", *middle())
    yield 0.3
    for key in ("g", "x", "3", "0", "Return"):
        xdotool("key", key)
        yield 0.1
    yield from until(lambda: bpy.context.scene.objects[name].location.x > 29, "the keys do not move the part")
    yield from done("show", map_name="held")
    xdotool("mousemove", *middle())
    yield 0.3
    xdotool("key", "ctrl+z")
    yield from until(lambda: bpy.context.scene.objects[name].location.x < 1, "Ctrl Z does not take the move back")
    assert bpy.context.window_manager.platewright.shown == "held", "Ctrl Z takes the looking back"
    yield 0.3
    hand.picture("undone")


def turned(name: str) -> Iterator[float]:
    """Follow a turn by hand: R and the mouse; Esc takes back the turn, and the next Esc ends the following."""
    live, o = room("preview.live").LivePreview, bpy.context.scene.objects[name]
    following = room("session").session.state(live)
    bpy.ops.object.select_all(action="DESELECT")
    o.select_set(True)
    bpy.context.view_layer.objects.active = o
    with bpy.context.temp_override(**viewport()):
        bpy.ops.view3d.view_axis(type="FRONT")
        bpy.ops.view3d.view_selected()
    bpy.context.window_manager.platewright.bodies = True
    yield from done("follow")
    yield from until(lambda: bool(following.words), "nothing is said of the gas")
    before, (x, y) = following.words, middle()
    xdotool("mousemove", x + 200, y + 200)
    yield 0.3
    xdotool("key", "r")
    for step in range(1, 5):  # below the part from right to left, wherever exactly it is seen: 60 degrees and more
        yield 0.2
        xdotool("mousemove", x + 200 - 100 * step, y + 200)
    yield from until(lambda: following.words != before, "the gas does not follow while the mouse turns the part")
    assert [one.bl_idname for one in bpy.context.window.modal_operators] == ["TRANSFORM_OT_rotate"]
    hand.picture("follow")
    xdotool("key", "Escape")
    yield from until(lambda: following.words == before, "Esc takes back the turn, and the gas does not follow")
    assert following.on
    xdotool("key", "Escape")
    yield from until(lambda: not following.on, "Esc does not end the following")
    pressed.add("follow_end")
    bpy.context.window_manager.platewright.bodies = False
    yield from done("follow")
    bpy.context.scene.objects[name].rotation_euler.y += 0.5
    yield from until(lambda: following.words != before, "the gas does not follow a turn by a script")
    yield from done("follow")
    assert not following.on
    assert not kept().moved, "ended by its button, and not measured"
    yield from done("normal")


def hung() -> Iterator[float]:
    """The ways up on the copy, turned by hand and taken over, and the part itself turned."""
    preview_copy = room("preview.preview_copy")
    yield from done("preview", number=-1)
    look_at_all()
    yield from done("preview", number=0)
    hand.picture("preview")
    yield from done("follow")
    copy, look = preview_copy.current(bpy.context)
    before = look.up
    copy.rotation_euler.x += 0.6
    yield from until(lambda: look.up is not before, "the copy's gas does not follow")
    yield 0.3
    hand.picture("preview_turned")
    yield from done("follow")
    yield from done("preview_end")
    yield from browsed(preview_copy)
    yield from done("preview", number=1)
    yield from done("take_way_up", number=1)
    assert not preview_copy.shown(bpy.context.scene)
    yield from done("turn_part")
    assert not kept().moved
    yield from done("up_from_view")
    bpy.context.scene.platewright.part.up = (0.0, 0.0, 1.0)
    yield from done("measure")


def browsed(preview_copy: object) -> Iterator[float]:
    """The arrow keys and the wheel step through the positions; Esc takes the copy away again."""
    scene, many = bpy.context.scene, len(bpy.data.objects)
    assert call("scrub") == {"RUNNING_MODAL"}
    xdotool("mousemove", *middle())
    yield 0.3
    for key, number in (("Right", 2), ("Right", 3), ("Left", 2)):
        xdotool("key", key)
        yield from until(lambda wanted=number: preview_copy.shown(scene) == wanted, f"{key} does not step to {number}")
    hand.picture("browse")
    xdotool("key", "Escape")
    yield from until(lambda: not preview_copy.shown(scene), "Esc does not take the copy away")
    assert len(bpy.data.objects) == many


def wired(name: str) -> Iterator[float]:
    """Tank, wires and probe, with the mouse."""
    yield from done("tank")
    hand.picture("tank")
    with bpy.context.temp_override(**viewport()):
        bpy.ops.object.select_all(action="DESELECT")
        bpy.context.scene.objects[name].select_set(True)
        bpy.ops.view3d.view_selected()
    yield from done("from_table", section="coat")
    if "contacts" in kept().stale(bpy.context.scene):  # the coat, or the bath, is another than when they were found
        yield from done("study", only="contacts")
    yield from done("suggest_wires", number=2)
    wires = [o for o in bpy.context.scene.objects if o.platewright.role == "WIRE"]
    assert len(wires) == 2
    xdotool("mousemove", *middle())
    yield from done("place_wire")
    xdotool("mousemove_relative", 4, 4)
    yield 0.4
    hand.picture("wire")
    xdotool("click", 1)
    many = len(wires) + 1
    yield from until(
        lambda: len([o for o in bpy.context.scene.objects if o.platewright.role == "WIRE"]) == many, "no wire is placed"
    )
    yield from done("show", map_name="thickness")
    yield from done("probe")
    xdotool("mousemove_relative", 6, 6)
    yield 0.4
    hand.picture("probe")
    xdotool("click", 1)
    xdotool("key", "Escape")
    yield from until(lambda: not bpy.context.window.modal_operators, "Esc does not end the probe")
    yield from done("normal")


def compared() -> Iterator[float]:
    """Copies on a rack, a cut through the tank, other layouts, and what is measured at the bench."""
    yield from done("cut")
    hand.picture("cut")
    yield from done("normal")
    yield from done("rack", count=2)
    hand.picture("rack")
    yield from done("rack", count=1)
    yield from done("study", only="layouts")
    yield from done("take_layout", number=0)
    yield from done("take_target", thickness=30.0, density=2.0)
    readings = {"currents": (0.5, 1.0, 0.0, 0.0), "voltages": (0.4, 0.75, 0.0, 0.0)}
    yield from done("conductivity", "EXEC_DEFAULT", area=25.0, gap=30.0, **readings)
    yield from done("sheet_resistance", "EXEC_DEFAULT", reading=5.0)


def judged() -> Iterator[float]:
    """The whole check, what it says to change, and what is kept of it; view and settings as they were in the end."""
    space, chosen = viewport()["area"].spaces.active, bpy.context.scene.platewright
    seen = space.region_3d.view_location.copy(), space.region_3d.view_rotation.copy(), space.region_3d.view_distance
    yield from done("check")
    hand.picture("verdict")
    whole = bpy.context.active_object
    yield from done("cut_holes")
    bpy.data.objects.remove(bpy.context.active_object)
    bpy.context.view_layer.objects.active = whole
    whole.select_set(True)
    yield from done("show_finding", number=0)
    fixes = room("judged").judgment(kept().study).fixes
    yield from done("fix", number=next(number for number, one in enumerate(fixes) if one is not None))
    yield from done("keep_state", name="fixed")
    yield from done("drop_state", number=0)
    yield from done("size_is_right")
    chosen.size_is_right, chosen.part.up, chosen.place.turn = False, (0.0, 0.0, 1.0), 0.0
    yield from done("measure")
    yield from done("anode")
    bpy.data.objects.remove(next(o for o in bpy.context.scene.objects if o.platewright.role == "ANODE"))
    yield from done("use_workshop")
    yield from done("study", only="")
    yield from done("normal")
    space.region_3d.view_location, space.region_3d.view_rotation, space.region_3d.view_distance = seen
    yield 0.3


def made_for_it() -> Iterator[float]:
    """What can be printed is made and taken away; the print direction is set, where another one is better, and set back.

    Shields and a thief that even nothing out are refused, which is an end as well.
    """
    part = bpy.context.scene.platewright.objects[0].object
    before, up = set(bpy.data.objects), tuple(bpy.context.scene.platewright.print.up)
    bpy.context.scene.platewright.rack.suggest = 2
    tank = ("make_rack_holder", "make_anode_holders", "make_shields", "make_thief")
    for operator in ("make_hanger", "check_helpers", "make_plugs", *tank):
        yield from done(operator)
        for made in set(bpy.data.objects) - before:
            bpy.data.objects.remove(made)
        bpy.context.view_layer.objects.active = part
        part.select_set(True)
    bpy.context.scene.platewright.rack.suggest = 0
    with bpy.context.temp_override(**viewport()):
        better = bpy.ops.platewright.use_print_direction.poll()
    if better:
        yield from done("use_print_direction")
    pressed.add("use_print_direction")
    bpy.context.scene.platewright.print.up = up


def masked(part: bpy.types.Object) -> Iterator[float]:
    """The hole that takes a plug is to stay bare instead: its mask is made and taken away."""
    plug, rays = engine("helpers.plug"), engine("mesh.few_rays")
    study = kept().study
    faces = plug.find(study.surface, rays.FewRays(study.surface), study.job, None).faces
    assert len(part.data.polygons) == len(faces)
    attribute = part.data.attributes.new("plating_mask", "BOOLEAN", "FACE")
    attribute.data.foreach_set("value", faces)
    part.data.update()
    yield from done("make_masks")
    made = next(o for o in bpy.data.objects if o.get("platewright_masks"))
    assert made.data.polygons
    yield 0.5
    hand.picture("masks")
    bpy.data.objects.remove(made)
    part.data.attributes.remove(part.data.attributes["plating_mask"])


def written() -> Iterator[float]:
    yield from done("jump", kind="POCKET" if kept().study.results.gas.pockets else "CONTACT", number=0)
    yield from done("plan")
    assert len(bpy.data.texts[-1].as_string()) > 1000
    yield from done("workshop", "EXEC_DEFAULT", filepath=str(PICTURES / "workshop.html"))
    yield from done("sheet", "EXEC_DEFAULT", filepath=str(PICTURES / "sheet.pdf"))
    yield from done("picture", "EXEC_DEFAULT", filepath=str(PICTURES / "client.png"))
    yield from done("materials")
    yield from still()
    yield from done("inset")
    bpy.data.objects.remove(bpy.context.active_object)
    yield from made_for_it()
    yield from done("from_table", section="bath")
    pressed.update({"help", *(f"{name}_preset_add" for name in ("bath", "coat", "tank", "supply"))})  # leave the window
    yield from done("quality", level="FINE")
    assert bpy.context.scene.platewright.effort.panels > 12000
    bpy.context.scene.platewright.effort.panels = 500
    yield from done("mark_holes")
    yield from done("store")


def still() -> Iterator[float]:
    """The annotated still, small and of one sample, by a camera that looks down at the part."""
    scene = bpy.context.scene
    data = bpy.data.cameras.new("Above")
    data.clip_end = 10_000
    camera = bpy.data.objects.new("Above", data)
    camera.location.z = 300.0
    scene.collection.objects.link(camera)
    scene.camera, scene.render.engine, scene.cycles.samples = camera, "CYCLES", 1
    scene.cycles.use_denoising = False  # not every build can
    scene.render.resolution_x, scene.render.resolution_y = 320, 240
    yield from done("still", "EXEC_DEFAULT", filepath=str(PICTURES / "still.png"))
    assert (PICTURES / "still.png").stat().st_size > 10_000
    bpy.data.objects.remove(camera)


def steps() -> Iterator[float | None]:
    fold(closed=False)
    finial = part()
    name = finial.name
    yield 0.3
    sidebar_tab("Platewright")
    maximise_viewport()
    yield 0.5
    hand.picture("start")
    before = shading()
    yield from done("choose")
    yield from computed()
    yield from judged()
    yield from shown(before)
    yield from written()
    yield from wired(name)
    yield from compared()
    yield from hung()
    yield from turned(name)
    yield from masked(bpy.context.scene.objects[name])
    for turn in range(3):
        xdotool("mousemove", bpy.context.window.width - 150, 500)
        for _ in range(12):
            xdotool("click", 5)
        yield 0.6
        hand.picture(f"lower_{turn + 1}")
    yield from done("remove")
    fold(closed=True)
    finial = bpy.context.scene.objects[name]
    assert not [a.name for a in finial.data.attributes if a.name.startswith("platewright")]
    assert shading() == before, f"the shading was {before} and is {shading()}"
    assert pressed == operators(), f"not pressed: {operators() - pressed}; not there: {pressed - operators()}"
