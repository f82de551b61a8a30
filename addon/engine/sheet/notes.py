"""Notes on a picture of a part: the best view, and the visible places with one plain sentence each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..field.result import Flag
from ..filled import filled
from ..geometry.choice import first_least
from ..geometry.frames import unit
from ..reporting import words
from ..reporting.plan_text import figure
from ..study import Study
from ..units import MM, UM
from ..visibility.shaded import Sight, sight, sights, view

MAIN_VIEW_PIXELS, TRIAL_PIXELS = 1000, 96
VIEW_RISE = 0.42  # upward share of a line of sight from a little above
# Factor by which a view from higher up must show more, because it hides how a tall part is built
MIN_GAIN_OF_HIGH_VIEW = 1.5
VIEW_AZIMUTHS = 12  # views that are tried, none square to the model's axes
MIN_GAIN_OF_RISE = {VIEW_RISE: 1.0, 1.0: MIN_GAIN_OF_HIGH_VIEW}  # the rise of each, and what it must gain
MAX_CALLOUTS = 5
MAX_WALL_DISTANCE_OVER_DIAMETER = 0.05  # of its diameter that the middle of a flat face may lie off the wall of a fit


@dataclass(frozen=True)
class Callout:
    """A place with one plain sentence."""

    point: NDArray[np.float64]
    words: str


class View(Protocol):
    """A view of a part: the interface shared by `Sight` and `Projected`."""

    @property
    def faces(self) -> NDArray[np.intp]:
        """Triangles of which something is seen, ascending."""
        ...

    def in_sight(self, points: ArrayLike) -> NDArray[np.bool_]:
        """(n,) whether nothing lies in front of points of the surface, (n, 3) meters."""
        ...


def best_view_and_callouts(study: Study) -> tuple[Sight, list[Callout]]:
    """The best view of the part, and callouts of the visible places. Needs a thickness."""
    view = _best_view(study)
    return view, callouts(study, view)


def _best_view(study: Study) -> Sight:
    """Of views round the part as it is modeled, from above, the one that shows most of the wires' places, and of equals
    the most plated surface times outline; from higher up only where that shows much more, as of what lies flat."""
    up = unit(study.job.part.up)
    ahead = view((0.0, -1.0, 0.0), up)
    named = [wire.point for wire in study.results.coat.wires] if study.results.coat is not None else []

    def worth(seen: Sight, gain: float) -> tuple[int, float]:
        outline = float((seen.face >= 0).sum()) * seen.pixel**2
        plated = float(study.surface.plated_area[seen.faces].sum())
        return sum(seen.seen(point) for point in named), plated * outline / gain

    right, level = ahead[0], np.cross(ahead[0], up)
    angles = 2 * np.pi * (np.arange(VIEW_AZIMUTHS) + 0.5) / VIEW_AZIMUTHS
    turns, gains = zip(
        *(
            (view(np.cos(a) * level + np.sin(a) * right + rise * up, up), gain)
            for a in angles
            for rise, gain in MIN_GAIN_OF_RISE.items()
        ),
        strict=True,
    )
    shown, plated = np.array(list(map(worth, sights(study.surface, turns, TRIAL_PIXELS), gains))).T
    most = np.flatnonzero(shown == shown.max())
    return sight(study.surface, turns[most[first_least(-plated[most])]], MAIN_VIEW_PIXELS)


def callouts(study: Study, view: View) -> list[Callout]:
    """At most five places that are in sight, one plain sentence each."""
    surface, field, coat = study.surface, study.results.field, study.results.coat
    assert field is not None
    faces = view.faces[view.in_sight(surface.centroid[view.faces])]  # not faces seen edge-on
    seen = faces[surface.plated[faces]]
    if not len(seen):
        return []
    thin, thick = (seen[first_least(sign * field.thickness[seen])] for sign in (1.0, -1.0))
    callouts, spread = [], field.thickness_spread  # a triangle of its own may be beyond what holds of a patch
    for face, template in (
        (thin, "Thinnest in sight: {thickness} µm ({place})."),
        (thick, "Thickest in sight: {thickness} µm ({place})."),
    ):
        where = words.place(surface.bounds, study.job.part.up, surface.centroid[face])
        thickness = figure(min(max(field.thickness[face], spread.min), spread.max) / UM, 2)
        text = filled(template, thickness=thickness, place=where)
        callouts.append(Callout(surface.centroid[face], text))
    wires = [] if coat is None else [wire.point for wire in coat.wires if view.in_sight(wire.point)[0]]
    callouts += [Callout(point, "Here the wire touches: a small mark to touch up.") for point in wires[:1]]
    masked = faces[surface.wetted[faces] & ~surface.plated[faces]]
    if len(masked):
        face = masked[first_least(-surface.area[masked])]
        callouts.append(Callout(surface.centroid[face], "Stays as printed: it is masked."))
    callouts += _fit_callouts(study, seen)[:1]
    bare = seen[field.flag[seen] == Flag.BARE]
    if len(bare) and thin not in bare:
        face = bare[first_least(-surface.area[bare])]
        callouts.append(Callout(surface.centroid[face], "Hardly any metal reaches this place."))
    return callouts[:MAX_CALLOUTS]


def _fit_callouts(study: Study, seen: NDArray[np.intp]) -> list[Callout]:
    """Fits whose wall is in sight and that coat and metal change, each with its size when plated. seen : faces"""
    if study.results.fits is None:
        return []
    callouts = []
    for fit in study.results.fits.affected:
        from_center = study.surface.centroid[seen] - fit.center
        along = from_center @ fit.axis
        radius = np.linalg.norm(from_center - along[:, None] * fit.axis, axis=1)
        wall = np.flatnonzero(
            (np.abs(radius - fit.diameter / 2) < MAX_WALL_DISTANCE_OVER_DIAMETER * fit.diameter)
            & (np.abs(along) <= fit.length / 2)
        )
        if len(wall):
            low, high = (figure(size / MM, 3) for size in fit.finished)
            size = low if low == high else filled("{low} to {high}", low=low, high=high)
            text = filled(
                "This {kind} of {diameter} mm becomes {size} mm.",
                kind=fit.kind.value,
                diameter=figure(fit.diameter / MM, 3),
                size=size,
            )
            callouts.append(Callout(study.surface.centroid[seen[wall[0]]], text))
    return callouts
