"""A hanger for a part that no fingers hold from above: two plates that hook over the rod, and bars between them that
cage the part (`caging`).

The part is laid between the bars of the first plate and the second one is pushed onto their ends. Posts on both plates
keep it from slipping out along the rod. It has play everywhere, so it needs no exact fit and leaves no clamp marks; a
wire fixed to it leads the current.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..hanging.balance import MIN_PULL_SHARE
from ..mesh.surface import Surface
from ..settings import tables
from ..units import GRAM_PER_ML, GRAVITY, MM, in_mm
from . import beam, caging, pads, silhouette
from .cage_form import ARM, GAP, HEAD, POST, CageForm, Post
from .caging import Caged
from .hanger import MAX_SWAY_M, RAY_GRID_MARGIN_M, VENT_KEEP_OUT_M, Cage, Hanger
from .lattice import Array
from .placement import Placement
from .printed import check_plastic, modulus, sampled, volume_of
from .silhouette import Silhouette, largest_within
from .wire_out import WireOut

SECTIONS = tuple((t * MM, w * MM, h * MM) for t, w, h in ((4, 8, 2), (5, 10, 2.5), (6, 14, 3.5)))  # plate, stem, bar
MAX_POST_M = 30 * MM  # length of a post
MAX_STEEP = 1.3  # tangent of the slope that a post may stand against
POSTS_APART_M = 4 * MM
MIN_STEM_M = 1.0 * MM  # between the highest arm and the head
BESIDE_VESSEL_M = 2 * MM  # least way to the tank's walls and floor
LINE_M = 0.5 * MM  # width of the mark of a bar's edge: common practice, no source
SAMPLE_M = 1.2 * MM  # between points whose distance from the part is taken


def run(placement: Placement, why: str) -> Hanger:
    """The cage of the part as it stands in the tank. Cost: some 200,000 rays along the rod, for two ways of the rod.

    why : fingers do not hold it
    Raises InputError, one line, where no bars hold it, or there is no room for them.
    """
    hanging = placement.hanging
    assert hanging.start is not None and hanging.end is not None and hanging.body is not None
    maker = _Maker(placement, why)
    for along in placement.ways()[::2]:
        cage = maker.made(along)
        if cage is not None:
            return cage
    raise InputError(
        filled(
            "{name}: no hanger holds it this way up: {why}; hang it another way ({part.up}), or on a wire",
            name=placement.surface.name,
            why=maker.why,
        )
    )


class _Maker:
    """The inputs common to all trial cages."""

    def __init__(self, placement: Placement, why: str) -> None:
        surface, job = placement.surface, placement.job
        self._surface, self._tracer, self._job, self._pose = surface, placement.tracer, job, placement.pose
        self._hanging, self._places = placement.hanging, placement.places
        self._states = [state for state in (self._hanging.start, self._hanging.end) if state is not None]
        self._placement, self._inside, self._rod_height = placement, placement.inside, placement.rim
        self._plastic = check_plastic(job, "hanger")
        self._nondegenerate = np.flatnonzero(surface.area > 0)
        self._play = job.hanger.clearance + RAY_GRID_MARGIN_M
        self.why = why

    def made(self, along: Array) -> Hanger | None:
        """The cage on one way of the rod; None, and `why`, where there is none."""
        base, turn = self._axes(along)
        self._rod_height = self._placement.rod_height(along)
        own = (self._pose.of(self._surface.points) - base) @ turn.T
        triangles = self._surface.triangles[self._nondegenerate]
        widest = max(half for _, _, half in SECTIONS)
        outline = silhouette.of(own, triangles, 2 * (widest + self._play) + caging.LEEWAY_M)
        vents = (self._pose.of(self._places.vents.reshape(-1, 3)) - base) @ turn.T
        for section in SECTIONS:
            thickness, width, half = section
            play = self._play + outline.pitch
            fit = _Fit(own, self._surface, vents, half, play)
            caged = caging.find(outline, half, play, fit.bar)
            if caged is None:
                self.why = "no bars keep it from slipping out, off the faces that show"
                return None
            used = np.unique(triangles)
            form = self._formed(outline, own[used], caged, section, fit)
            if form is None:
                return None
            sway = self._sway(form, caged)
            if sway > MAX_SWAY_M:
                self.why = filled(
                    "the stem gives way by {length}: the part is too heavy or too far below the rod",
                    length=in_mm(sway, 2),
                )
                continue
            return self._checked(outline, form, caged, (base, turn), sway)
        return None

    def _axes(self, along: Array) -> tuple[Array, Array]:
        """The cage's origin in the tank, under the rod over the balance point, and its axes."""
        turn = pads.axes(along)
        at = [state.point for state in self._states if np.isfinite(state.point).all()]
        assert self._hanging.body is not None
        balance = self._pose.of(np.mean(at, axis=0) if at else self._hanging.body.centre)
        u = self._pose.of(self._surface.points[np.unique(self._surface.triangles)]) @ turn[0]
        middle = (float(u.min()) + float(u.max())) / 2 * turn[0] + float(balance @ turn[1]) * turn[1]
        return middle, turn

    def _formed(
        self, outline: Silhouette, own: Array, caged: Caged, section: tuple[float, float, float], fit: _Fit
    ) -> CageForm | None:
        """The form of these bars, with its posts; None where it has no room, or no post finds a place."""
        thickness, width, half = section
        ends = float(own[:, 0].min()) - GAP, float(own[:, 0].max()) + GAP
        bars = tuple((float(v), float(z)) for v, z in caged.bars)
        bare = CageForm(thickness, width, half, ends, bars, (), self._job.hanger.rod, self._rod_height)
        if bare.top + MIN_STEM_M > bare.hook.shoulder - HEAD:
            self.why = filled(
                "the rod lies {length} over the part, too near for a hanger; lower the part",
                length=in_mm(bare.hook.axis - float(own[:, 2].max())),
            )
            return None
        posts = [*self._posts(outline, bare, 1.0, fit), *self._posts(outline, bare, -1.0, fit)]
        if {post.sign for post in posts} != {1.0, -1.0}:
            self.why = "no post finds a place along the rod, off the faces that show"
            return None
        return CageForm(thickness, width, half, ends, bars, tuple(posts), self._job.hanger.rod, self._rod_height)

    def _posts(self, outline: Silhouette, form: CageForm, sign: float, fit: _Fit) -> list[Post]:
        """On one plate: the highest and the lowest, and those furthest to the sides."""
        reach = sign * (outline.front if sign > 0 else outline.back)
        face = outline.front_face if sign > 0 else outline.back_face
        show = np.where(face >= 0, self._surface.show[self._nondegenerate[face]], False)
        cells = int(np.ceil((POST + self._play) / outline.pitch))
        highest, shows = largest_within(reach, cells), largest_within(show.astype(float), cells) > 0
        plate = form.ends[1] if sign > 0 else -form.ends[0]
        i, j = np.nonzero(outline.solid & ~shows & _beside(form, outline))
        holds = highest[i, j] - reach[i, j] <= MAX_STEEP * (POST + self._play)
        holds &= plate - highest[i, j] - self._play <= MAX_POST_M
        i, j = i[holds], j[holds]
        spots = np.column_stack([sign * highest[i, j], outline.v[i], outline.z[j]])
        far = fit.off_vents(spots)
        i, j, spots = i[far], j[far], spots[far]
        chosen: list[int] = []
        for order in (spots[:, 2], -spots[:, 2], spots[:, 1], -spots[:, 1]):
            if not len(order):
                break
            edge = np.flatnonzero(order >= order.max() - outline.pitch)
            k = int(edge[np.argmin(np.abs(spots[edge, 1]) + np.abs(spots[edge, 2] - outline.middle[1]))])
            if all(np.linalg.norm(spots[k, 1:] - spots[other, 1:]) > POSTS_APART_M for other in chosen):
                chosen.append(k)
        return [
            Post(sign, float(spots[k, 1]), float(spots[k, 2]), sign * float(highest[i[k], j[k]] + self._play))
            for k in chosen
        ]

    def _sway(self, form: CageForm, caged: Caged) -> float:
        """m that its end gives way under stirring, and the bars under the part's load."""
        assert self._hanging.body is not None
        stiff = modulus(self._job)
        push = MIN_PULL_SHARE * self._hanging.body.mass * GRAVITY
        stem = 2 * beam.second_moment(form.width, form.thickness)
        length = form.hook.axis - form.low
        loads = [state.net for state in self._states]
        bar = form.half**4 / 3.0  # of a square on its corner: its side to the fourth over 12
        span = form.ends[1] - form.ends[0]
        under = max(1, int(caged.below.sum())), max(1, int((caged.bars[:, 1] > form.middle).sum()))
        force = max(max(max(loads), 0.0) / under[0], max(-min(loads), 0.0) / under[1]) * GRAVITY
        sag = beam.sag([force], [span / 2], (0.0, span), [span / 2], stiff, bar)
        return beam.deflection(push, 0.0, length, stiff, stem) + float(np.abs(sag[0]))

    def _checked(
        self, outline: Silhouette, form: CageForm, caged: Caged, frame: tuple[Array, Array], sway: float
    ) -> Hanger | None:
        """The cage in the part's axes; None where it comes too near to the part or the tank, or no wire gets out."""
        base, turn = frame
        local, triangles = form.mesh()
        tank = base + local @ turn
        points = (tank - self._pose.shift) @ self._pose.turn
        wanted = self._job.hanger.clearance
        low = tank[triangles][:, :, 2].min(axis=1) < base[2] + form.top + GAP
        sample = sampled(points[triangles[low]], SAMPLE_M)
        if float(self._tracer.nearest(sample).min()) < wanted:
            self.why = filled(
                "no bars keep {length} off the part; lower {hanger.clearance_mm}", length=in_mm(wanted, 2)
            )
            return None
        if not self._has_room(tank):
            return None
        wire = WireOut(self._placement, turn[1] @ self._pose.turn).place(sample)
        if wire is None:
            self.why = "no wire is led out between the bars of a cage"
            return None
        place, own = wire
        net = [state.net for state in self._states]
        volume = volume_of(points - points[0], triangles)
        density = tables.plastic(self._plastic)["density_g_mL"] * GRAM_PER_ML
        mass = density * volume
        touched, mark = _touched(outline, form)
        lift = self._job.bath.density * volume - mass
        return Hanger(
            points,
            triangles,
            (base + touched @ turn - self._pose.shift) @ self._pose.turn,
            place,
            own,
            form.hook.rod,
            self._places.wire,
            wanted,
            0.0,
            bool(min(net) - lift < 0),
            sway,
            (form.thickness, form.width),
            form.hook.axis - form.low,
            volume,
            mass,
            self._plastic,
            mark,
            turn[0] @ self._pose.turn,
            (base + np.array([0.0, 0.0, form.hook.axis]) @ turn - self._pose.shift) @ self._pose.turn,
            self._rod_height > self._placement.rim,
            cage=Cage(len(form.bars), caged.shift, self._play, caged.turn),
        )

    def _has_room(self, tank: Array) -> bool:
        """Whether everything below the rim is clear of walls and floor; sets `why` if not."""
        inside = self._inside
        if inside is None:
            return True
        wet = tank[tank[:, 2] < self._rod_height]
        level = np.linalg.norm(wet[:, :2] - inside.mean(axis=0)[:2], axis=1).max()
        room = min(wet.min(axis=0)[2] - inside[0, 2], *(wet.min(axis=0) - inside[0])[:2])
        room = min(room, *(inside[1] - wet.max(axis=0))[:2])
        if self._job.tank.shape == "cylinder":
            room = min(room, self._job.tank.size[0] / 2 - float(level))
        if room >= BESIDE_VESSEL_M:
            return True
        x, y, z = np.ceil((np.ptp(wet, axis=0) + 2 * BESIDE_VESSEL_M) / MM - 1e-3)
        self.why = filled(
            "a cage of bars round the part meets the tank's wall or floor; it wants {x} x {y} mm and {z} mm under the"
            " rod: take a larger tank, or move the part",
            x=f"{x:.0f}",
            y=f"{y:.0f}",
            z=f"{z:.0f}",
        )
        return False


