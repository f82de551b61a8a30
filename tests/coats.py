"""A bar and a ball with a coat, and the coat's result for a job; contacts are ranked once a part and coat."""

from __future__ import annotations

from functools import cache

from addon.engine.coat import contact, study
from addon.engine.coat.result import CoatResult
from addon.engine.mesh import inspection
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.settings.job import Job, read_job

import models


def surface(*parts: models.Model, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(models.part(*parts, **marks)))


def job(**sections: object) -> Job:
    return read_job({"effort": {"panels": 500}, **sections})


@cache
def ranked(part: Surface, ohms: float, density: float) -> contact.Contacts:
    return run_to_end(contact.rank(part, up=(0, 0, 1), sheet_resistance=ohms, density=density))


def coated(part: Surface, given: Job, **more: object) -> CoatResult:
    """The coat's result; contacts of one part and coat are ranked once for all tests, as `study.run` ranks them."""
    contacts = ranked(part, study.at_start(given), given.target.density)
    return run_to_end(study.run(part, given, contacts=contacts, **more))


BAR = surface(models.moved(models.box((60, 10, 4), (12, 2, 1)), scale=1e-3))
TWO_MODELS = (
    models.moved(models.box((60, 10, 4), (12, 2, 1)), scale=1e-3),
    models.moved(models.sphere(6, 2), (0.03, 0.03, 0.0), scale=1e-3),
)
TWO = surface(*TWO_MODELS)
