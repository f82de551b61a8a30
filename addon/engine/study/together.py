"""All that is printed for one tank at once: whether it stays apart, and the field with all of it in place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import InputError
from ..field import solve as field
from ..helpers import apart, shade
from ..mesh.tracer import Tracer
from ..progress import Progress, subrange
from .printed import losses
from .stands import arranged, bars, copies, job_of, solids, things
from .study import LEFT_OUT, Study


def check_apart(study: Study) -> None:
    """Whether all that was made for this tank, and the rods that it hangs on, stays apart. Raises InputError, one line
    that names two that do not."""
    results, clearance = study.results, study.job.hanger.clearance
    if len(made_of(study)) - (results.plugs is not None) < 1:
        return
    own = arranged(study)
    found = things(study, own)
    apart.check(found, clearance, bars(study, own))
    if results.rack_holder is not None and copies(study) is not None:  # others may be older than the rack
        others = [one for one in found if one.name not in ("rack", "hanger")]
        surface = study.surface
        parts = [apart.Standing("rack", pose.of(surface.points)[surface.triangles]) for pose in own.poses]
        apart.check([*others, *parts], clearance)


def made_of(study: Study) -> tuple[str, ...]:
    """What was made, by the name that it is asked for by."""
    results = study.results
    found = {
        "hanger": results.hanger,
        "plugs": results.plugs,
        "rack": results.rack_holder,
        "anode-holder": results.anode_holder,
        "shield": results.shield,
        "thief": results.thief,
    }
    return tuple(name for name, one in found.items() if one is not None)


def helpers_field(study: Study, tracer: Tracer) -> Progress[shade.Together]:
    """The field with everything that was made. Raises InputError where nothing was, or two of it meet."""
    alone, names = study.results.field_at_target, made_of(study)
    if alone is None or not names:
        raise InputError(study.reasons.get("field_at_target") or LEFT_OUT)
    check_apart(study)
    job, plugs, thief = job_of(study), study.results.plugs, study.results.thief
    lost = yield from subrange(0.0, 0.05, losses(study))
    shut = np.zeros(len(study.surface.triangles), dtype=bool) if plugs is None else plugs.faces
    stands = [solid for _, solid in solids(study, arranged(study))]
    if job.rack != study.job.rack:  # the field that is known is not of the copies on the printed rack
        bare = field.run(study.surface, job, meshes=study.bodies, wire_drop=lost)
        alone = yield from subrange(0.05, 0.5, bare)
    masked = replace(study.surface, plated=study.surface.plated & ~shut)
    held = stands, [] if thief is None else [thief.solid]
    found = yield from subrange(0.5, 1.0, shade.together(masked, job, held, study.bodies, lost, alone))
    return replace(found, names=names)
