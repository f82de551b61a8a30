"""A part with vents and drains cut, and cut again where the first cut leaves gas or liquid."""

from __future__ import annotations

from ...engine.errors import InputError
from ...engine.progress import run_to_end
from ...engine.reporting.filled import filled
from ...engine.study import Study
from ...engine.trapping import vented, vents
from ...engine.trapping.gas import Drainage, Gas
from ...engine.trapping.hole import Vents, cutters
from ...engine.trapping.vented import Vented
from . import solid
from .tracers import HostTracer

MAX_ROUNDS = 3  # rounds of cutting, each for what the previous holes leave


def planned(study: Study) -> Vents:
    """The holes for the way that the part hangs. Raises InputError where gas was not computed."""
    gas, drainage = _held(study)
    if study.results.vents is not None:
        return study.results.vents
    surface, capillary = study.surface, study.job.bath.capillary_length
    tracer, contacts = HostTracer(surface), study.contact_places
    return run_to_end(vents.holes(surface, tracer, gas, drainage, capillary_length=capillary, contacts=contacts))


def _held(study: Study) -> tuple[Gas, Drainage]:
    gas, drainage = study.gas_as_hung, study.drainage_as_hung
    if gas is None or drainage is None:
        reasons = (study.reasons.get(name) for name in ("gas", "drainage"))
        reason = next(filter(None, reasons), "gas was not computed")
        raise InputError(filled("{name}: no holes: {next}", name=study.part.name, next=reason))
    return gas, drainage


def made(study: Study) -> Vented | None:
    """The part as it hangs with its holes cut; None where none is needed, or none does.

    Raises InputError where gas was not computed, or the part is no solid that can be cut.
    """
    gas, drainage = _held(study)
    surface, capillary = study.surface, study.job.bath.capillary_length
    vented.check_solid(surface)
    holes, cut = planned(study).holes, None
    if not holes:
        return None
    contacts = study.contact_places
    for _ in range(MAX_ROUNDS):
        points, triangles = solid.difference((surface.points, surface.triangles[surface.area > 0]), cutters(holes))
        cut = vented.measure_vented(surface, points, triangles, holes, (gas, drainage), capillary)
        tracer, baths = HostTracer(cut.surface), (cut.gas, cut.drainage)
        again = vents.holes(cut.surface, tracer, *baths, capillary_length=capillary, contacts=contacts)
        more = run_to_end(again).holes
        if not more:
            break
        holes = (*holes, *more)
    return cut
