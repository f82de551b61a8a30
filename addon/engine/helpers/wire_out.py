"""Wire routes out of a cage: from a place on the part between the bars, and up beside them."""

from __future__ import annotations

import numpy as np

from ..hanging import hold
from ..units import MM
from .lattice import Array
from .placement import Placement

WIRE_OUT_M = 0.8 * MM  # that a wire is led off the face before it goes up
MIN_LEVEL = 0.3  # of a way out, that it may lead down
WAYS_OUT = 16  # round the rod, that are tried
OWN_PLACES = 120  # places for a wire of its own that are tried


class WireOut:
    """Places on a caged part that a wire can be led from."""

    def __init__(self, placement: Placement, across: Array) -> None:
        """across : (3,) unit, level and square to the rod, in the part's axes"""
        self._surface, self._tracer = placement.surface, placement.tracer
        self._places, self._clearance = placement.places, placement.job.hanger.clearance
        self._up, self._across = placement.pose.turn[2], across
        self._nondegenerate = np.flatnonzero(placement.surface.area > 0)

    def place(self, cage: Array) -> tuple[Array, bool] | None:
        """Where a wire touches the part, in its axes, and whether the plan does without it; None where none gets out.

        cage : (n, 3) m, points on the bars and plates, in the part's axes
        """
        up = self._up
        spots = hold.sample_spots(self._surface)
        plain = spots.points[~spots.show]
        spread = plain[:: max(1, len(plain) // OWN_PLACES)]
        for own, points in ((False, self._places.planned), (True, self._places.others), (True, spread)):
            for place in points.reshape(-1, 3):
                way_out = self._outside(place)
                if way_out is not None and self._led(*way_out, up, cage):
                    return place, own
        return None

    def _led(self, foot: Array, normal: Array, up: Array, cage: Array) -> bool:
        """Whether a wire gets out: straight up, or between the bars to beside the cage, and up there."""
        if self._free(foot, up, np.inf, cage):
            return True
        for angle in np.linspace(0, 2 * np.pi, WAYS_OUT, endpoint=False):
            way = np.cos(angle) * self._across + np.sin(angle) * up
            if way @ normal < 0 or way @ up < -MIN_LEVEL:
                continue
            beside = max(float(((cage - foot) @ way).max()), 0.0) + self._places.wire + self._clearance
            if self._free(foot, way, beside, cage) and self._free(foot + beside * way, up, np.inf, cage):
                return True
        return False

    def _free(self, foot: Array, way: Array, length: float, cage: Array) -> bool:
        """Whether a wire of this length leads from a place along a way, off part and cage."""
        if bool(self._tracer.blocked(foot[None], way[None])[0]):
            return False
        ahead = np.clip((cage - foot) @ way, 0.0, length)
        away = np.linalg.norm(cage - foot - ahead[:, None] * way, axis=1).min()
        return bool(away > self._places.wire / 2 + self._clearance)

    def _outside(self, place: Array) -> tuple[Array, Array] | None:
        """(3,) a little off the face at a place, and its normal; None inside of a hollow."""
        corners = self._surface.corners[self._nondegenerate]
        middle = corners.mean(axis=1)
        near = np.argsort(np.linalg.norm(middle - place, axis=1), kind="stable")[:64]
        normal = self._surface.normal[self._nondegenerate[near]]
        height = np.abs(np.einsum("ij,ij->i", place - middle[near], normal))
        out = normal[int(np.argmin(height))]
        foot = place + (WIRE_OUT_M + self._places.wire / 2) * out
        return (foot, out) if float(self._tracer.nearest(foot[None])[0]) > self._places.wire / 2 else None
