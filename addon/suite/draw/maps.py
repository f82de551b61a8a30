"""The maps that can be shown on the part: values per face, their unit, lines and marks.

A new analysis with a map adds one entry here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ...engine import color
from ...engine.field.result import Flag
from ...engine.geometry import contour
from ...engine.reporting.filled import filled
from ...engine.study import Study
from ...engine.trapping.bores import NEGLIGIBLE_VOLUME_M3
from ...engine.trapping.gas import Drainage, Gas, Pool
from ...engine.trapping.pockets import Pocket
from ...engine.units import UM
from ..figures import milliliters

Segments = NDArray[np.float64]  # (s, 2, 3) meters
HATCH = 1 / 60  # of the part's diagonal between two lines of hatching


@dataclass(frozen=True, eq=False)
class Mark:
    """A place on the part with a few words: a vent, a contact, the deepest face of a pocket."""

    point: NDArray[np.float64]  # (3,) meters
    text: str


@dataclass(frozen=True)
class Map:
    """One way to color the part.

    analysis : the result that it needs; values : (m,) of a study, in `unit`, nan where there is none
    ends : words at the low and the high end of the legend; fixed : limits, or None to take the values' own
    bad_high : the high end is the bad one, and so the dark one
    names : where values are whole numbers that stand for kinds: each kind's word and place on the ramp
    lines, hatching : segments that outline and hatch what must not hang on hue; marks : places with words
    """

    name: str
    analysis: str
    title: str
    unit: str
    doc: str
    values: Callable[[Study], NDArray[np.float64]]
    ends: tuple[str, str]
    fixed: tuple[float, float] | None = None
    bad_high: bool = False
    names: tuple[tuple[str, float], ...] = ()
    lines: Callable[[Study], Segments] | None = None
    hatching: Callable[[Study], Segments] | None = None
    marks: Callable[[Study], list[Mark]] | None = None


@dataclass(frozen=True, eq=False)
class Drawing:
    """A map of one study, ready to be drawn, with no reference to bpy or to the engine's results.

    values : (m,) in the map's unit; low, high : what the ramp's ends stand for; shares : (bins,) histogram
    corners : (m, 3, 3) m, the triangles that have the values
    """

    map: Map
    values: NDArray[np.float64]
    low: float
    high: float
    shares: NDArray[np.float64]
    lines: Segments
    hatching: Segments
    marks: tuple[Mark, ...]
    corners: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 3, 3)))

    def steps(self, count: int) -> NDArray[np.float32]:
        """(count, 3) linear sRGB of equal steps from low to high, for a legend."""
        return self.colored(self.low + (np.arange(count) + 0.5) / count * (self.high - self.low))

    def colored(self, values: NDArray[np.float64]) -> NDArray[np.float32]:
        """(n, 3) linear sRGB of values in the map's unit: dark where it is bad."""
        if self.map.names:
            places = np.array([*(place for _, place in self.map.names), np.nan])
            kind = np.where(np.isnan(values), len(places) - 1, np.round(values)).astype(np.int64)
            return color.ramp(places[kind])
        share = color.shares(values, self.low, self.high)
        return color.ramp(1.0 - share if self.map.bad_high else share)

    def ticks(self, count: int) -> list[tuple[float, str]]:
        """Tick labels below the ramp: position as a share of its width, and text."""
        if self.map.names:
            return [((k + 0.5) / len(self.map.names), word) for k, (word, _) in enumerate(self.map.names)]
        numbers = color.ticks(self.low, self.high, count)
        places = color.shares(numbers, self.low, self.high)
        return [(float(place), f"{tick:.6g}") for place, tick in zip(places, numbers, strict=True)]


def available(study: Study) -> list[str]:
    """The maps that a study has results for."""
    return [name for name, map_ in MAPS.items() if map_.analysis in study.results.names]


def draw(name: str, study: Study) -> Drawing:
    """The drawing of a map. The study must have its analysis."""
    map_, surface = MAPS[name], study.surface
    values = np.where(surface.plated, map_.values(study), np.nan)
    low, high = map_.fixed or color.limits(values, surface.plated_area)
    return Drawing(
        map_,
        values,
        low,
        high,
        color.histogram(values, surface.plated_area, low, high, len(map_.names) or 32),
        map_.lines(study) if map_.lines else np.zeros((0, 2, 3)),
        map_.hatching(study) if map_.hatching else np.zeros((0, 2, 3)),
        tuple(map_.marks(study)) if map_.marks else (),
        surface.corners,
    )


def _pockets(result: Gas | Drainage) -> Iterable[tuple[Pocket | Pool, float]]:
    """Pockets or pools with the sign of the direction in which they fill."""
    if isinstance(result, Drainage):
        return [(pool, -1.0) for pool in result.pools]
    return [(pocket, 1.0) for pocket in result.pockets]


