"""A part with vents and drains cut, and cut again where the first cut leaves something."""

from __future__ import annotations

from ...engine.errors import InputError
from ...engine.progress import run_to_end
from ...engine.reporting.filled import filled
from ...engine.study import Study
from ...engine.trapping import vented, vents
from ...engine.trapping.vented import Vented
from . import solid
from .tracers import HostTracer

MAX_ROUNDS = 3  # of cutting: what a hole leaves is looked at again


def made(study: Study) -> Vented | None:
    """The part as it hangs with its holes cut; None where none is needed, or none does.

    Raises InputError where gas was not computed, or the part is no solid that can be cut.
    """
    gas, drainage = study.gas_as_hung, study.drainage_as_hung
    if gas is None or drainage is None:
        reasons = (study.reasons.get(name) for name in ("gas", "drainage"))
        raise InputError(
            filled(
                "{name}: no holes: {next}",
                name=study.part.name,
                next=next(filter(None, reasons), "gas was not computed"),
            )
        )
    surface, capillary = study.surface, study.job.bath.capillary_length
    vented.solid(surface)
    planned = study.results.vents or run_to_end(
        vents.holes(surface, HostTracer(surface), gas, drainage, capillary_length=capillary)
    )
    if not planned.holes:
        return None
    holes, found = planned.holes, None
    for _ in range(MAX_ROUNDS):
        points, triangles = solid.difference(
            (surface.points, surface.triangles[surface.area > 0]), vents.cutters(holes)
        )
        found = vented.measured(surface, points, triangles, holes, (gas, drainage), capillary)
        again = vents.holes(
            found.surface, HostTracer(found.surface), found.gas, found.drainage, capillary_length=capillary
        )
        more = run_to_end(again).holes
        if not more:
            break
        holes = (*holes, *more)
    return found
