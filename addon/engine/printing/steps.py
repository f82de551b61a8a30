"""Layer steps: how high they are, how much of them filler, coat and deposit hide, and where they are to be sanded.

A face whose normal leans to the build direction by the cosine r has steps of c = h r (Dolenc and Makela,
Computer-Aided Design 26 (1994) 119), right-angled, with treads and risers. A layer of even thickness t lifts the outer
corners by t and the inner ones, along their bisector, by sqrt(2) t: across the surface c falls by t (r + s - 1), s the
sine, until t is as large as a tread or a riser; then the rounded crests meet (parallel curves; exact).

A filler of mean thickness f that runs into the grooves fills them from below: of a groove's section, half of c times
its width, to the height sqrt(2 f c), and all of it where f is c / 2. Docs: theory-printing.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.choice import descending, nearest_to_middle
from ..geometry.frames import unit
from ..geometry.location import Location, locate
from ..geometry.quantiles import weighted_quantiles
from ..linalg.labels import connected
from ..mesh.surface import Surface
from ..settings.part import Print
from ..units import UM

Array = NDArray[np.float64]

MIN_LEVEL_COS = np.cos(np.radians(0.5))  # |n_z| beyond which a face is level: it lies within one layer
MIN_SANDED_STEP_M = 25 * UM  # layer steps above this show through a thin deposit (common practice, no source)
MAX_INVISIBLE_STEP_M = 2 * UM  # a step that polishing takes away: common practice, no source
MAX_LAYER_M, BISECTIONS = 1e-3, 14  # layer heights tried
MAX_REGIONS = 8
HIDDEN_AREA_SHARE = 0.95  # of the visible area, share whose steps should vanish
MIN_REGION_AREA_SHARE = 0.005  # of the plated area: a smaller region is sanded along with the rest


@dataclass(frozen=True, eq=False)
class Region:
    """A piece of the surface to sand. area : m2; step : m, mean height of its steps; effort : m3 to take away or to
    fill; point : (3,) m on it; place : where that is; faces : (k,)"""

    area: float
    step: float
    effort: float
    point: Array
    place: Location
    faces: NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Sanding:
    """regions : those that show, the most effort first; area, effort : m2 and m3 of all, the small ones with them
    hidden_layer : m, layer height at which the steps on all but 5 % of what shows vanish under filler, coat and
    deposit; hidden_filler : m of filler under which they do at the job's layer height; None where nothing slants
    """

    regions: tuple[Region, ...]
    area: float
    effort: float
    hidden_layer: float | None
    hidden_filler: float | None


def step_height(rise: Array, layer: float) -> Array:
    """m, of the steps square to the surface. rise : |cosine| of normal and build direction; layer : m"""
    return np.where(rise < MIN_LEVEL_COS, layer * rise, 0.0)


def remaining_step(rise: Array, layer: float, filler: float, growth: Array | float) -> Array:
    """m of the steps, at most, under a filler and an even layer `growth` of coat and deposit (m).

    Either alone is exact; together they hide more than the better of both, which is returned.
    """
    step = step_height(rise, layer)
    filled = step - np.minimum(np.sqrt(2.0 * filler * step), step)
    return np.minimum(filled, np.where(step > 0, step_under_layer(rise, layer, growth), 0.0))


def step_under_layer(rise: Array, layer: float, growth: Array | float) -> Array:
    """m from crest to valley of the curve that runs parallel to steps at a distance `growth`.

    The valley is where the parallels of tread and riser meet, or one of them and the arc round the other's outer end,
    or both arcs.
    """
    run = np.sqrt(np.maximum(1.0 - rise**2, 1e-12))
    slope = np.maximum(rise, 1e-9)
    tread, riser, pitch = layer * slope / run, layer, layer / run
    t = np.asarray(growth)
    over_tread = np.sqrt(np.maximum(2.0 * t * tread - tread**2, 0.0))
    over_riser = np.sqrt(np.maximum(2.0 * t * riser - riser**2, 0.0))
    lines = (t <= tread) & (t <= riser)
    single = ~lines & (t > tread) & (over_tread <= riser)
    other = ~lines & ~single & (t > riser) & (over_riser <= tread)
    x = np.where(other, over_riser, t)
    y = np.where(single, over_tread, t)
    met = t - ((x - tread) * run + y * slope)
    arcs = t - np.sqrt(np.maximum(t**2 - 0.25 * pitch**2, 0.0))
    return np.asarray(np.maximum(np.where(lines | single | other, met, arcs), 0.0))


def sanding(surface: Surface, printing: Print, growth: Array, up: NDArray[np.float64]) -> Sanding:
    """The visible regions to sand, in the order of effort.

    growth : (m,) m of coat and deposit; up : (3,) the way up that places are told for. O(m log m).
    """
    rise = np.abs(surface.normal @ unit(printing.up))
    remaining = remaining_step(rise, printing.layer, printing.filler, growth)
    shows = surface.visible_area > 0
    rough = shows & (remaining > MIN_SANDED_STEP_M)
    work = 0.5 * remaining * surface.visible_area  # the mean depth of a saw-tooth is half of its height
    hidden = _hiding_layer_and_filler(surface, printing, growth, rise)
    return Sanding(
        tuple(_regions(surface, rough, remaining, work, up)),
        float(surface.visible_area[rough].sum()),
        float(work[rough].sum()),
        *hidden,
    )


def _hiding_layer_and_filler(
    surface: Surface, printing: Print, growth: Array, rise: Array
) -> tuple[float | None, float | None]:
    """Layer height and filler that hide the steps on `HIDDEN_AREA_SHARE` of what shows and slants."""
    slants = np.flatnonzero((surface.visible_area > 0) & (rise < MIN_LEVEL_COS) & (rise > 1e-3))
    if not len(slants):
        return None, None
    rise, growth, area = rise[slants], growth[slants], surface.visible_area[slants]
    low, high = 0.0, MAX_LAYER_M
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        gone = remaining_step(rise, middle, printing.filler, growth) <= MAX_INVISIBLE_STEP_M
        low, high = (middle, high) if float(area @ gone) >= HIDDEN_AREA_SHARE * float(area.sum()) else (low, middle)
    visible_steps = step_under_layer(rise, printing.layer, growth) > MAX_INVISIBLE_STEP_M
    unfilled = np.where(visible_steps, 0.5 * step_height(rise, printing.layer), 0.0)
    return low, float(weighted_quantiles(unfilled, area, HIDDEN_AREA_SHARE))


def _regions(
    surface: Surface, rough: NDArray[np.bool_], remaining: Array, work: Array, up: NDArray[np.float64]
) -> list[Region]:
    pairs = surface.topology.edge_faces
    pairs = pairs[(pairs[:, 1] >= 0) & rough[pairs[:, 0]] & rough[pairs[:, 1]]]
    label, count = connected(len(rough), pairs[:, 0], pairs[:, 1])
    rows = np.flatnonzero(rough)
    area = np.bincount(label[rows], surface.visible_area[rows], count)
    effort = np.bincount(label[rows], work[rows], count)
    least = MIN_REGION_AREA_SHARE * float(surface.plated_area.sum())
    regions = []
    for region in descending(effort)[:MAX_REGIONS]:
        if not effort[region] > 0 or area[region] < least:
            continue
        faces = rows[label[rows] == region]
        weight = surface.visible_area[faces]
        near = faces[nearest_to_middle(surface.centroid[faces], weight)]
        point = surface.centroid[near]
        place = locate(surface.bounds, up, point, surface.normal[near])
        step = float(weight @ remaining[faces] / weight.sum())
        regions.append(Region(float(area[region]), step, float(effort[region]), point, place, faces))
    return regions
