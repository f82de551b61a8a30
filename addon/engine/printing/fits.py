"""Fits: bores, shafts and threads of the model, their size when plated, and the size to model.

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
MIN_CHANGE_M = 0.05 * MM  # m, change of a diameter worth reporting: half of a print's tolerance (common practice)
SIZE_STEP_M = 0.01 * MM  # m, diameters closer than this are listed as one


class FitKind(Enum):
    """The kind of a fit."""

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
        return max(abs(size - self.diameter) for size in self.finished)

    @property
    def affected(self) -> bool:
        """Whether the change is worth reporting."""
        return self.change >= MIN_CHANGE_M


@dataclass(frozen=True, eq=False)
class Fits:
    """fits : bores first, the narrowest first of each kind; local : whether by the local thickness
    clearances : walls and gaps; round_faces : every bore and shaft as it is modeled, threads as well, the largest first
    """

    fits: tuple[Fit, ...]
    local: bool
    clearances: Clearances
    findings: tuple[Finding, ...]
    round_faces: tuple[Cylinder, ...] = ()

    @property
    def affected(self) -> tuple[Fit, ...]:
        """The fits whose change is worth reporting."""
        return tuple(fit for fit in self.fits if fit.affected)

    def sizes(self) -> list[tuple[Fit, int]]:
        """Fits of one kind and size once, with their number; the widest range of theirs stands for all."""
        sizes: dict[tuple[FitKind, int, int], list[Fit]] = {}
        for fit in self.fits:
            key = fit.kind, round(fit.diameter / SIZE_STEP_M), round(fit.pitch / SIZE_STEP_M)
            sizes.setdefault(key, []).append(fit)
        return [(max(same, key=lambda fit: fit.change), len(same)) for same in sizes.values()]


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
        _round_fit(surface, layer, cylinder)
        for cylinder in round_ones
        if not any(_is_on_thread(cylinder, other) for other in wound)
    ]
    fits += [_thread_fit(surface, layer, thread) for thread in wound]
    order = list(FitKind)
    fits.sort(key=lambda fit: (order.index(fit.kind), fit.diameter))
    listed = tuple(fits[:MAX_FITS])
    findings = (*clearances.findings(surface, clear), *_closed_bores(listed))
    return Fits(listed, layer.local, clear, findings, tuple(round_ones))


def _is_on_thread(cylinder: Cylinder, thread: Thread) -> bool:
    """Whether a round face is the crest or the root of a thread."""
    apart = cylinder.center - thread.center
    along = float(apart @ thread.axis)
    off = float(np.linalg.norm(apart - along * thread.axis))
    wide = thread.minor / 1.2 < cylinder.diameter < 1.2 * thread.major
    coaxial = off < 0.1 * thread.major and abs(float(cylinder.axis @ thread.axis)) > 0.99
    return coaxial and wide and abs(along) < 0.5 * thread.length


def _plated_share(surface: Surface, faces: NDArray[np.intp]) -> float:
    """Share of some faces' area that is plated."""
    area = surface.area[faces]
    return float(area @ (surface.plated_area[faces] > 0) / area.sum())


def _round_fit(surface: Surface, layer: Layer, cylinder: Cylinder) -> Fit:
    (low, high), mean = layer.on(surface, cylinder.faces), layer.average(surface, cylinder.faces)
    if cylinder.hollow:
        finished = max(cylinder.gauge - 2 * high, 0.0), max(cylinder.gauge - 2 * low, 0.0)
        model = (cylinder.diameter + 2 * mean) * cylinder.diameter / cylinder.gauge
    else:
        finished = cylinder.gauge + 2 * low, cylinder.gauge + 2 * high
        model = max(cylinder.diameter - 2 * mean, 0.0)
    kind = FitKind.BORE if cylinder.hollow else FitKind.SHAFT
    plated = _plated_share(surface, cylinder.faces)
    return Fit(
        kind,
        cylinder.center,
        cylinder.axis,
        cylinder.diameter,
        cylinder.length,
        cylinder.gauge,
        finished,
        model,
        (low, high),
        plated,
    )


def _thread_fit(surface: Surface, layer: Layer, thread: Thread) -> Fit:
    (low, high), mean = layer.on(surface, thread.faces), layer.average(surface, thread.faces)
    kind = FitKind.INSIDE_THREAD if thread.hollow else FitKind.OUTSIDE_THREAD
    way, factor, size = -1.0 if thread.hollow else 1.0, thread.growth_factor, thread.pitch_diameter
    low_end, high_end = sorted(size + way * factor * end for end in (low, high))
    return Fit(
        kind,
        thread.center,
        thread.axis,
        size,
        thread.length,
        size,
        (low_end, high_end),
        size - way * factor * mean,
        (low, high),
        _plated_share(surface, thread.faces),
        thread.pitch,
        thread.major,
        thread.starts,
        thread.right_handed,
    )


def _closed_bores(fits: tuple[Fit, ...]) -> list[Finding]:
    """Bores that coat and deposit close."""
    shut = [fit for fit in fits if fit.kind is FitKind.BORE and not fit.finished[0] > 0]
    if not shut:
        return []
    quantities = {Quantity.COUNT: len(shut), Quantity.DIAMETER: shut[0].gauge, Quantity.THICKNESS: shut[0].layer[1]}
    return [Finding(Code.BORE_CLOSES, Severity.SPOILS, quantities, places=tuple(spot(bore.center) for bore in shut))]
