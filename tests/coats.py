"""A bar and a ball with a coat, and the coat's result for a job; contacts are ranked once a part and coat, the tank is
solved once a part and bath."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from addon.engine.coat import contact, study
from addon.engine.coat.result import CoatResult
from addon.engine.field import solve
from addon.engine.field.level import Level
from addon.engine.mesh import inspection
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.settings.job import Job, read_job
from addon.engine.settings.part import Coat

import models


def surface(*parts: models.Model, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(models.part(*parts, **marks)))


def job(**sections: object) -> Job:
    return read_job({"effort": {"panels": 500}, **sections})


@cache
def ranked(part: Surface, ohms: float, density: float) -> contact.Contacts:
    return run_to_end(contact.rank(part, up=(0, 0, 1), sheet_resistance=ohms, density=density))


@cache
def level(part: Surface, bare: Job) -> Level:
    """The tank with the part in it and nothing lost along a coat, as `study.run` solves it where it gets no level."""
    found = run_to_end(solve.solved(part, bare, level="preview"))
    return Level(found.panels, found.cell)


def coated(part: Surface, given: Job, **more: object) -> CoatResult:
    """The coat's result, from contacts and tank that are made once for all tests, as `study.run` makes them."""
    ohms = study.sheet_resistance_in_bath(given)
    contacts = ranked(part, ohms, given.target.density)
    if ohms > 0:  # on metal nothing is lost: it needs no tank
        usual = replace(given.supply, step=1.0)  # what is asked of the coat alone changes nothing in the tank
        more = {"level": level(part, replace(given, coat=Coat(), wires=(), supply=usual)), **more}
    return run_to_end(study.run(part, given, contacts=contacts, **more))


BAR = surface(models.moved(models.box((60, 10, 4), (12, 2, 1)), scale=1e-3))
TWO_MODELS = (
    models.moved(models.box((60, 10, 4), (12, 2, 1)), scale=1e-3),
    models.moved(models.sphere(6, 2), (0.03, 0.03, 0.0), scale=1e-3),
)
TWO = surface(*TWO_MODELS)
