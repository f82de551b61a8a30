"""Analyses of trapped gas, of liquid that is carried out, and of shielded areas."""

from __future__ import annotations

from ..errors import InputError
from ..mesh.tracer import Tracer
from ..progress import Progress
from ..trapping import gas, narrow, vents
from ..visibility import openness
from .study import Study


def gas_of(study: Study, tracer: Tracer) -> Progress[gas.Gas]:
    """Trapped gas, with the part as modeled."""
    return gas.trapped(study.surface, study.job.part.up, capillary_length=study.job.bath.capillary_length)


def drainage_of(study: Study, tracer: Tracer) -> Progress[gas.Drainage]:
    """Liquid that is carried out, with the part as modeled."""
    return gas.held(study.surface, study.job.part.up, capillary_length=study.job.bath.capillary_length)


def gas_hung_of(study: Study, tracer: Tracer) -> gas.Gas | Progress[gas.Gas]:
    """Trapped gas, with the part as it hangs."""
    up = study.hung.part.up
    if study.results.gas is not None and not study.turned:
        return study.results.gas
    return gas.trapped(study.surface, up, capillary_length=study.job.bath.capillary_length)


def drainage_hung_of(study: Study, tracer: Tracer) -> gas.Drainage | Progress[gas.Drainage]:
    """Liquid that is carried out, with the part as it hangs."""
    up = study.hung.part.up
    if study.results.drainage is not None and not study.turned:
        return study.results.drainage
    return gas.held(study.surface, up, capillary_length=study.job.bath.capillary_length)


def vents_of(study: Study, tracer: Tracer) -> Progress[vents.Vents]:
    """Holes that would let gas and liquid out. Raises InputError where neither was computed."""
    hung_gas, drainage, seen = study.gas_as_hung, study.drainage_as_hung, study.results.openness
    if hung_gas is None or drainage is None:
        raise InputError(study.reasons.get("gas") or study.reasons.get("drainage") or "gas was not computed")
    return vents.holes(
        study.surface,
        tracer,
        hung_gas,
        drainage,
        capillary_length=study.job.bath.capillary_length,
        sight=None if seen is None else seen.openness,
        contacts=study.contact_places,
    )


def narrow_of(study: Study, tracer: Tracer) -> Progress[narrow.NarrowOpenings]:
    """Openings that the bath may not enter."""
    return narrow.openings(study.surface, tracer, capillary_length=study.job.bath.capillary_length)


def openness_of(study: Study, tracer: Tracer) -> Progress[openness.Openness]:
    """The share of the directions that reach open bath from each face."""
    return openness.survey(study.surface, rays=study.job.effort.rays)
