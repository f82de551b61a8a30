"""The printed hanger: from a rod across the tank down to the part, which it holds in its hanging position.

Its fingers reach the part from above (`fingers`); where none do, bars cage it (`cage`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..units import MM
from .lattice import Array

MAX_SWAY_M = 2 * MM  # of the stem's end: common practice, no source
RAY_GRID_MARGIN_M = 0.15 * MM  # added to the clearance for what rays on a grid miss
VENT_KEEP_OUT_M = 4 * MM  # round a vent or a drain, where no finger stands


@dataclass(frozen=True)
class Cage:
    """Of a hanger that holds the part between bars, without a touch where it stands in their middle.

    bars : number; shift : m that the part can be moved at most, square to the rod; play : m to either side along it
    turn : rad that it can be turned, None: freely
    """

    bars: int
    shift: float
    play: float
    turn: float | None


class NotHeldError(InputError):
    """No fingers hold the part from above."""


@dataclass(frozen=True, eq=False)
class Hanger:
    """A hanger, SI.

    points : (v, 3) in the part's axes; triangles : (m, 3) outward, closed
    tips : (k, 3) where its fingers touch the part, in the part's axes; wire : (3,) where the wire is fixed to the part
    own_wire : whether that is a wire beside those of the plan, none of which is reached from above
    rod, wire_diameter, clearance : m; pull : kg that the wire is to be pulled with at least
    lashed : whether it must be tied to the rod, for the part floats at some time
    sway : m that its end gives way; section : (2,) m, thickness along the rod and width; length : m, hook to tips
    volume : m3; mass : kg; plastic : name; mark : m2 that the tips hide
    flat : (3,) unit, the part's axes: the way that points up while it is printed; the second body's is the other way
    rod_at : (3,) a place on the rod's axis, which runs along `flat`, in the part's axes
    on_rods : whether that rod lies on two others, in place of the rim
    gas : m3 that part and hanger together trap beyond the part alone
    cage : None where fingers hold the part
    """

    points: Array
    triangles: NDArray[np.int32]
    tips: Array
    wire: Array
    own_wire: bool
    rod: float
    wire_diameter: float
    clearance: float
    pull: float
    lashed: bool
    sway: float
    section: tuple[float, float]
    length: float
    volume: float
    mass: float
    plastic: str
    mark: float
    flat: Array
    rod_at: Array
    on_rods: bool
    gas: float = 0.0
    cage: Cage | None = None

    @property
    def bodies(self) -> int:
        """Number of closed bodies that it consists of."""
        return 1 if self.cage is None else 2