def _shores(study: Study, result: Gas | Drainage) -> Segments:
    """Outlines where gas meets liquid on the part: at the level of each pocket's lip."""
    segments = [np.zeros((0, 2, 3))]
    for pocket, _ in _pockets(result):
        corners = _corners(study, pocket.faces)
        segments.append(contour.cut(corners, corners @ result.up, [pocket.spill_level])[0])
    return np.concatenate(segments)


def _hatched(study: Study, result: Gas | Drainage) -> Segments:
    """Hatching of the faces beyond each pocket's lip."""
    segments = [np.zeros((0, 2, 3))]
    for pocket, sign in _pockets(result):
        lines, _ = contour.hatch(_corners(study, pocket.faces), HATCH * study.surface.size)
        segments.append(contour.above(lines, sign * result.up, sign * pocket.spill_level))
    return np.concatenate(segments)


def _vents(study: Study) -> list[Mark]:
    """Pockets that are more than a clinging bubble: a vent where a hole frees much, else only the gas."""
    plated, marks = float(study.surface.plated_area.sum()), []
    for pocket in study.gas_as_hung.pockets:
        volume = milliliters(pocket.volume)
        words = filled("vent, {volume}", volume=volume) if pocket.hole else filled("gas, {volume}", volume=volume)
        if pocket.worth_a_hole(plated):
            marks.append(Mark(pocket.vent, words))
    return marks


def _drains(study: Study) -> list[Mark]:
    """Pools that are more than a drop: a drain where a hole empties much, else only what stays."""
    marks = []
    for pool in study.drainage_as_hung.pools:
        volume = milliliters(pool.volume)
        words = filled("drain, {volume}", volume=volume) if pool.hole else filled("drag-out, {volume}", volume=volume)
        if pool.volume >= NEGLIGIBLE_VOLUME_M3:
            marks.append(Mark(pool.drain, words))
    return marks


def _spoilt(study: Study) -> Segments:
    """Hatching of burnt and of almost bare faces."""
    flag = study.results.field.flag
    spoilt = (flag == Flag.BURNT) | (flag == Flag.BARE)
    return contour.hatch(study.surface.corners[spoilt], HATCH * study.surface.size)[0]


def _wires(study: Study) -> list[Mark]:
    """The best place for a wire on each piece of the coat."""
    contacts = study.results.contacts
    return [] if contacts is None else [Mark(contact.point, "wire") for contact in contacts.best]


def _touched(study: Study) -> list[Mark]:
    return [Mark(wire.point, "wire") for wire in study.results.coat.wires]


def _corners(study: Study, faces: NDArray[np.int32]) -> NDArray[np.float64]:
    return study.surface.points[study.surface.triangles[faces]]


KINDS = (("bare", 0.0), ("dull", 0.35), ("good", 1.0), ("burnt", 0.62))  # as field.result.Flag counts them

MAPS = {
    map_.name: map_
    for map_ in (
        Map(
            "thickness",
            "field",
            "Thickness",
            "um",
            "Thickness of the deposit at the end",
            lambda study: study.results.field.thickness / UM,
            ("thin", "thick"),
            marks=_wires,
        ),
        Map(
            "window",
            "field",
            "Expected Finish",
            "",
            "Where the deposit will be good, dull, burnt or missing",
            lambda study: study.results.field.flag.astype(float),
            ("", ""),
            (-0.5, 3.5),
            names=KINDS,
            hatching=_spoilt,
        ),
        Map(
            "drop",
            "coat",
            "Voltage Drop in Coat",
            "mV",
            "Voltage lost in the coat between the wire and each face at the start",
            lambda study: 1000.0 * study.results.coat.drop,
            ("near", "far"),
            bad_high=True,
            marks=_touched,
        ),
        Map(
            "gas",
            "gas",
            "Trapped Gas",
            "% of face",
            "Share of each face that trapped gas keeps dry",
            lambda study: 100.0 * study.gas_as_hung.face,
            ("wetted", "in gas"),
            (0.0, 100.0),
            True,
            lines=lambda study: _shores(study, study.gas_as_hung),
            hatching=lambda study: _hatched(study, study.gas_as_hung),
            marks=_vents,
        ),
        Map(
            "held",
            "drainage",
            "Drag-out",
            "% of face",
            "Share of each face that stays wet with bath when the part is lifted out",
            lambda study: 100.0 * study.drainage_as_hung.face,
            ("drained", "in liquid"),
            (0.0, 100.0),
            True,
            lines=lambda study: _shores(study, study.drainage_as_hung),
            hatching=lambda study: _hatched(study, study.drainage_as_hung),
            marks=_drains,
        ),
        Map(
            "openness",
            "openness",
            "Shielded Areas",
            "% open",
            "How open to the bath each face is: a quick preview of where the deposit will be thin",
            lambda study: 100.0 * study.results.openness.openness,
            ("shielded", "open"),
            (0.0, 100.0),
            marks=_wires,
        ),
        Map(
            "staircase",
            "preparation",
            "Layer Steps",
            "um",
            "Height of the layer steps, square to the face",
            lambda study: study.results.preparation.staircase / UM,
            ("smooth", "stepped"),
            bad_high=True,
        ),
    )
}
