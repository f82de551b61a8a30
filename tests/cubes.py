"""A cube of 20 mm, its surface, and the field of a job of few panels."""

from __future__ import annotations

from addon.engine.field.result import Field
from addon.engine.field.solve import run
from addon.engine.mesh import inspection
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job

import models

EDGE = 0.02  # m


def surface(*some: models.Model, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(models.part(*some, name="part", **marks)))


def cube(cells: int = 1) -> models.Model:
    """About the origin, each side cut into cells x cells squares."""
    return models.moved(models.box([EDGE] * 3, [cells] * 3), [-EDGE / 2] * 3)


def solved(part: Surface, table: dict | None = None, panels: int = 1200, **more: object) -> Field:
    job = read_job({"effort": {"panels": panels}, **(table or {})})
    return run_to_end(run(part, job, **more))
