"""The part in metal beside the map of its thickness, turning once about the way up that it is modeled in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..geometry.frames import unit
from ..study import Study
from ..visibility.shaded import Sight, sight, view
from .finish import METAL_GLOSS, finish_colors, map_colors, map_kinds
from .marks import INKS, Theme
from .notes import VIEW_RISE

Frame: TypeAlias = NDArray[np.uint8]
FRAME_COUNT = 36
FRAME_PIXELS = 400  # of either view, each way
PART_SHARE = 0.92  # of a view that the part takes at its widest
FRAME_MS = 90


def frames(
    study: Study, theme: Theme = "light", count: int = FRAME_COUNT, pixels: int = FRAME_PIXELS
) -> Iterator[Frame]:
    """(pixels, 2 pixels, 3) uint8, one a view, all at one scale. Raises InputError where the thickness is not known."""
    if study.results.field is None:
        raise InputError(filled("turntable: the thickness was not calculated; take field out of {effort.skip}"))
    up = unit(study.job.part.up)
    right = view((0.0, -1.0, 0.0), up)[0]
    level = np.cross(right, up)
    angles = 2 * np.pi * np.arange(count) / count
    turns = [view(np.cos(a) * level + np.sin(a) * right + VIEW_RISE * up, up) for a in angles]
    center = study.surface.bounds.mean(axis=0)
    points = study.surface.points[np.unique(study.surface.triangles[study.surface.area > 0])] - center
    across = np.stack([points @ turn[:2].T for turn in turns])  # (views, points, right and up)
    low, high = across[..., 1].min(), across[..., 1].max()
    meters = max(2 * np.abs(across[..., 0]).max(), high - low) / (PART_SHARE * pixels)  # a pixel, in all views
    paper = np.rint(255 * np.array(INKS[theme][0])).astype(np.uint8)
    metal, thickness, kinds = finish_colors(study), map_colors(study), map_kinds(study)
    gloss = METAL_GLOSS[study.job.sheet.finish]
    for turn, flat in zip(turns, across, strict=True):
        seen = sight(study.surface, turn, max(1, round(np.ptp(flat, axis=0).max() / meters)))
        middle = seen.place(center + (low + high) / 2 * turn[1])[0]
        views = (seen.painted(metal, gloss), seen.painted(thickness, kind=kinds))
        yield np.hstack([_on_paper(picture, seen, middle, paper, pixels) for picture in views])


def _on_paper(
    picture: NDArray[np.uint8], seen: Sight, middle: NDArray[np.float64], paper: NDArray[np.uint8], side: int
) -> Frame:
    """A view on paper, the part's middle in the middle. middle : (2,) its place in the view"""
    canvas = np.tile(paper.astype(float), (side, side, 1))
    rows, columns = seen.size
    left, top = (
        int(np.clip(round(side / 2 - at), 0, side - size)) for at, size in zip(middle, (columns, rows), strict=True)
    )
    place = canvas[top : top + rows, left : left + columns]
    place += seen.alpha[..., None] / 255.0 * (picture - place)
    return np.rint(canvas).astype(np.uint8)
