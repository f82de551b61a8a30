"""What a test asks of the scene as it is: the study that is kept of it, and the job that its objects make."""

from __future__ import annotations

import bpy

from addon.engine.mesh.part import Part
from addon.engine.settings.job import Job
from addon.suite.scene import settings, stage
from addon.suite.session import StudyRecord, session


def kept() -> StudyRecord:
    """The part that was measured, with its study."""
    found = session.find(bpy.context)
    assert found is not None
    return found


def updated() -> StudyRecord:
    """The same, after what was moved in the scene has taken its place."""
    bpy.context.view_layer.update()
    return kept()


def job() -> tuple[Job, dict[str, Part]]:
    """The job of the settings and of what stands in the scene, and the meshes of its bodies."""
    here = updated()
    carried = session.carried(bpy.context, here.capture)
    return stage.staged(bpy.context, settings.job_of(bpy.context.scene), here.study.part, carried)
