"""From Blender's objects to a `Part`: what the viewport shows, in meters, as one list of triangles.

The rules, one each:
- Modifiers count as the viewport shows them; a multiresolution sculpt counts at its viewport level.
- The object's and its parents' transforms are baked in; a mirrored object's winding is turned back.
- One unit of the scene is `scale_length` meters where the scene has a unit system, else one meter.
- Several objects make one part, in the order of their names; instances count where they stand.
- Curves, texts, surfaces and metaballs count as the mesh that Blender makes of them.
- In Edit mode the mesh counts as it stands there. A dynamic-topology sculpt must be left first.
- What has no surface, is hidden or is scaled to nothing is left out, and named with the reason.
- Masks are BOOLEAN attributes on FACE, read after the modifiers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.mesh.part import Part
from ...engine.mesh.skipped import Skipped, Why
from ...engine.reporting import skip_text
from ...engine.reporting.filled import filled, joined
from ...engine.settings.part import PartSection
from .. import versions

SURFACES = ("MESH", "CURVE", "SURFACE", "FONT", "META")
MASK, SHOW = PartSection.mask, PartSection.show


@dataclass(frozen=True, eq=False)
class Piece:
    """The run of the part's triangles that came from one object or one instance.

    object, session : name and session id of the selected object (an instance's: its instancer)
    start, stop : rows of the part
    polygons : (stop - start,) int32, polygon of the evaluated mesh that each triangle belongs to
    own : whether those are the polygons of the object's own mesh as well, so that they can be painted
    """

    object: str
    session: int
    start: int
    stop: int
    polygons: NDArray[np.int32]
    own: bool


@dataclass(frozen=True, eq=False)
class Capture:
    """A part, and where in the scene each of its triangles came from."""

    part: Part
    pieces: tuple[Piece, ...]


def selected(context: bpy.types.Context, mask: str = MASK, show: str = SHOW) -> Capture:
    """The selected objects as one part. Raises InputError where nothing among them has a surface."""
    active = context.active_object
    objects = list(context.selected_objects) or ([active] if active and active.mode != "OBJECT" else [])
    if not objects:
        raise InputError("nothing is selected; select the object or objects that make up the part")
    return of_objects(objects, context, meters_per_unit(context.scene), mask, show)


def meters_per_unit(scene: bpy.types.Scene) -> float:
    """What one unit of the scene means."""
    settings = scene.unit_settings
    return 1.0 if settings.system == "NONE" else settings.scale_length


def of_objects(
    objects: Iterable[bpy.types.Object],
    context: bpy.types.Context,
    meters: float,
    mask: str = MASK,
    show: str = SHOW,
    name: str = "",
) -> Capture:
    """These objects of the context's view layer as one part.

    meters : what one unit means; mask, show : names of face attributes; name : of the part, or the objects'
    """
    context.view_layer.update()
    objects = sorted(objects, key=lambda o: o.name_full)
    skipped = [reason for o in objects if (reason := _unusable(o, context)) is not None]
    usable = [o for o in objects if _unusable(o, context) is None]
    for o in usable:
        if o.mode != "OBJECT":
            o.update_from_editmode()
    depsgraph = context.evaluated_depsgraph_get()
    gathered = _Found(meters, mask, show)
    instancers = {i.parent.original for i in depsgraph.object_instances if i.is_instance and i.parent}
    for o in usable:
        if _shows_itself(o, instancers):
            gathered.add(o.evaluated_get(depsgraph), o.evaluated_get(depsgraph).matrix_world, o, instance=False)
    for instance in depsgraph.object_instances:
        if instance.is_instance and instance.parent and instance.parent.original in usable:
            gathered.add(instance.object, instance.matrix_world, instance.parent.original, instance=True)
    skipped += [blocked for o in usable if (blocked := _blocked(o)) is not None] + gathered.skipped(usable)
    if not gathered.pieces:
        raise InputError(
            joined(skip_text.texts(skipped), "; ")
            if skipped
            else filled("{name}: no faces", name=name or objects[0].name)
        )
    names = list(dict.fromkeys(piece.object for piece in gathered.pieces))
    label = name or (
        names[0] if len(names) == 1 else filled("{name} and {more} more", name=names[0], more=len(names) - 1)
    )
    return Capture(gathered.part(label, skipped), tuple(gathered.pieces))


def body(o: bpy.types.Object, depsgraph: bpy.types.Depsgraph, meters: float) -> Part:
    """The surface of one object that stands beside the part. Raises InputError where it has none."""
    gathered, evaluated = _Found(meters, "", ""), o.evaluated_get(depsgraph)
    gathered.add(evaluated, evaluated.matrix_world, o, instance=False)
    if not gathered.pieces:
        raise InputError(skip_text.text(_no_surface(o)))
    return gathered.part(o.name, [])


def _unusable(o: bpy.types.Object, context: bpy.types.Context) -> Skipped | None:
    """Why an object cannot belong to the part, or None."""
    if not o.visible_get(view_layer=context.view_layer):
        return Skipped(Why.HIDDEN, o.name)
    if o.mode == "SCULPT" and o.use_dynamic_topology_sculpting:
        return Skipped(Why.SCULPTED, o.name)
    if _flat(np.array(o.matrix_world)[:3, :3]):
        blocked = _blocked(o)
        return Skipped(Why.FLAT, o.name) if blocked is None else replace(blocked, why=Why.FLAT)
    return None


def _blocked(o: bpy.types.Object) -> Skipped | None:
    """A driver of the object that does not run: Blender takes its value as zero."""
    above: bpy.types.Object | None = o
    while above is not None:
        for owner in (above, above.data, getattr(above.data, "shape_keys", None)):
            animation = getattr(owner, "animation_data", None)
            for curve in animation.drivers if animation is not None else ():
                if curve.driver is not None and not curve.driver.is_valid:
                    return Skipped(Why.DRIVER, o.name, curve.data_path, above.name)
        above = above.parent
    return None


def _shows_itself(o: bpy.types.Object, instancers: set[bpy.types.Object]) -> bool:
    """Whether the object's own surface is in the viewport, beside what it instances."""
    if o.type == "MESH":
        return not o.is_instancer or o.show_instancer_for_viewport
    # the mesh of a curve or text comes as an instance of the object in itself; that of a metaball does not
    return o.type in SURFACES and o not in instancers


def _flat(matrix: NDArray[np.float64]) -> bool:
    """Whether a transform squeezes space into a plane, to single precision."""
    largest = np.linalg.norm(matrix, axis=0).max()
    return bool(abs(np.linalg.det(matrix)) <= 1e-12 * largest**3)


class _Found:
    """Gathers meshes while Blender's evaluated data is at hand: arrays are copied out at once."""

    def __init__(self, meters: float, mask: str, show: str) -> None:
        self.meters = meters
        self.marks = (mask, show)
        self.pieces: list[Piece] = []
        self.points: list[NDArray[np.float64]] = []
        self.triangles: list[NDArray[np.int32]] = []
        self.flags: list[tuple[NDArray[np.bool_], ...]] = []
        self.notes: list[Skipped] = []
        self._starts = [0, 0]  # of the next points, of the next triangles

    def add(self, evaluated: bpy.types.Object, matrix: Matrix, source: bpy.types.Object, *, instance: bool) -> None:
        """One evaluated object's surface, if it has any."""
        if evaluated.type not in SURFACES:
            return
        mesh = evaluated.to_mesh()
        if mesh is not None and len(mesh.polygons):
            self._take(mesh, np.array(matrix, dtype=np.float64), source, instance)
        evaluated.to_mesh_clear()

    def _take(
        self, mesh: bpy.types.Mesh, matrix: NDArray[np.float64], source: bpy.types.Object, instance: bool
    ) -> None:
        triangles, polygons = _triangles(mesh)
        if np.linalg.det(matrix[:3, :3]) < 0:
            triangles = triangles[:, ::-1]
        points = positions(mesh) @ matrix[:3, :3].T + matrix[:3, 3]
        begin, start = self._starts
        self._starts = [begin + len(points), start + len(triangles)]
        self.points.append(points * self.meters)
        self.triangles.append(triangles + np.int32(begin))
        self.flags.append(tuple(self._flag(mesh, name, source.name)[polygons] for name in self.marks))
        data = source.data
        own = not instance and isinstance(data, bpy.types.Mesh) and _same_polygons(mesh, data)
        self.pieces.append(Piece(source.name, versions.session_id(source), start, self._starts[1], polygons, own))

    def _flag(self, mesh: bpy.types.Mesh, name: str, owner: str) -> NDArray[np.bool_]:
        """A BOOLEAN FACE attribute as (polygons,); all false where there is none."""
        values = np.zeros(len(mesh.polygons), dtype=bool)
        attribute = mesh.attributes.get(name) if name else None
        if attribute is None:
            if name not in ("", MASK, SHOW):
                self._note(Skipped(Why.NO_ATTRIBUTE, owner, name))
        elif (attribute.domain, attribute.data_type) != ("FACE", "BOOLEAN"):
            kind = f"{attribute.data_type} on {attribute.domain}"
            self._note(Skipped(Why.WRONG_ATTRIBUTE, owner, name, kind))
        else:
            attribute.data.foreach_get("value", values)
        return values

    def _note(self, skipped: Skipped) -> None:
        if skipped not in self.notes:
            self.notes.append(skipped)

    def skipped(self, objects: list[bpy.types.Object]) -> list[Skipped]:
        """Skipped objects and unused attributes, to be reported."""
        gave = {piece.session for piece in self.pieces}
        empty = [o for o in objects if versions.session_id(o) not in gave]
        return [*map(_no_surface, empty), *self.notes]

    def part(self, name: str, skipped: list[Skipped]) -> Part:
        """All pieces as one part."""
        masked, show = (np.concatenate(flags) for flags in zip(*self.flags, strict=True))
        return Part.of(
            name, np.vstack(self.points), np.vstack(self.triangles), masked=masked, show=show, skipped=skipped
        )


def _no_surface(o: bpy.types.Object) -> Skipped:
    """That an object has no faces, or cannot have any."""
    return Skipped(Why.NO_FACES if o.type in SURFACES else Why.NO_SURFACE, o.name, o.type.lower().replace("_", " "))


def positions(mesh: bpy.types.Mesh) -> NDArray[np.float64]:
    """(v, 3) in the mesh's own units."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.attributes["position"].data.foreach_get("vector", points)
    return points.reshape(-1, 3).astype(np.float64)


def _triangles(mesh: bpy.types.Mesh) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Triangles (m, 3) and the polygon of each (m,). A mesh of triangles alone is read without detour."""
    if len(mesh.loops) == 3 * len(mesh.polygons):
        return _corners(mesh).reshape(-1, 3), np.arange(len(mesh.polygons), dtype=np.int32)
    triangles = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
    polygons = np.empty(len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    mesh.loop_triangle_polygons.foreach_get("value", polygons)
    return triangles.reshape(-1, 3), polygons


def _corners(mesh: bpy.types.Mesh) -> NDArray[np.int32]:
    """Vertex of each polygon corner, (loops,)."""
    corners = np.empty(len(mesh.loops), dtype=np.int32)
    mesh.attributes[".corner_vert"].data.foreach_get("value", corners)
    return corners


def _same_polygons(evaluated: bpy.types.Mesh, own: bpy.types.Mesh) -> bool:
    """Whether modifiers left the polygons as they are, so that a value a polygon fits both."""
    if own.is_editmode or len(own.polygons) != len(evaluated.polygons):
        return False
    return np.array_equal(_corners(evaluated), _corners(own))
