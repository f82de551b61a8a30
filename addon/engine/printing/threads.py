"""Screw threads: smooth bands whose normals keep one angle to an axis, and that climb by one pitch a turn.

The normals of a flank lie on a cone about the axis: its direction is the null direction of their covariance about their
mean. The axis passes where the normals' lines meet, in least squares. The height of a flank's point, less what the
flank's own slope adds with the radius, is pitch x angle / 2 pi but for whole pitches: the pitch is where the phases of
all points agree. For a cone or a groove they agree at no pitch. Docs: theory-printing.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.frames import basis
from ..mesh.surface import Surface
from ..units import MM
from .cylinders import Indices, SmoothEdges, smooth_edges

Array = NDArray[np.float64]

MIN_FACES = 24  # of a flank: more than one turn of a coarse one
MAX_CONE_ERROR = np.sin(np.radians(4.0))  # rms of the normals off their cone
FLANK_COSINES = 0.5, 0.985  # of the normal and the axis: half angles of 10 to 60 degrees
MIN_TURNS = 1.5
MIN_PITCH_M, MAX_PITCH_M = 0.2 * MM, 12 * MM  # between the least and the coarsest pitch of ISO 261 and more
MIN_AGREEMENT = 0.9  # of the phases at the pitch, 1 where all agree
MAX_SAMPLES = 1500
PHASE_STEP_TURNS = 0.05  # turns between two trials of the pitch, over the thread's length
MAX_AXIS_DISTANCE_RADII = 0.1  # radii apart, of flanks of one thread


@dataclass(frozen=True, eq=False)
class Thread:
    """center (3,) m, axis (3,) unit; major, minor, pitch_diameter, pitch, length : m; starts : how many threads wind;
    right_handed; hollow : a nut's; flank : 0..1, the radial part of its flanks' normals; faces : (k,) of the flanks"""

    center: Array
    axis: Array
    major: float
    minor: float
    pitch: float
    length: float
    starts: int
    right_handed: bool
    hollow: bool
    flank: float
    faces: Indices

    @property
    def pitch_diameter(self) -> float:
        """m, midway up the flanks."""
        return 0.5 * (self.major + self.minor)

    @property
    def growth_factor(self) -> float:
        """Change of the pitch diameter over the thickness of a layer: 2 / sin(half angle), 4 for 60 degrees (ASME
        B1.1, section 7)."""
        return 2.0 / self.flank


@dataclass(frozen=True, eq=False)
class _Flank:
    """One band. z : (2,) lowest and highest m along the axis from `center`; radius : (2,); rising : of the normal;
    lead : m a turn, negative where it winds to the left; radial : mean radial part of the normal"""

    center: Array
    axis: Array
    z: tuple[float, float]
    radius: tuple[float, float]
    rising: bool
    lead: float
    radial: float
    faces: Indices


def find(surface: Surface, bends: SmoothEdges | None = None) -> list[Thread]:
    """The threads, the longest first. O(faces), and a search of the pitch a flank."""
    bends = smooth_edges(surface) if bends is None else bends
    flanks = [flank for faces in _cones(surface, bends) if (flank := _flank(surface, faces)) is not None]
    threads = []
    while flanks:
        first = flanks[0]
        same = [other for other in flanks if _same_thread(first, other)]
        flanks = [other for other in flanks if other not in same]
        threads.append(_thread(same))
    return sorted(threads, key=lambda thread: -thread.length)


def _cones(surface: Surface, bends: SmoothEdges) -> list[Indices]:
    """The faces of each smooth region whose normals keep one angle to an axis."""
    label, count = bends.regions(len(surface.area))
    size = np.bincount(label, minlength=count)
    faces = np.flatnonzero((size[label] >= MIN_FACES) & (surface.area > 0))
    labels, place = np.unique(label[faces], return_inverse=True)
    place = place.reshape(-1)
    if not len(labels):
        return []
    area, normal = surface.area[faces], surface.normal[faces]
    whole = np.bincount(place, area)
    mean = np.stack([np.bincount(place, area * normal[:, k]) for k in range(3)], axis=1) / whole[:, None]
    spread = np.empty((len(labels), 3, 3))
    for i, j in ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)):
        both = np.bincount(place, area * normal[:, i] * normal[:, j]) / whole
        spread[:, i, j] = spread[:, j, i] = both - mean[:, i] * mean[:, j]
    value, vector = np.linalg.eigh(spread)
    tilt = np.abs(np.einsum("ij,ij->i", mean, vector[:, :, 0]))
    low, high = FLANK_COSINES
    conical = (value[:, 0] < MAX_CONE_ERROR**2) & (value[:, 1] > 0.25 * value[:, 2]) & (tilt > low) & (tilt < high)
    order = np.argsort(place, kind="stable")
    ends = np.searchsorted(place[order], np.arange(len(labels) + 1))
    return [faces[order[ends[k] : ends[k + 1]]] for k in np.flatnonzero(conical)]


def _flank(surface: Surface, faces: Indices) -> _Flank | None:
    """The band as a flank that climbs about its axis; None where it does not."""
    area, normal, place = surface.area[faces], surface.normal[faces], surface.centroid[faces]
    mean = area @ normal / area.sum()
    off = normal - mean
    axis = np.linalg.eigh((area * off.T) @ off)[1][:, 0]
    axis = axis if axis[np.abs(axis).argmax()] > 0 else -axis
    toward = normal - np.outer(normal @ axis, axis)
    toward /= np.maximum(np.linalg.norm(toward, axis=1), 1e-12)[:, None]
    across = np.eye(3) - np.outer(axis, axis) - toward[:, :, None] * toward[:, None, :]
    middle = area @ place / area.sum()
    pull = np.einsum("f,fij,fj->i", area, across, place - middle)
    center = middle + np.linalg.lstsq(np.einsum("f,fij->ij", area, across), pull, rcond=1e-6)[0]
    u, v = basis(axis)
    out = place - center
    z = out @ axis
    flat = out - np.outer(z, axis)
    radius = np.linalg.norm(flat, axis=1)
    angle = np.arctan2(out @ v, out @ u)
    along = normal @ axis
    radial = np.einsum("ij,ij->i", normal, flat) / np.maximum(radius, 1e-300)
    slope = -float(area @ radial) / float(area @ along)
    straight = z - slope * (radius - radius.mean())
    lead, agreement = _lead(straight, angle, area)
    corners = surface.corners[faces].reshape(-1, 3) - center
    height = corners @ axis
    distance = np.linalg.norm(corners - np.outer(height, axis), axis=1)
    if agreement < MIN_AGREEMENT or np.ptp(height) < MIN_TURNS * abs(lead):
        return None
    ends = float(height.min()), float(height.max())
    reach = float(np.quantile(distance, 0.02)), float(np.quantile(distance, 0.98))
    return _Flank(center, axis, ends, reach, bool(area @ along > 0), lead, float(area @ radial / area.sum()), faces)


def _lead(height: Array, angle: Array, weight: Array) -> tuple[float, float]:
    """The lead on which most points agree, in m per turn, negative if left-handed, and their coherence, 0..1."""
    if len(height) > MAX_SAMPLES:
        sampled = np.random.default_rng(1).choice(len(height), MAX_SAMPLES, replace=False)
        height, angle, weight = height[sampled], angle[sampled], weight[sampled]
    reach = float(np.ptp(height))
    if not reach > MIN_PITCH_M:
        return MAX_PITCH_M, 0.0
    per_meter = np.arange(1.0 / MAX_PITCH_M, 1.0 / MIN_PITCH_M, PHASE_STEP_TURNS / reach)
    turn = np.exp(1j * angle)
    best, lead = 0.0, MAX_PITCH_M
    for sampled in np.array_split(per_meter, max(len(per_meter) // 256, 1)):
        phase = np.exp(2j * np.pi * np.outer(sampled, height)) * weight
        for sign, wound in ((1.0, turn.conj()), (-1.0, turn)):
            agree = np.abs(phase @ wound) / weight.sum()
            top = int(agree.argmax())
            if agree[top] > best:
                best, lead = float(agree[top]), sign / float(sampled[top])
    return lead, best


def _same_thread(flank: _Flank, other: _Flank) -> bool:
    apart = other.center - flank.center
    apart = apart - (apart @ flank.axis) * flank.axis
    near = float(np.linalg.norm(apart)) < MAX_AXIS_DISTANCE_RADII * flank.radius[1]
    size = abs(other.radius[1] - flank.radius[1]) < MAX_AXIS_DISTANCE_RADII * flank.radius[1]
    return near and size and abs(other.lead / flank.lead - 1.0) < 0.05 and (flank.radial > 0) == (other.radial > 0)


def _thread(flanks: list[_Flank]) -> Thread:
    first = flanks[0]
    along = [float((flank.center - first.center) @ first.axis) for flank in flanks]
    low = min(shift + flank.z[0] for shift, flank in zip(along, flanks, strict=True))
    high = max(shift + flank.z[1] for shift, flank in zip(along, flanks, strict=True))
    starts = max(sum(flank.rising for flank in flanks), sum(not flank.rising for flank in flanks))
    lead = float(np.mean([flank.lead for flank in flanks]))
    return Thread(
        first.center + 0.5 * (low + high) * first.axis,
        first.axis,
        2 * max(flank.radius[1] for flank in flanks),
        2 * min(flank.radius[0] for flank in flanks),
        abs(lead) / starts,
        high - low,
        starts,
        lead > 0,
        first.radial < 0,
        float(np.mean([abs(flank.radial) for flank in flanks])),
        np.concatenate([flank.faces for flank in flanks]),
    )
