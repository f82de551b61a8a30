"""Analyses of the part's shape: before printing, fits, plugs for its holes, masks, what the deposit is for."""

from __future__ import annotations

import numpy as np

from ..errors import InputError
from ..helpers import mask, mask_effect, plug, shade
from ..mesh.tracer import Tracer
from ..printing import fits, orientation, prepare
from ..progress import Progress, subrange
from ..purpose import propose
from .printed import losses
from .study import LEFT_OUT, Study


def preparation_of(study: Study, tracer: Tracer) -> prepare.Preparation:
    """What to change before printing."""
    return prepare.inspect(study.surface, study.job.print, study.job.target, study.job.coat)


def fits_of(study: Study, tracer: Tracer) -> Progress[fits.Fits]:
    """Bores, shafts and threads, and what coat and deposit make of them."""
    return fits.find(study.surface, tracer, study.layer())


def orientation_of(study: Study, tracer: Tracer) -> Progress[orientation.Orientation]:
    """Print directions, ranked by the work that each leaves."""
    up = np.array(study.hung.part.up, dtype=np.float64)
    return orientation.search(study.surface, tracer, study.job.print, study.layer().mean, up)


def plugs_of(study: Study, tracer: Tracer) -> plug.Plugs:
    """Plugs for the holes."""
    return plug.find(study.surface, tracer, study.job, study.results.field)


def plugged_of(study: Study, tracer: Tracer) -> Progress[plug.Plugged]:
    """The field with the plugs in. Raises InputError where plugs or field are missing."""
    plugs, alone = study.results.plugs, study.results.field
    if plugs is None or alone is None:
        raise InputError(study.reasons.get("plugs") or study.reasons.get("field") or LEFT_OUT)
    lost = yield from subrange(0.0, 0.05, losses(study))
    return (yield from subrange(0.05, 1.0, plug.run(study.surface, study.in_tank, plugs, alone, study.bodies, lost)))


def masks_of(study: Study, tracer: Tracer) -> Progress[mask.Masks]:
    """Masks for the masked faces."""
    masks = mask.find(study.surface, tracer, study.job)
    return (yield from mask_effect.dried(study.surface, study.job, masks, study.gas_as_hung))


def masks_shade_of(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the masks take from the deposit around them. Raises InputError where masks or field are missing."""
    masks, alone = study.results.masks, study.results.field_at_target
    if masks is None or alone is None:
        raise InputError(study.reasons.get("masks") or study.reasons.get("field_at_target") or LEFT_OUT)
    both = yield from subrange(0.0, 0.05, mask_effect.with_masks(study.surface, masks))
    lost = yield from subrange(0.05, 0.1, losses(study, both))
    solved = mask_effect.run(study.surface, both, study.in_tank, alone, study.bodies, lost)
    return (yield from subrange(0.1, 1.0, solved))


def purpose_of(study: Study, tracer: Tracer) -> propose.Proposal | None:
    """The thickness that the purpose of the deposit takes."""
    field, hung = study.results.field, study.results.hanging
    mass = None if hung is None or hung.body is None else hung.body.mass
    return propose.propose(study.surface, study.job, None if field is None else field.thickness, mass)
