"""A study: one part, one job, and their results."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ..findings import Finding
from ..hanging.hung import differs
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..printing.layer import Layer
from ..settings.job import Job
from ..settings.part import Wire
from ..settings.tank import Rack
from ..tank import vessel
from ..trapping.gas import Drainage, Gas
from .results import Results

T = TypeVar("T")

LEFT_OUT = "left out"  # the reason of an analysis that was not requested


@dataclass(frozen=True, eq=False)
class Study:
    """The answers about one part and one job: a result an analysis, or None and the reason.

    reasons : analysis -> why it has no result; refusals : the same as data, where there is such
    timings : analysis -> s; keys : analysis -> key of what it read
    bodies : file that the job names for the tank -> its model, in meters
    """

    part: Part
    job: Job
    surface: Surface
    results: Results = field(default_factory=Results)
    reasons: Mapping[str, str] = field(default_factory=dict)
    refusals: Mapping[str, tuple[Finding, ...]] = field(default_factory=dict)
    timings: Mapping[str, float] = field(default_factory=dict)
    keys: Mapping[str, str] = field(default_factory=dict)
    bodies: Mapping[str, Part] = field(default_factory=dict)

    @property
    def hung(self) -> Job:
        """The job with the part as it hangs: the way up used by contacts, current distribution, maps and plan."""
        return self.job if self.results.hung is None else self.results.hung.of(self.job)

    @property
    def in_tank(self) -> Job:
        """As `hung`, in its tank: fitted to the hanging part if none is specified; with copies at the computed
        spacing, if the job asks for one and does not place them itself."""
        job = vessel.fitted(self.hung, self.surface) if self.job.tank.assumed else self.hung
        return job if self.spaced is None or job.rack.positions else replace(job, rack=self.spaced)

    @property
    def spaced(self) -> Rack | None:
        """The computed spacing as a rack of the job; None where none was computed."""
        rack = self.results.rack
        if rack is None:
            return None
        places = rack.chosen.positions
        return Rack(positions=tuple(map(tuple, places.tolist())), turns=(self.hung.place.turn,) * len(places))

    @property
    def job_used(self) -> Job:
        """The job as specified, with the tank that its part hangs in."""
        return replace(self.job, tank=self.in_tank.tank)

    @property
    def turned(self) -> bool:
        """Whether the part hangs another way up than the job models it."""
        return differs(self.job, self.results.hung)

    @property
    def gas_as_hung(self) -> Gas | None:
        """The trapped gas of the way up that the part hangs."""
        return self.results.gas_hung or self.results.gas

    @property
    def drainage_as_hung(self) -> Drainage | None:
        """The held liquid of the way up that the part hangs."""
        return self.results.drainage_hung or self.results.drainage

    @property
    def contact_places(self) -> NDArray[np.float64]:
        """(k, 4) where wires touch the part, m, and the radius of each: those of the coat, or of the job, else
        the best suggestion."""
        if self.results.coat is not None:
            used = [(*(float(x) for x in contact.point), 0.5 * contact.pad) for contact in self.results.coat.wires]
            return np.array(used, dtype=np.float64).reshape(-1, 4)
        contacts = [(*wire.point, 0.5 * wire.pad) for wire in self.job.wires if wire.point is not None]
        ranked = () if self.results.contacts is None or contacts else self.results.contacts.ranked[:1]
        suggested = [(*(float(x) for x in contact.point), 0.5 * Wire().pad) for contact in ranked]
        return np.array([*contacts, *suggested], dtype=np.float64).reshape(-1, 4)

    def layer(self, local: bool = True) -> Layer:
        """Coat and deposit on each triangle: by the local thickness, where that is known and wanted."""
        job, solved, known = self.job, self.results.field, self.results.ranges
        if solved is None or not local:
            return Layer.of(self.surface, job.coat.thickness, job.target.thickness)
        span = (1.0, 1.0) if known is None else known.relative(solved.thickness_spread)
        return Layer.of(self.surface, job.coat.thickness, job.target.thickness, solved.thickness, span)

    def asked_for(self, analysis: str) -> bool:
        """Whether an analysis has a result, or a reason other than not being requested."""
        return analysis in self.results.names or self.reasons.get(analysis, LEFT_OUT) != LEFT_OUT

    def completed_by(self, earlier: Study) -> Study:
        """This study with the results of an earlier one of the same part where it has none, each under its own key."""
        extra = [name for name in earlier.results.names if name not in self.results.names]

        def both(own: Mapping[str, T], other: Mapping[str, T]) -> Mapping[str, T]:
            return MappingProxyType({**own, **{name: other[name] for name in extra if name in other}})

        return replace(
            self,
            results=self.results.over(earlier.results),
            timings=both(self.timings, earlier.timings),
            keys=both(self.keys, earlier.keys),
            reasons=MappingProxyType({name: why for name, why in self.reasons.items() if name not in extra}),
        )
