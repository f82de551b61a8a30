"""A part as it was captured: triangles in meters, masks, and what was left out."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..filled import filled
from .skipped import Skipped


@dataclass(frozen=True, eq=False)
class Part:
    """The captured triangle mesh in the model's own axes; never mutated.

    points : (v, 3) float64, meters
    triangles : (m, 3) int32. Row order is the order of every per-face array in the study.
    masked : (m,) bool, true = not plated (carries no coat)
    show : (m,) bool, true = a face that shows: keep contacts and marks off
    skipped : what capture left out, and why
    """

    name: str
    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    masked: NDArray[np.bool_]
    show: NDArray[np.bool_]
    skipped: tuple[Skipped, ...] = ()

    def __post_init__(self) -> None:
        if not len(self.triangles):
            raise InputError(filled("{name}: the model has no faces; choose a mesh with a surface", name=self.name))
        if not np.isfinite(self.points).all():
            raise InputError(
                filled("{name}: the model has points that are not finite numbers; export it again", name=self.name)
            )
        if self.triangles.min() < 0 or self.triangles.max() >= len(self.points):
            raise InputError(
                filled("{name}: a face names a point that does not exist; export the model again", name=self.name)
            )

    @classmethod
    def of(
        cls,
        name: str,
        points: ArrayLike,
        triangles: ArrayLike,
        *,
        masked: ArrayLike | None = None,
        show: ArrayLike | None = None,
        skipped: Iterable[Skipped] = (),
    ) -> Part:
        """From anything array-like: points (n, 3) meters, triangles (m, 3). masked, show : (m,), by default none.

        Raises InputError where there is no face, a point is not finite, or a face names one that does not exist.
        """
        points = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3)
        triangles = np.ascontiguousarray(triangles, dtype=np.int32).reshape(-1, 3)
        none = np.zeros(len(triangles), dtype=bool)
        return cls(
            name,
            points,
            triangles,
            none if masked is None else np.asarray(masked, dtype=bool),
            none if show is None else np.asarray(show, dtype=bool),
            tuple(skipped),
        )

    @cached_property
    def fingerprint(self) -> str:
        """Changes when anything that a result depends on changes; the name is no part of it."""
        digest = hashlib.blake2b(digest_size=16)
        for array in (self.points, self.triangles, self.masked, self.show):
            digest.update(np.ascontiguousarray(array).data)
        return digest.hexdigest()