class _Fit:
    """Where a bar or a post may stand: off the faces that show, and off vents and drains."""

    def __init__(self, own: Array, surface: Surface, vents: Array, half: float, play: float) -> None:
        shown = surface.triangles[surface.show]
        self._shown = np.concatenate([own[np.unique(shown)], own[shown].mean(axis=1)])[:, 1:]
        self._vents, self._near = vents, half + 2 * play

    def bar(self, at: Array) -> bool:
        """Whether a bar may stand at a place (2,), v and z."""
        shown = np.abs(self._shown - at).sum(axis=1).min(initial=np.inf) > self._near
        return bool(shown and np.linalg.norm(self._vents[:, 1:] - at, axis=1).min(initial=np.inf) > VENT_KEEP_OUT_M)

    def off_vents(self, points: Array) -> NDArray[np.bool_]:
        """(k,) whether points (k, 3) are off all vents and drains."""
        away = np.linalg.norm(points[:, None] - self._vents, axis=2)
        return np.asarray(away.min(axis=1, initial=np.inf) > VENT_KEEP_OUT_M)


def _beside(form: CageForm, outline: Silhouette) -> NDArray[np.bool_]:
    """(k, n) where the plates are, on which posts may stand."""
    v, z = outline.v[:, None], outline.z
    solid = (np.abs(v) <= form.width / 2 - POST) & (z <= form.top) & (z >= form.low)
    for at, height in form.bars:
        low, high = min(at, 0.0), max(at, 0.0)
        solid = solid | ((np.abs(z - height) <= form.half + ARM - POST) & (v >= low) & (v <= high))
    return solid


def _touched(outline: Silhouette, form: CageForm) -> tuple[Array, float]:
    """(k, 3) where bars and posts come nearest to the part, in the cage's axes, and m2 that they hide at most."""
    i, j = np.nonzero(outline.solid)
    points, mark = [], 0.0
    for bar in form.bars:
        k = int(np.argmin(np.hypot(outline.v[i] - bar[0], outline.z[j] - bar[1])))
        front, back = float(outline.front[i[k], j[k]]), float(outline.back[i[k], j[k]])
        points.append([front, outline.v[i[k]], outline.z[j[k]]])
        mark += LINE_M * (front - back)
    for post in form.posts:
        k = int(np.argmin(np.hypot(outline.v[i] - post.v, outline.z[j] - post.z)))
        ends = outline.front if post.sign > 0 else outline.back
        points.append([float(ends[i[k], j[k]]), outline.v[i[k]], outline.z[j[k]]])
        mark += (2 * POST) ** 2
    return np.array(points), mark
