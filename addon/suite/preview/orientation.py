"""A preview of gas and liquid with another way up, computed as the study does.

It is not stored with the part's results.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from numpy.typing import ArrayLike

from ...engine import study as studies
from ...engine.progress import run_to_end
from ...engine.reporting.filled import filled
from ...engine.study import Study
from ...engine.trapping import bodies
from ...engine.trapping.bodies import Bodies
from ..figures import milliliters
from ..scene import settings
from ..scene.tracers import HostTracer
from ..session import State, StudyRecord, session

ANALYSES = ("gas", "drainage")
MAPS = ("gas", "held")  # the maps of these
MAX_CACHED_STUDIES = 6  # whose bodies are at hand


@dataclass(eq=False)
class _BodiesCache(State):
    bodies: dict[str, tuple[Bodies, Bodies]] = field(default_factory=dict)  # key of the gas -> gas, liquid


def studied(record: StudyRecord, up: ArrayLike) -> Study:
    """Gas and liquid of a part with another way up (3,), in its own axes. Its mesh is not inspected again."""
    job, surface = record.study.job, record.study.keys["surface"]
    job = replace(job, part=replace(job.part, up=settings.as_stored(up)))
    return run_to_end(
        studies.run(record.study.part, job, HostTracer, only=ANALYSES, cache=record.cache.only([surface]))
    )


def sentence(study: Study) -> str:
    """How much gas and liquid stays: "12 mL gas, 3.1 mL drag-out"."""
    gas, liquid = study.results.gas, study.results.drainage
    if gas is None:
        return ""
    if liquid is None:
        return filled("{gas} gas", gas=milliliters(gas.trapped_volume))
    return filled(
        "{gas} gas, {held} drag-out", gas=milliliters(gas.trapped_volume), held=milliliters(liquid.held_volume)
    )


def bodies_of(study: Study) -> tuple[Bodies, Bodies] | None:
    """The gas and the liquid of a study as bodies; None where it has neither. Cached for the latest few."""
    if study.results.gas is None:
        return None
    key, up = study.keys["gas"], study.results.gas.up
    cached = session.state(_BodiesCache).bodies
    if key not in cached:
        cached[key] = bodies.gas_bodies(study.surface, up), bodies.liquid_bodies(study.surface, up)
        while len(cached) > MAX_CACHED_STUDIES:
            del cached[next(iter(cached))]
    return cached[key]
