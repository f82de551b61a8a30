"""What fits what: bores, shafts and threads of the model, their size when plated, and the size to model.

A layer of coat and deposit t takes 2 t off a bore's diameter and adds as much to a shaft's; a thread's pitch diameter
changes by 2 t / sin(half angle), 4 t for 60 degrees (ASME B1.1, section 7). Docs: theory-printing.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from ..findings import Code, Finding, Quantity, Severity, spot
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step
from ..units import MM
from . import clearances, cylinders, threads
from .clearances import Clearances
from .cylinders import Cylinder
from .layer import Layer
from .threads import Thread

Array = NDArray[np.float64]

MAX_FITS = 200  # more is a grid or a texture
MIN_CHANGE_M = 0.05 * MM  # of a diameter that is worth a word: half of what a print is off by (common practice)
SIZE_STEP_M = 0.01 * MM  # diameters that are told as one


class FitKind(Enum):
    """What a fit is."""

    BORE = "bore"
    SHAFT = "shaft"
    INSIDE_THREAD = "inside thread"
    OUTSIDE_THREAD = "outside thread"

    @property
    def hollow(self) -> bool:
        """Whether it becomes narrower."""
        return self in (FitKind.BORE, FitKind.INSIDE_THREAD)


@dataclass(frozen=True, eq=False)
class Fit:
    """One fit. Meters, the part's axes.

    center, axis : (3,); diameter : of the circle through the corners, of a thread its pitch diameter
    gauge : what a pin or ring gauge of the model would find
    finished : what it would find when plated, low and high; model : the diameter to model so that the plated part has
    `diameter`
    layer : low and high of coat and deposit there; plated : share of it that takes them
    pitch, outer, starts : of a thread, else 0; right_handed : of a thread
    """

    kind: FitKind
    center: Array
    axis: Array
    diameter: float
    length: float
    gauge: float
    finished: tuple[float, float]
    model: float
    layer: tuple[float, float]
    plated: float
    pitch: float = 0.0
    outer: float = 0.0
    starts: int = 0
    right_handed: bool = True

    @property
    def change(self) -> float:
        """m by which a gauge finds it off the model's diameter, at most."""
        return max(abs(one - self.diameter) for one in self.finished)

    @property
    def affected(self) -> bool:
        """Whether the change is worth a word."""
        return self.change >= MIN_CHANGE_M


@dataclass(frozen=True, eq=False)
class Fits:
    """fits : bores first, the narrowest first of each kind; local : whether by the local thickness
    clearances : walls and gaps
    """

    fits: tuple[Fit, ...]
    local: bool
    clearances: Clearances
    findings: tuple[Finding, ...]

    @property
    def affected(self) -> tuple[Fit, ...]:
        """The fits whose change is worth a word."""
        return tuple(one for one in self.fits if one.affected)

    def sizes(self) -> list[tuple[Fit, int]]:
        """Fits of one kind and size once, with their number; the widest range of theirs stands for all."""
        found: dict[tuple[FitKind, int, int], list[Fit]] = {}
        for one in self.fits:
            key = one.kind, round(one.diameter / SIZE_STEP_M), round(one.pitch / SIZE_STEP_M)
            found.setdefault(key, []).append(one)
        return [(max(same, key=lambda one: one.change), len(same)) for same in found.values()]


def find(surface: Surface, tracer: Tracer, layer: Layer) -> Progress[Fits]:
    """The fits of a part, and the walls and gaps that the layer makes too thin or closes.

    Cost: `cylinders.find`, and two rays at each of some ten thousand places.
    """
    yield Step(0.0, "looking for bores and shafts")
    bends = cylinders.smooth_edges(surface)
    round_ones = cylinders.find(surface, bends)
    yield Step(0.5, "looking for threads")
    wound = threads.find(surface, bends)
    yield Step(0.7, "measuring walls and gaps")
    clear = clearances.measure(surface, tracer, layer.mean)
    fits = [
        _round_fit(surface, layer, one) for one in round_ones if not any(_is_on_thread(one, other) for other in wound)
    ]
    fits += [_thread_fit(surface, layer, one) for one in wound]
    order = list(FitKind)
    fits.sort(key=lambda one: (order.index(one.kind), one.diameter))
    kept = tuple(fits[:MAX_FITS])
    return Fits(kept, layer.local, clear, (*clearances.findings(surface, clear), *_closed_bores(kept)))


def _is_on_thread(one: Cylinder, thread: Thread) -> bool:
    """Whether a round face is the crest or the root of a thread."""
    apart = one.center - thread.center
    along = float(apart @ thread.axis)
    off = float(np.linalg.norm(apart - along * thread.axis))
    wide = thread.minor / 1.2 < one.diameter < 1.2 * thread.major
    coaxial = off < 0.1 * thread.major and abs(float(one.axis @ thread.axis)) > 0.99
    return coaxial and wide and abs(along) < 0.5 * thread.length


def _plated_share(surface: Surface, faces: NDArray[np.intp]) -> float:
    """Share of some faces' area that is plated."""
    area = surface.area[faces]
    return float(area @ (surface.plated_area[faces] > 0) / area.sum())


def _round_fit(surface: Surface, layer: Layer, one: Cylinder) -> Fit:
    (low, high), mean = layer.on(surface, one.faces), layer.average(surface, one.faces)
    if one.hollow:
        finished = max(one.gauge - 2 * high, 0.0), max(one.gauge - 2 * low, 0.0)
        model = (one.diameter + 2 * mean) * one.diameter / one.gauge
    else:
        finished = one.gauge + 2 * low, one.gauge + 2 * high
        model = max(one.diameter - 2 * mean, 0.0)
    kind = FitKind.BORE if one.hollow else FitKind.SHAFT
    plated = _plated_share(surface, one.faces)
    return Fit(kind, one.center, one.axis, one.diameter, one.length, one.gauge, finished, model, (low, high), plated)


def _thread_fit(surface: Surface, layer: Layer, one: Thread) -> Fit:
    (low, high), mean = layer.on(surface, one.faces), layer.average(surface, one.faces)
    kind = FitKind.INSIDE_THREAD if one.hollow else FitKind.OUTSIDE_THREAD
    way, factor, size = -1.0 if one.hollow else 1.0, one.growth_factor, one.pitch_diameter
    low_end, high_end = sorted(size + way * factor * end for end in (low, high))
    return Fit(
        kind,
        one.center,
        one.axis,
        size,
        one.length,
        size,
        (low_end, high_end),
        size - way * factor * mean,
        (low, high),
        _plated_share(surface, one.faces),
        one.pitch,
        one.major,
        one.starts,
        one.right_handed,
    )


def _closed_bores(fits: tuple[Fit, ...]) -> list[Finding]:
    """Bores that coat and deposit close."""
    shut = [one for one in fits if one.kind is FitKind.BORE and not one.finished[0] > 0]
    if not shut:
        return []
    quantities = {Quantity.COUNT: len(shut), Quantity.DIAMETER: shut[0].gauge, Quantity.THICKNESS: shut[0].layer[1]}
    return [Finding(Code.BORE_CLOSES, Severity.SPOILS, quantities, places=tuple(spot(one.center) for one in shut))]
