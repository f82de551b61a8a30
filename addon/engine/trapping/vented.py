"""What a part with cut holes still holds, measured again on the cut surface by the same rules."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..findings import Code
from ..mesh import inspection
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import run_to_end
from . import gas as gas_study
from .gas import Drainage, Gas
from .hole import Hole

MIN_REMOVED_SHARE = 0.2  # of the bores' own plastic: a boolean that removes less has failed
MAX_REMOVED_SHARE = 3.0


@dataclass(frozen=True, eq=False)
class Vented:
    """The part with its holes cut. points : (v, 3) m; triangles : (m, 3); before, after : what it traps and holds"""

    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    surface: Surface
    holes: tuple[Hole, ...]
    gas_before: Gas
    drainage_before: Drainage
    gas: Gas
    drainage: Drainage
    removed: float  # m3 of plastic


def check_solid(surface: Surface) -> None:
    """Raises InputError where the part is no solid that holes can be cut into."""
    if not surface.closed:
        raise InputError(
            filled(
                "{name}: holes can only be cut into a solid, but the mesh is open at {count} edges; close it"
                " first (the mesh check selects the gaps)",
                name=surface.name,
                count=f"{len(surface.topology.open):,}",
            )
        )
    if any(fault.code in (Code.SHELLS_OVERLAP, Code.MESH_NON_MANIFOLD) for fault in surface.faults):
        raise InputError(
            filled(
                "{name}: holes can only be cut into one clean solid, but its bodies touch or run into each"
                " other; join them first (boolean union)",
                name=surface.name,
            )
        )


def measure_vented(
    before: Surface,
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    holes: tuple[Hole, ...],
    held: tuple[Gas, Drainage],
    capillary_length: float,
) -> Vented:
    """The cut part, checked and measured again. held : gas and drainage before, for the same way up

    Raises InputError where the cut is no solid, or took away another amount of plastic than its bores.
    """
    after = run_to_end(inspection.inspect(Part.of(before.name, points, triangles)))
    removed = before.volume - after.volume
    bored = sum(np.pi / 4 * hole.diameter**2 * hole.length for hole in holes)
    if not after.closed or not MIN_REMOVED_SHARE * bored < removed < MAX_REMOVED_SHARE * bored:
        raise InputError(
            filled(
                "{name}: the holes could not be cut: the boolean did not give a solid; mend the mesh, or cut"
                " them at the places that the plan gives",
                name=before.name,
            )
        )
    gas, drainage = held
    return Vented(
        points,
        triangles,
        after,
        holes,
        gas,
        drainage,
        run_to_end(gas_study.trapped(after, gas.up, capillary_length=capillary_length)),
        run_to_end(gas_study.held(after, gas.up, capillary_length=capillary_length)),
        removed,
    )
