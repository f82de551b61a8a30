"""What stands in the tank: the part and its copies, anodes, thieves, shields and walls, in tank coordinates.

Tank coordinates: x and y from the middle of the tank, z up from its floor. A box's walls, its floor and the
free surface of the liquid need no surface here: the field solver mirrors them. A cylinder and a mesh bring
their walls as a body and have the free surface mirrored.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from . import mesh
from .errors import Fault
from .hang.attitude import basis, turn_up
from .job import Job
from .labels import connected
from .part import Part
from .sections import Anode, Rack, Tank
from .steps import finish
from .surface import Surface
from .topology import Topology
from .units import MM

Array = NDArray[np.float64]

STAND_OFF = 5 * MM  # a plate on its hanger from the wall behind it: common practice, no source
HALF_TURN = np.diag([-1.0, -1.0, 1.0])
SEGMENTS = 16  # a round tank's floor is 16 x 16 cells, its wall 64 sided


class Role(IntEnum):
    """What a surface is to the current."""

    PART = 0
    THIEF = 1
    ANODE = 2
    INSULATOR = 3


@dataclass(frozen=True, eq=False)
class Body:
    """A surface in the tank.

    points : (v, 3) metres, tank coordinates; triangles : (m, 3), their normals into the liquid
    sheet : whether the liquid touches both sides of it; wall : whether it is the tank itself
    """

    name: str
    role: Role
    points: Array
    triangles: NDArray[np.int32]
    sheet: bool = False
    wall: bool = False

    @property
    def corners(self) -> Array:
        return self.points[self.triangles]

    @property
    def bounds(self) -> Array:
        """(2, 3) metres, of the used points."""
        used = self.points[np.unique(self.triangles)]
        return np.array([used.min(axis=0), used.max(axis=0)])


@dataclass(frozen=True, eq=False)
class Pose:
    """Where a copy of the part hangs: tank = turn @ model + shift; middle : of its bounding box, in the
    tank.
    """

    name: str
    turn: Array
    shift: Array
    middle: Array

    def of(self, points: Array) -> Array:
        """Model points (..., 3) in tank coordinates."""
        return points @ self.turn.T + self.shift


@dataclass(frozen=True, eq=False)
class Arrangement:
    """All that the current meets.

    poses : the part's copies, the first being the one whose faces are coloured
    bodies : everything else, walls last
    box : (2, 3) corners of the liquid in a box, whose six sides insulate; None otherwise
    surface : height of a free surface over a cylinder or mesh; None otherwise
    inside : (2, 3) box round the liquid; None where it has no end
    notes : sentences: what was assumed
    """

    poses: tuple[Pose, ...]
    bodies: tuple[Body, ...]
    box: Array | None
    surface: float | None
    inside: Array | None
    notes: tuple[str, ...] = ()


def arrange(
    surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None, rack: Rack | None = None
) -> Arrangement:
    """Everything where the job puts it; `clearance.check` says whether it can stand there.

    meshes : the models that the job names by file (tank, anodes, shields, thieves), in metres and tank
    coordinates; rack : copies in place of the job's own. Raises Fault where a model is missing or a tank has no sense.
    """
    loaded = {name: finish(mesh.inspect(part, sheet_sides=2)) for name, part in (meshes or {}).items()}
    if not job.bath.conductivity > 0:
        raise Fault("bath.conductivity_S_m: the bath must conduct; measure it, or take the table's value")
    if job.tank.shape == "box" and job.tank.level > job.tank.size[2] * (1 + 1e-9):
        raise Fault(
            f"tank.level_mm: {_mm(job.tank.level)} of liquid is more than the tank's depth of"
            f" {_mm(job.tank.size[2])}"
        )
    walls = _walls(job.tank, loaded)
    level = None if job.tank.shape == "open" else job.tank.level
    inside = _inside(job.tank, walls)
    poses = _poses(surface, job, rack or job.rack, inside)
    probe = poses[0].of(surface.points[surface.triangles[:1, 0]])
    notes: list[str] = []
    bodies: list[Body] = []
    anodes = job.anodes
    if anodes == ():
        raise Fault("there is no anode in the tank, so no current flows: add one, or let a body in it serve as anode")
    if anodes is None:
        anodes = _default_anodes(surface, poses, job, inside)
        notes.append("no anode is given: two plates, one on each long side, as tall as the part, are assumed")
    for i, anode in enumerate(anodes):
        bodies.append(_anode(anode, anode.name or f"anode {i + 1}", loaded, probe))
    for role, some, name in ((Role.THIEF, job.thieves, "thief"), (Role.INSULATOR, job.shields, "shield")):
        for i, one in enumerate(some):
            bodies.append(_solid(one.name or f"{name} {i + 1}", role, one.file, loaded, probe))
    if level is not None:
        bodies = [clipped(body, level) for body in bodies]
    for body in bodies:
        if not len(body.triangles):
            raise Fault(
                f"{body.name}: it hangs wholly above the liquid ({_mm(job.tank.level)} deep); lower it"
            )
    if walls is not None:
        bodies.append(walls)
    box = inside if job.tank.shape == "box" else None
    return Arrangement(
        tuple(poses),
        tuple(bodies),
        box,
        None if walls is None else level,
        None if level is None else inside,
        tuple(notes),
    )


def turned_by_half(arrangement: Arrangement) -> Arrangement:
    """With every copy of the part turned by half about the vertical through its own middle."""
    poses = tuple(
        Pose(pose.name, HALF_TURN @ pose.turn, pose.middle + HALF_TURN @ (pose.shift - pose.middle), pose.middle)
        for pose in arrangement.poses
    )
    return replace(arrangement, poses=poses)


def _mm(length: float) -> str:
    return f"{length / MM:.4g} mm"


def _inside(tank: Tank, walls: Body | None) -> Array:
    """(2, 3) box round the liquid; of an open tank, nothing but its middle."""
    if walls is not None:
        return walls.bounds
    if tank.shape == "open":
        return np.zeros((2, 3))
    length, width, _ = tank.size
    return np.array([[-length / 2, -width / 2, 0.0], [length / 2, width / 2, tank.level]])


def _poses(surface: Surface, job: Job, rack: Rack, inside: Array) -> list[Pose]:
    up = np.array(job.part.up, dtype=float)
    upright = turn_up(up / np.linalg.norm(up))
    turned = surface.points[np.unique(surface.triangles)] @ upright.T
    middle = 0.5 * (turned.min(axis=0) + turned.max(axis=0))
    centre = inside.mean(axis=0) if job.place.centre is None else np.array(job.place.centre)
    positions = rack.positions or (tuple(centre),)
    turns = rack.turns or (job.place.turn,) * len(positions)
    poses = []
    for i, (position, angle) in enumerate(zip(positions, turns, strict=True)):
        c, s = np.cos(angle), np.sin(angle)
        about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        name = surface.name if len(positions) == 1 else f"copy {i + 1} of {surface.name}"
        poses.append(Pose(name, about @ upright, np.array(position) - about @ middle, np.array(position)))
    return poses


def _default_anodes(surface: Surface, poses: list[Pose], job: Job, inside: Array) -> tuple[Anode, ...]:
    """Two plates, one on each long side, as tall as what hangs between them."""
    placed = np.vstack([pose.of(surface.points) for pose in poses])
    low, high = placed.min(axis=0), placed.max(axis=0)
    tall = float(high[2] - low[2]) or 1 * MM
    z = float(low[2] + high[2]) / 2
    x, y = inside.mean(axis=0)[:2]
    length, width = (inside[1] - inside[0])[:2]
    if job.tank.shape == "open":
        size = float(np.linalg.norm(high - low))
        x, y = (0.5 * (low + high))[:2]
        reach, wide, along = 0.5 * (high[1] - low[1]) + size, size, 0
    elif job.tank.shape == "box":
        along = 0 if length >= width else 1
        reach, wide = (
            min(length, width) / 2 - min(STAND_OFF, min(length, width) / 40),
            max(length, width) * 2 / 3,
        )
    else:  # chords that clear a round wall
        along = 0 if length >= width else 1
        reach, wide = 0.4 * min(length, width), 0.5 * min(length, width)
    plates = []
    for way in (1.0, -1.0):
        off = np.array([0.0, way * reach]) if along == 0 else np.array([way * reach, 0.0])
        normal = (0.0, -way, 0.0) if along == 0 else (-way, 0.0, 0.0)
        plates.append(Anode(plate=(float(wide), tall), centre=(x + off[0], y + off[1], z), normal=normal))
    return tuple(plates)


def _anode(anode: Anode, name: str, loaded: Mapping[str, Surface], probe: Array) -> Body:
    if anode.file:
        return _solid(name, Role.ANODE, anode.file, loaded, probe)
    if anode.plate is None or anode.centre is None:
        raise Fault(f"{name}: give plate_mm and centre_mm, or the file of its mesh")
    towards = np.array(anode.normal if anode.normal is not None else (0.0, 1.0, 0.0), dtype=float)
    if not towards.any():
        raise Fault(f"{name}: normal: [0, 0, 0] points nowhere; give a direction, e.g. [0, -1, 0]")
    return plate(name, Role.ANODE, np.array(anode.centre), towards, *anode.plate)


def plate(name: str, role: Role, centre: Array, normal: Array, width: float, height: float) -> Body:
    """A flat plate in the liquid, its height as upright as its normal allows. Metres."""
    normal = normal / np.linalg.norm(normal)
    across = np.cross([0.0, 0.0, 1.0], normal)
    across = basis(normal)[0] if np.linalg.norm(across) < 1e-9 else across / np.linalg.norm(across)
    up = np.cross(normal, across)
    corners = [
        centre + 0.5 * (a * width * across + b * height * up) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    return Body(name, role, np.array(corners), np.array([[0, 1, 2], [0, 2, 3]], np.int32), sheet=True)


def _solid(name: str, role: Role, file: str, loaded: Mapping[str, Surface], probe: Array) -> Body:
    """A body from its model: closed ones turned into the liquid, open ones taken as sheets."""
    found = _model(name, file, loaded)
    triangles = found.triangles[found.wetted]
    if not len(triangles):
        raise Fault(f"{name}: {file}: the model has no surface that the liquid could touch")
    body = Body(name, role, found.points, triangles, sheet=bool((found.sides[found.wetted] > 1).any()))
    if body.sheet and role == Role.INSULATOR:
        raise Fault(
            f"{name}: {file}: a shield needs a thickness, but this mesh is open; make it a closed body"
        )
    if not body.sheet and winding(probe, body.corners)[0] > 0.5:  # it encloses the part
        return replace(body, triangles=triangles[:, ::-1].copy())
    return body


def _model(name: str, file: str, loaded: Mapping[str, Surface]) -> Surface:
    if not file:
        raise Fault(f"{name}: name the file of its mesh")
    if file not in loaded:
        raise Fault(f"{name}: {file}: the model is not at hand; check the name")
    return loaded[file]


def _walls(tank: Tank, loaded: Mapping[str, Surface]) -> Body | None:
    """The walls and floor of a round tank or of a mesh, up to the level; None where none are needed."""
    if tank.shape == "cylinder":
        return _round(tank.size[0] / 2, tank.level)
    if tank.shape != "mesh":
        return None
    found = _model("tank", tank.file, loaded)
    body = Body("the tank", Role.INSULATOR, found.points, found.triangles, wall=True)
    rim = body.bounds[1, 2]
    if rim < tank.level * (1 - 1e-6):
        raise Fault(f"tank.level_mm: the liquid stands {_mm(tank.level - rim)} above the rim of {tank.file}")
    body = clipped(body, tank.level)
    topology = Topology.of(body.triangles, len(body.points))
    ends = body.points[topology.edges[topology.open]]
    leaks = int((ends[:, :, 2] < tank.level - 1e-6 * np.ptp(body.points)).any(axis=1).sum())
    if leaks or not len(ends):
        where = f"it has {leaks} open edges below the level" if leaks else "it has no opening at the level"
        raise Fault(
            f"tank: {tank.file}: the mesh does not hold the liquid: {where}; close it, or lower the level"
        )
    return _inner(body, topology, tank)


def _inner(body: Body, topology: Topology, tank: Tank) -> Body:
    """Of a vessel with thickness its inner skin, wound into the liquid."""
    a, b = topology.edge_faces[topology.edge_faces[:, 1] >= 0].T
    label, count = connected(len(body.triangles), a, b)
    skins = []
    for i in range(count):
        skin = body.triangles[label == i]
        corners = body.points[skin]
        mirrored = corners[:, ::-1] * (1.0, 1.0, -1.0) + (0.0, 0.0, 2.0 * tank.level)
        low, high = corners.reshape(-1, 3).min(axis=0), corners.reshape(-1, 3).max(axis=0)
        probe = np.append(0.5 * (low + high)[:2], tank.level)
        turns = winding(probe[None], np.concatenate([corners, mirrored]))[0]
        if abs(turns) > 0.5:
            skins.append((float(np.prod((high - low)[:2])), skin if turns < 0 else skin[:, ::-1]))
    if not skins:
        raise Fault(f"tank: {tank.file}: the mesh does not enclose the liquid; use the inside of the vessel")
    return replace(body, triangles=np.ascontiguousarray(min(skins, key=lambda skin: skin[0])[1]))


def _round(radius: float, level: float) -> Body:
    """Wall and floor of a round tank as a polygon of the same area, wound into the liquid."""
    k = SEGMENTS
    sides = 4 * k
    radius *= float(np.sqrt(2 * np.pi / sides / np.sin(2 * np.pi / sides)))
    u, v = np.meshgrid(np.linspace(-1, 1, k + 1), np.linspace(-1, 1, k + 1), indexing="ij")
    wide = np.abs(u) >= np.abs(v)  # a square's rings drawn into circles, cell for cell
    r = np.where(wide, u, v)
    share = np.divide(np.where(wide, v, u), r, out=np.zeros_like(r), where=r != 0) * np.pi / 4
    x = r * np.where(wide, np.cos(share), np.sin(share))
    y = r * np.where(wide, np.sin(share), np.cos(share))
    floor = np.stack([radius * x, radius * y, np.zeros_like(x)], axis=-1).reshape(-1, 3)
    cell = np.arange((k + 1) ** 2).reshape(k + 1, k + 1)
    a, b, c, d = cell[:-1, :-1], cell[1:, :-1], cell[1:, 1:], cell[:-1, 1:]
    bottom = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    rim = np.concatenate([cell[:-1, 0], cell[-1, :-1], cell[:0:-1, -1], cell[0, :0:-1]])
    rows = max(1, round(level / (2.0 * np.pi * radius / sides)))  # square cells: slivers make poor panels
    rings = np.vstack([rim, len(floor) + np.arange(rows * sides).reshape(rows, sides)])
    low, high = rings[:-1], rings[1:]
    after, above = np.roll(low, -1, axis=1), np.roll(high, -1, axis=1)
    side = np.stack([low, above, after, low, high, above], axis=-1).reshape(-1, 3)
    heights = [(0.0, 0.0, level * (k + 1) / rows) for k in range(rows)]
    points = np.vstack([floor, *(floor[rim] + height for height in heights)])
    return Body("the tank", Role.INSULATOR, points, np.vstack([bottom, side]).astype(np.int32), wall=True)


def clipped(body: Body, level: float) -> Body:
    """What of a body lies below a level."""
    height = body.points[:, 2] - level
    height[np.abs(height) < 1e-9 * max(abs(level), 1e-3)] = 0.0
    if height.max() < 0.0:
        return body
    above = height[body.triangles] > 0
    count = above.sum(axis=1)
    kept = body.triangles[count == 0]
    kept = kept[(height[kept] < 0).any(axis=1)]
    cut = body.triangles[(count == 1) | (count == 2)]
    lone = above[(count == 1) | (count == 2)]
    one_above = lone.sum(axis=1) == 1
    odd = np.where(one_above[:, None], lone, ~lone).argmax(axis=1)  # the corner on its own side
    tip, left, right = (cut[np.arange(len(cut)), (odd + k) % 3].astype(np.int64) for k in range(3))
    ends = np.sort(np.stack([np.append(tip, tip), np.append(left, right)], axis=1), axis=1)
    edges, place = np.unique(ends, axis=0, return_inverse=True)
    a, b = edges.T
    along = (height[a] / (height[a] - height[b]))[:, None]
    points = np.vstack([body.points, body.points[a] + along * (body.points[b] - body.points[a])])
    first, second = len(body.points) + place.reshape(2, -1)
    i, j = np.flatnonzero(one_above), np.flatnonzero(~one_above)
    below = [
        np.stack([first[i], left[i], right[i]], axis=1),
        np.stack([first[i], right[i], second[i]], axis=1),
        np.stack([tip[j], first[j], second[j]], axis=1),
    ]
    triangles = np.vstack([kept, *below]).astype(np.int32)
    # a corner that lies on the level is its own cut point
    same = np.arange(len(points))
    same[len(body.points) :] = np.where(
        height[a] == 0, a, np.where(height[b] == 0, b, same[len(body.points) :])
    )
    triangles = same[triangles].astype(np.int32)
    return replace(
        body, points=points, triangles=triangles[(triangles != triangles[:, [1, 2, 0]]).all(axis=1)]
    )


def winding(points: Array, corners: Array) -> Array:
    """How often closed triangles (m, 3, 3) go round each point (n, 3): 1 inside a surface wound outward, 0
    outside.
    """
    out = np.empty(len(points))
    for start in range(0, len(points), chunk := max(1, 100_000 // max(len(corners), 1))):
        part = slice(start, start + chunk)
        a, b, c = (corners[None, :, k] - points[part, None] for k in range(3))
        la, lb, lc = (np.sqrt(np.einsum("ijk,ijk->ij", v, v)) for v in (a, b, c))
        triple = np.einsum("ijk,ijk->ij", a, np.cross(b, c))
        dot = [np.einsum("ijk,ijk->ij", v, w) for v, w in ((a, b), (b, c), (c, a))]
        out[part] = np.arctan2(triple, la * lb * lc + dot[0] * lc + dot[1] * la + dot[2] * lb).sum(axis=1)
    return out / (2.0 * np.pi)
