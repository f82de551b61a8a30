"""All printed helpers of one tank: clearances, and the field with everything in place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import InputError
from ..field import solve as field
from ..helpers import apart, mask_effect, shade
from ..mesh.tracer import Tracer
from ..progress import Progress, subrange
from .kinds import made
from .printed import losses
from .stands import arranged, bars, helper_bodies, job_of, solids
from .study import LEFT_OUT, Study


def check_apart(study: Study) -> None:
    """Whether all that was made for this tank, and the rods that it hangs on, stays apart. Raises InputError, one line
    that names two that do not."""
    results, clearance = study.results, study.job.hanger.clearance
    if all(kind.on_part for kind in made(results)):
        return
    own = arranged(study)
    standing = helper_bodies(study, own)
    apart.check(standing, clearance, bars(study, own))
    if results.rack_holder is not None and study.spaced is not None:  # other helpers may be older than the rack
        others = [body for body in standing if body.name not in ("rack", "hanger", "masks")]
        surface = study.surface
        parts = [apart.Standing("rack", pose.of(surface.points)[surface.triangles]) for pose in own.poses]
        apart.check([*others, *parts], clearance)


def helpers_field(study: Study, tracer: Tracer) -> Progress[shade.Together]:
    """The field with everything that was made. Raises InputError where none was made, or two of them touch."""
    alone, names = study.results.field_at_target, tuple(kind.option for kind in made(study.results))
    if alone is None or not names:
        raise InputError(study.reasons.get("field_at_target") or LEFT_OUT)
    check_apart(study)
    job, plugs, thief = job_of(study), study.results.plugs, study.results.thief
    lost = yield from subrange(0.0, 0.05, losses(study))
    if job.rack != study.in_tank.rack:  # the field that is known is not of the copies on the printed rack
        bare = field.run(study.surface, job, meshes=study.bodies, wire_drop=lost)
        alone = yield from subrange(0.05, 0.45, bare)
    shut = np.zeros(len(study.surface.triangles), dtype=bool) if plugs is None else plugs.faces
    stands = [solid for _, solid in solids(study, arranged(study))]
    masked = replace(study.surface, plated=study.surface.plated & ~shut)
    if (masks := study.results.masks) is not None:
        both = yield from subrange(0.45, 0.48, mask_effect.with_masks(masked, masks))
        job, masked = mask_effect.placed(study.surface, both, job, study.bodies), both
        lost = yield from subrange(0.48, 0.5, losses(study, both))
    held = stands, [] if thief is None else [thief.solid]
    shaded = yield from subrange(0.5, 1.0, shade.together(masked, job, held, study.bodies, lost, alone))
    return replace(shaded, names=names)
