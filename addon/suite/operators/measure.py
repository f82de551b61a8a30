"""Operators for the study: choose the part, measure it, compute more results."""

from __future__ import annotations

from abc import abstractmethod
from typing import Any

import bpy

from ...engine import study as studies
from ...engine.errors import InputError
from ...engine.progress import Progress
from ...engine.reporting.filled import filled, joined
from ...engine.settings.job import Job
from ...engine.study import LEFT_OUT, Study
from ...engine.units import CM2
from .. import language
from ..draw import maps
from ..figures import TITLES, figure
from ..language import localized
from ..preview import views
from ..scene import roles, settings, stage, viewing
from ..scene.tracers import HostTracer
from ..session import StudyRecord, quick, session
from ..snapshot import Snapshot, still_there
from .work import Work, running

QUICK = ("deposit", "gas", "drainage", "preparation")
DESCRIPTIONS = {
    "": "Calculate everything that is missing or out of date",
    "contacts, coat": "Find the best places to attach the wire, and how much voltage the coat loses",
    "openness": "Preview which faces are shielded",
    "field": "Calculate the plating thickness in your tank",
    "narrow": "Find holes and slots that may not fill with liquid",
    "layouts": "Try other anodes, densities and a rotation at half time, and rank them by evenness",
    "rack": "Find how far apart the parts must hang",
    "hanging": "Find hanging positions that trap little gas and carry little liquid out",
}


def ready(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether there is a part and no other work; the disabled button says why not."""
    if running().busy():
        operator.poll_message_set(
            localized(filled("Wait for '{label}', or press Esc to cancel it", label=running().label))
        )
        return False
    if not session.objects(context):
        operator.poll_message_set(localized("Select the object or objects to plate"))
        return False
    return True


def in_object_mode(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether objects may be added, changed and selected; the disabled button says which mode to enter."""
    if context.mode != "OBJECT":
        operator.poll_message_set(localized("Go to Object Mode first"))
        return False
    return True


class PLATEWRIGHT_OT_choose(bpy.types.Operator):
    """Set the selected objects as the part to plate"""

    bl_idname = "platewright.choose"
    bl_label = "Set Part from Selection"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if running().busy():
            cls.poll_message_set(
                localized(filled("Wait for '{label}', or press Esc to cancel it", label=running().label))
            )
            return False
        if all(roles.of(o) for o in context.selected_objects):
            cls.poll_message_set(localized("Select the object or objects to plate"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        views.hide(context)
        session.choose(context, [o for o in context.selected_objects if not roles.of(o)])
        return {"FINISHED"}


class Studying(Work):
    """Work that computes analyses of the part and keeps them."""

    @abstractmethod
    def analyses(self) -> tuple[str, ...]:
        """Names of the analyses."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return ready(cls, context)  # type: ignore[arg-type]  # beside an Operator

    def job(self, context: bpy.types.Context) -> Job:
        """The job to compute it for."""
        return settings.job_of(context.scene)

    def start(self, context: bpy.types.Context) -> Progress[Any]:
        job = self.job(context)
        objects = session.objects(context)
        snapshot = session.captured(context, objects, job)
        part = snapshot.capture.part
        job, bodies = stage.staged(context, job, part, session.carried(context, snapshot.capture))
        steps = studies.run(part, job, HostTracer, only=self.analyses(), cache=snapshot.cache, bodies=bodies)
        return _with(steps, snapshot)

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        snapshot, study = result
        known = session.find(context) is not None
        record = session.keep(context, snapshot, study)
        if not known:
            views.come_near(context, record)
        session.choose(context, still_there(context, snapshot))
        if not record.reshaped:
            self.repaint(context, record)
        missing = [
            filled("{what}: {reason}", what=TITLES.get(name, name), reason=study.reasons[name])
            for name in self.analyses()
            if study.reasons.get(name, LEFT_OUT) != LEFT_OUT
        ]
        if record.moved:
            self.report(
                {"WARNING"},
                localized(
                    filled("{name}: it was changed during the calculation; press Check Again", name=study.part.name)
                ),
            )
        elif missing:
            self.report({"WARNING"}, localized(joined(missing, "; ")))
        else:
            self.report({"INFO"}, localized(self.outcome(study)))

    def repaint(self, context: bpy.types.Context, record: StudyRecord) -> None:
        """Color the part anew, where its map shows what was computed."""
        shown = viewing.of(context).shown
        fresh = [
            map_name for map_name in maps.available(record.study) if maps.MAPS[map_name].analysis in self.analyses()
        ]
        if shown in fresh:
            views.show(context, record, shown)

    def outcome(self, study: Study) -> str:
        """What to say when all went well."""
        names = self.analyses()
        if len(names) >= 4:
            return filled("{name}: everything calculated", name=study.part.name)
        titles = joined([TITLES.get(name, name) for name in names], ", ")
        return filled("{name}: {what} calculated", name=study.part.name, what=titles)


def _with(steps: Progress[Study], snapshot: Snapshot) -> Progress[tuple[Snapshot, Study]]:
    """The steps, whose result is the study with its snapshot."""
    study = yield from steps
    return snapshot, study


class PLATEWRIGHT_OT_measure(Studying, bpy.types.Operator):
    """Check only what is quick: mesh, plated area, current, time, metal, trapped gas and drag-out"""

    bl_idname = "platewright.measure"
    bl_label = "Quick Check"
    bl_options = {"REGISTER", "UNDO"}

    def analyses(self) -> tuple[str, ...]:
        return tuple(name for name in QUICK if name in studies.NAMES)

    def outcome(self, study: Study) -> str:
        area = figure(study.surface.plated_area.sum() / CM2, "cm2")
        return filled("{name}: plated area {area}", name=study.part.name, area=area)


class PLATEWRIGHT_OT_study(Studying, bpy.types.Operator):
    """Calculate results of the part, and what they need"""

    bl_idname = "platewright.study"
    bl_label = "Calculate"
    bl_options = {"REGISTER", "UNDO"}

    only: bpy.props.StringProperty(
        name="Analyses",
        description="Names of results, separated by commas; empty: all of them",
        options={"HIDDEN"},
    )

    quick: bpy.props.BoolProperty(
        name="Fast Estimate",
        description="Calculate with few panels, in a moment",
        default=False,
        options={"HIDDEN"},
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: Any) -> str:
        if properties.quick:
            return localized("Estimate the plating thickness with few panels, in a moment. Press Esc to cancel")
        return localized(
            filled("{what}. Press Esc to cancel", what=DESCRIPTIONS.get(properties.only, DESCRIPTIONS[""]))
        )

    def job(self, context: bpy.types.Context) -> Job:
        job = super().job(context)
        return quick(job) if self.quick else job

    def analyses(self) -> tuple[str, ...]:
        return tuple(name.strip() for name in self.only.split(",") if name.strip()) or studies.USUAL


class PLATEWRIGHT_OT_from_table(bpy.types.Operator):
    """Reset every value to the preset"""

    bl_idname = "platewright.from_table"
    bl_label = "Reset to Preset"
    bl_options = {"REGISTER", "UNDO"}

    section: bpy.props.EnumProperty(
        translation_context=language.OWN,
        name="Settings",
        description="Which settings are reset",
        options={"HIDDEN"},
        items=[("bath", "Bath", "The bath's preset"), ("coat", "Coat", "The coat's preset")],
    )

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            settings.fill_from_table(context.scene, self.section)
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_choose, PLATEWRIGHT_OT_measure, PLATEWRIGHT_OT_study, PLATEWRIGHT_OT_from_table)
