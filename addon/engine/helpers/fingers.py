"""A hanger that holds the part with fingers from above, with the wire led to it.

The wire is fixed to the part and pulled up through the hanger's groove, so that it draws the part against the fingers
(`pads`). Its pull outweighs the part or its lift, so a part that floats at first and sinks later is held throughout.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..hanging import hold
from ..hanging.balance import MIN_PULL_SHARE
from ..mesh.rays import ParallelRays
from ..settings import tables
from ..units import GRAM_PER_ML, GRAVITY, MM, in_mm
from . import beam, pads
from .form import CHEEK, FIN, FINGER, LIP, MIN_STEM, NOTCH_BELOW, NOTCH_HEIGHT, PAD, REACH, TAPER, Form
from .hanger import MAX_SWAY_M, RAY_GRID_MARGIN_M, VENT_KEEP_OUT_M, Hanger, NotHeldError
from .lattice import Array
from .pads import Held, Stance, Top
from .placement import Placement
from .printed import GROOVE_FIT, MIN_WALL, check_plastic, sampled

SECTIONS = tuple((t * MM, w * MM) for t, w in ((5, 10), (6, 10), (8, 12), (10, 14), (12, 18)))  # thickness, width
MIN_BUCKLING_SAFETY = 2.0
TIP_GAP_M = 0.02 * MM  # gap between tips and part, so that the meshes stay separate
RAY_STEP_UNDER_TIP_M = 0.1 * MM  # between rays under a tip
MAX_OFF_WIRE_M = 0.3 * MM  # m, between a wire's place and the face seen there from above
MIN_WIRE_UPWARD = 0.3  # of the normal at the wire's place
MIN_OWN_UPWARD = 0.7  # of the same for a wire of its own
MAX_OWN_PLACES = 6  # places for a wire of its own that are tried
SAMPLE_M = 1.0 * MM  # between points of the hanger whose distance from the part is taken


def run(placement: Placement) -> Hanger:
    """The hanger of the part as it stands in the tank. Cost: some hundred thousand rays from above.

    Raises NotHeldError, with the reason, where no fingers hold it; InputError, one line, where the plastic is too
    soft or the part's weight is unknown.
    """
    surface, hanging = placement.surface, placement.hanging
    name = check_plastic(placement.job, "hanger")
    if hanging.start is None or hanging.end is None or hanging.body is None:
        raise InputError(
            filled("{name}: a hanger needs the part's weight, but the mesh is open; close it first", name=surface.name)
        )
    maker = _Maker(placement, name)
    for wire, own in maker.wires():
        for along in placement.ways():
            hanger = maker.made(wire, along, own)
            if hanger is not None:
                return hanger
    raise NotHeldError(maker.why)


class _Maker:
    """The inputs common to all trial hangers."""

    def __init__(self, placement: Placement, plastic: str) -> None:
        surface, pose, job = placement.surface, placement.pose, placement.job
        self._surface, self._tracer, self._job, self._pose = surface, placement.tracer, job, pose
        self._hanging, self._places, self._plastic = placement.hanging, placement.places, plastic
        self._nondegenerate = np.flatnonzero(surface.area > 0)
        self._points = pose.of(surface.points)
        self._rays = ParallelRays(self._points, surface.triangles[self._nondegenerate], (0.0, 0.0, -1.0))
        self._upward = surface.normal @ pose.turn[2]
        self._top = float(self._points[np.unique(surface.triangles)][:, 2].max())
        self._placement, self._axis = placement, np.inf
        self.why = "no face is reached from above beside a wire, off the faces that show"

    def wires(self) -> Iterator[tuple[Array, bool]]:
        """Places for the wire, in the tank, reached from straight above; and whether it is an extra wire."""
        for own, points in ((False, self._places.planned), (True, self._places.others), (True, self._spread())):
            for place in self._pose.of(points.reshape(-1, 3)):
                face, height = self._above(place[None, :2])
                seen = face[0] >= 0 and abs(height[0] - place[2]) < MAX_OFF_WIRE_M
                if seen and self._upward[face[0]] > MIN_WIRE_UPWARD:
                    yield np.append(place[:2], height[0]), own

    def _spread(self) -> Array:
        """Places on plated faces that look up and do not show, those nearest to over the balance point first."""
        spots = hold.sample_spots(self._surface)
        points = spots.points[~spots.show & (spots.normal @ self._pose.turn[2] > MIN_OWN_UPWARD)]
        middle = self._loads(np.zeros(3), np.eye(3))[0].at[:2]
        away = np.linalg.norm(self._pose.of(points)[:, :2] - middle, axis=1)
        order = np.argsort(away, kind="stable")
        return points[order[:: max(1, len(order) // MAX_OWN_PLACES)][:MAX_OWN_PLACES]]

    def _above(self, level: Array) -> tuple[NDArray[np.intp], Array]:
        """The triangle seen from above at each place (n, 2), -1 for none, and z there (-inf)."""
        start = np.column_stack([level, np.full(len(level), self._top + MM)])
        face, distance = self._rays.first_hit(start)
        return np.where(face >= 0, self._nondegenerate[face], -1), np.where(
            face >= 0, self._top + MM - distance, -np.inf
        )

    def _loads(self, base: Array, turn: Array) -> list[Held]:
        """The part's net load at the start and in the end, in axes of the hanger about `base`."""
        loads = []
        for state in (self._hanging.start, self._hanging.end):
            assert state is not None and self._hanging.body is not None
            point = state.point if np.isfinite(state.point).all() else self._hanging.body.centre
            loads.append(Held(state.net, turn @ (self._pose.of(point) - base)))
        return loads

    def made(self, wire: Array, along: Array, own: bool) -> Hanger | None:
        """The hanger on one wire and one way of the rod; None, and `why`, where there is none."""
        turn, base = pads.axes(along), np.append(wire[:2], 0.0)
        self._axis = self._placement.rod_height(along) + self._job.hanger.rod / 2
        loads = self._loads(base, turn)
        groove = self._places.wire + GROOVE_FIT
        clearance = self._job.hanger.clearance
        for thickness, width in SECTIONS:
            if groove > min(thickness - MIN_WALL, width - 2 * MIN_WALL):
                continue
            top = self._seen(base, turn, thickness, groove)
            wanted = clearance + RAY_GRID_MARGIN_M
            stance = pads.three(top, thickness, groove, wanted, loads) or pads.two(
                top, thickness, groove, wanted, loads
            )
            if stance is None:
                return None
            touches, stance = self._settled(stance, (base, turn), thickness)
            form = self._formed(top, stance, (thickness, width), groove, wanted)
            if form is None:
                return None
            sway = self._sway(form, stance, loads)
            if sway > MAX_SWAY_M or not self._stands(form, loads):
                self.why = filled(
                    "the stem gives way by {length}: the part is too heavy or too far below the rod",
                    length=in_mm(sway, 2),
                )
                continue
            return self._checked(form, touches, (base, turn), own, (sway, stance.pull))
        return None

    def _seen(self, base: Array, turn: Array, thickness: float, depth: float) -> Top:
        """The part from above, in the hanger's axes."""
        back = depth / 2 - thickness
        u = np.arange(back - 2 * MM, pads.REACH_M, pads.PITCH)
        v = np.arange(-pads.REACH_M, pads.REACH_M, pads.PITCH)
        grid = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1).reshape(-1, 2)
        face, height = self._above(base[:2] + grid @ turn[:2, :2])
        surface = self._surface
        fit = (face >= 0) & (self._upward[face] > pads.MIN_UPWARD) & ~surface.show[face]
        if len(self._places.vents):
            vents = self._pose.of(self._places.vents)[:, :2] - base[:2]
            near = np.linalg.norm((grid @ turn[:2, :2])[:, None] - vents, axis=2).min(axis=1)
            fit &= near > VENT_KEEP_OUT_M
        seen = self._places.openness
        cost = np.full(len(grid), 0.5) if seen is None else seen[face]
        shape = (len(u), len(v))
        return Top(u, v, height.reshape(shape), fit.reshape(shape), cost.reshape(shape))

    def _settled(self, stance: Stance, frame: tuple[Array, Array], thickness: float) -> tuple[Array, Stance]:
        """Where the tips touch the part (k, 3) in the hanger's axes, and the stance with its tips there, from finer
        rays."""
        base, turn = frame
        half_u = PAD if stance.front is not None else thickness / 2
        touches, tips = [], []
        for finger in (stance.left, stance.right, stance.front):
            if finger is None:
                continue
            half_v = FIN if finger is stance.front else PAD
            across = [np.linspace(-half, half, int(2 * half / RAY_STEP_UNDER_TIP_M) + 2) for half in (half_u, half_v)]
            level = np.stack(np.meshgrid(*across, indexing="ij"), axis=-1).reshape(-1, 2) + (finger.u, finger.v)
            height = self._above(base[:2] + level @ turn[:2, :2])[1]
            k = int(np.argmax(height))
            touches.append([*level[k], height[k]])
            tips.append(replace(finger, z=max(finger.z, float(height[k]))))
        front = tips[2] if len(tips) > 2 else None
        return np.array(touches), replace(stance, left=tips[0], right=tips[1], front=front)

    def _formed(
        self, top: Top, stance: Stance, section: tuple[float, float], groove: float, clearance: float
    ) -> Form | None:
        """The form on these fingers, its bar clear of the part; None where it does not fit under the rod."""
        thickness, width = section
        fingers = [stance.left, stance.right, *([stance.front] if stance.front else [])]
        half = width / 2
        low, high = min(finger.v for finger in fingers) - FINGER, max(finger.v for finger in fingers) + FINGER
        low, high = min(low, -half) - clearance, max(high, half) + clearance
        back, face = groove / 2 - thickness, groove / 2
        over = pads.highest(top, (back - clearance, low), (face + clearance, high))
        if stance.front is not None:
            arm = stance.front
            beside = FIN + clearance
            over = max(
                over,
                pads.highest(top, (back, arm.v - beside), (arm.u + REACH + clearance, arm.v + beside)),
            )
        hub = max(over + clearance, *(finger.z + TAPER for finger in fingers)) + TIP_GAP_M
        tips = [replace(finger, z=finger.z + TIP_GAP_M) for finger in fingers]
        form = Form(
            thickness,
            width,
            groove,
            groove,
            self._job.hanger.rod,
            self._axis,
            hub,
            tips[0],
            tips[1],
            tips[2] if len(tips) > 2 else None,
        )
        wide = form.half_rod + max(CHEEK, LIP) + clearance
        head = pads.highest(top, (back - clearance, -wide), (face + clearance, wide)) + clearance
        if form.bar + MIN_STEM > form.lowest_head - NOTCH_BELOW - NOTCH_HEIGHT or head > form.lowest_head:
            self.why = filled(
                "the rod lies {length} over the part, too near for a hanger; lower the part",
                length=in_mm(self._axis - self._top),
            )
            return None
        return form

    def _sway(self, form: Form, stance: Stance, loads: Sequence[Held]) -> float:
        """m that the fingers give way under stirring and a load beside the rod, and the pull on the longest arm."""
        modulus = tables.plastic(self._plastic)["modulus_GPa"] * 1e9
        assert self._hanging.body is not None
        length = form.axis - form.hub
        push = MIN_PULL_SHARE * self._hanging.body.mass * GRAVITY
        moment = max(abs(load.net) * GRAVITY * float(np.linalg.norm(load.at[:2])) for load in loads)
        stem = beam.deflection(push, moment, length, modulus, form.stem_moment)
        arm = max(float(np.hypot(finger.u, finger.v)) for finger in form.fingers)
        bar = beam.second_moment(2 * FINGER, form.thickness)
        return stem + beam.deflection(stance.pull * GRAVITY, 0.0, arm, modulus, bar)

    def _stands(self, form: Form, loads: Sequence[Held]) -> bool:
        """Whether the stem resists buckling under a part that floats."""
        modulus = tables.plastic(self._plastic)["modulus_GPa"] * 1e9
        lift = max(0.0, *(-load.net for load in loads)) * GRAVITY
        return MIN_BUCKLING_SAFETY * lift <= beam.buckling(form.axis - form.hub, modulus, form.stem_moment)

    def _checked(
        self, form: Form, touches: Array, frame: tuple[Array, Array], own: bool, figures: tuple[float, float]
    ) -> Hanger | None:
        """The hanger in the part's axes; None where it comes too near to the part. figures : sway in m, pull in kg"""
        (base, turn), (sway, pull) = frame, figures
        local, triangles = form.mesh()

        def to_part(points: Array) -> Array:
            return (base + points @ turn - self._pose.shift) @ self._pose.turn

        points = to_part(local)
        tips = to_part(touches)
        wanted = self._job.hanger.clearance
        if self._nearest(points, triangles, tips) < wanted:
            self.why = filled(
                "no fingers keep {length} off the part; lower {hanger.clearance_mm}", length=in_mm(wanted, 2)
            )
            return None
        volume = float(np.einsum("ij,ij->", points[triangles[:, 0]], _cross(points, triangles)) / 6.0)
        density = tables.plastic(self._plastic)["density_g_mL"] * GRAM_PER_ML
        _, height = self._above(base[None, :2])
        wire = (np.append(base[:2], height[0]) - self._pose.shift) @ self._pose.turn
        narrow = 2 * PAD if form.front is not None else form.thickness
        mark = 2 * narrow * 2 * PAD + (0.0 if form.front is None else 4 * PAD * FIN)
        return Hanger(
            points,
            triangles,
            tips,
            wire,
            own,
            form.rod,
            self._places.wire,
            wanted,
            pull,
            bool(min(load.net for load in self._loads(base, turn)) < 0),
            sway,
            (form.thickness, form.width),
            form.axis - min(finger.z for finger in form.fingers),
            volume,
            density * volume,
            self._plastic,
            mark,
            turn[0] @ self._pose.turn,
            to_part(np.array([0.0, 0.0, form.axis])),
            self._axis - form.rod / 2 > self._placement.rim,
        )

    def _nearest(self, points: Array, triangles: NDArray[np.int32], tips: Array) -> float:
        """m between hanger and part, away from the tips."""
        corners = points[triangles]
        near = self._pose.of(corners)[:, :, 2].min(axis=1) < self._top + 2 * MM
        samples = sampled(corners[near], SAMPLE_M)
        return float(self._tracer.nearest(samples[self._far(samples, tips)]).min(initial=np.inf))

    def _far(self, points: Array, tips: Array) -> NDArray[np.bool_]:
        near = self._pose.of(points)[:, 2] < self._top + 2 * MM
        return near & (np.linalg.norm(points[:, None] - tips, axis=2).min(axis=1) > pads.TIP_ZONE)


def _cross(points: Array, triangles: NDArray[np.int32]) -> Array:
    return np.cross(points[triangles[:, 1]], points[triangles[:, 2]])
