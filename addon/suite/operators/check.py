"""The one button: the whole check in steps, the quick ones first, and the verdict after each."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np

from ...engine import study as studies
from ...engine.findings import Code
from ...engine.mesh.part import Part
from ...engine.progress import Progress, Step
from ...engine.reporting.filled import filled
from ...engine.reporting.words import by_number
from ...engine.settings.job import Job
from ...engine.study import USUAL, Study
from ...engine.verdict import places
from ...engine.verdict.judge import Verdict
from .. import judged
from ..draw import maps, overlay
from ..preview import orientation, views
from ..scene import capture, settings, stage, viewing
from ..scene.tracers import HostTracer
from ..session import StudyRecord, session
from ..snapshot import Snapshot
from .measure import QUICK, Studying

STEPS = (  # title of a step, its analyses, its share of the time
    ("mesh, area and gas", QUICK, 0.05),
    ("small holes, vents and shielded areas", ("narrow", "openness", "vents"), 0.1),
    ("wire positions", ("contacts",), 0.05),
    ("thickness", ("field",), 0.35),
    ("voltage drop in coat", ("coat",), 0.25),
    ("hanging, ranges and fits", ("hanging", "ranges", "fits"), 0.17),
)
AFTER_VERDICT = (("the print direction", judged.AFTER_VERDICT, 0.03),)  # the same for what follows the verdict
# The map that shows a finding; where none is named, the thickness
MAPS_OF = {
    Code.GAS_TRAPPED: "gas",
    Code.GAS_LIFTS: "gas",
    Code.GAS_SWINGS: "gas",
    Code.BUBBLE_PRONE: "gas",
    Code.LIQUID_HELD: "held",
    Code.OPENINGS_NARROW: "openness",
    Code.ALMOST_BARE: "window",
    Code.THINNEST_NEVER: "window",
    Code.DULL: "window",
    Code.BURNT: "window",
    Code.ABOVE_WINDOW: "window",
    Code.BELOW_WINDOW: "window",
    Code.COAT_UNWIRED: "drop",
    Code.COAT_STAYS_BARE: "drop",
    Code.COAT_TOO_POOR: "drop",
    Code.WIRES_TOO_FEW: "drop",
    Code.COAT_HOT: "drop",
}


class Checking(Studying):
    """Work that checks the part as a whole. What was found before Esc is kept."""

    canceled = "canceled; what was found so far is kept"
    _stands = False  # whether the verdict is complete: shown, and compared with the one before

    def analyses(self) -> tuple[str, ...]:
        return USUAL

    def start(self, context: bpy.types.Context) -> Progress[Any]:
        job = self.job(context)
        snapshot = session.captured(context, session.objects(context), job)
        part = snapshot.capture.part
        return self._checked(
            snapshot, part, *stage.staged(context, job, part, session.carried(context, snapshot.capture))
        )

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        super().finished(context, result)
        if not self._stands:
            self._show_verdict(context, result[0])

    def repaint(self, context: bpy.types.Context, record: StudyRecord) -> None:
        if not self._stands:  # the analyses after the verdict do not change the colors
            super().repaint(context, record)

    def _checked(
        self, snapshot: Snapshot, part: Part, job: Job, bodies: dict[str, Part]
    ) -> Progress[tuple[Snapshot, Study]]:
        """The steps of the check; after each the study so far is kept, for the panel to draw. The verdict is shown as
        soon as it is whole. A part whose scale is in doubt is not looked at any further."""
        self._stands, known = False, session.find(bpy.context) is not None
        wanted: tuple[str, ...] = ()
        start = 0.0
        for number, (title, names, share) in enumerate((*STEPS, *AFTER_VERDICT), 1):
            wanted = (*wanted, *names)
            if number == len(STEPS):  # including analyses that no step names
                wanted = tuple(name for name in USUAL if name not in judged.AFTER_VERDICT)
            steps = studies.run(part, job, HostTracer, only=wanted, cache=snapshot.cache, bodies=bodies)
            study = yield from _titled(steps, _title(number, title), start, share)
            start += share
            context = bpy.context
            record = session.keep(context, snapshot, study)
            if number == 1 and not known:
                views.come_near(context, record)
            if judged.judgment(study).verdict.gate is not None:
                break
            if number == len(STEPS):
                if self.is_superseded(study):
                    break
                self._show_verdict(context, snapshot)
                self._stands = True
            else:
                _renew_map(context, record, names)
        return snapshot, study

    def is_superseded(self, _study: Study) -> bool:
        """Whether the part will be checked again, so that this verdict is not reported."""
        return False

    def _show_verdict(self, context: bpy.types.Context, snapshot: Snapshot) -> None:
        """Show what the check found, and compare it with the one before."""
        record = session.find(context)
        if record is None or record.snapshot is not snapshot or record.reshaped:
            return
        if not judged.owed(record.study):
            judged.note(snapshot.identity, record)
        if context.mode == "OBJECT":
            _show_worst(context, record)

    def outcome(self, study: Study) -> str:
        verdict = judged.judgment(study).verdict
        count = len(verdict.changes) + verdict.more
        if verdict.gate is not None:
            return filled("{name}: check its size first", name=study.part.name)
        if not count:
            return filled("{name}: nothing to change", name=study.part.name)
        return by_number(
            count,
            "{name}: {count} thing to change, see the verdict",
            "{name}: {count} things to change, see the verdict",
            name=study.part.name,
        )


def _renew_map(context: bpy.types.Context, record: StudyRecord, fresh: tuple[str, ...]) -> None:
    """Draw the map that is shown anew where its result is, while the others are still calculated."""
    shown = viewing.of(context).shown
    if shown not in maps.available(record.study) or record.reshaped or context.mode != "OBJECT":
        return
    if maps.MAPS[shown].analysis in fresh:
        views.show(context, record, shown)


def _title(number: int, title: str) -> str:
    if number > len(STEPS):
        return filled("the verdict stands; still looking for {title}", title=title)
    return filled("step {number} of {count}: {title}", number=number, count=len(STEPS), title=title)


def _titled(steps: Progress[Study], title: str, start: float, share: float) -> Progress[Study]:
    """The same steps under the title of the check's step, at its place in the whole."""
    try:
        while True:
            yield Step(start + share * next(steps).fraction, title)
    except StopIteration as end:
        return end.value


def _show_worst(context: bpy.types.Context, record: StudyRecord) -> None:
    """Color the part by the map of the worst finding. If its place is hidden in the view, the walls turn
    translucent."""
    verdict = judged.judgment(record.study).verdict
    map_name = worst_map(record.study, verdict)
    if not map_name:
        return
    drawing = views.show(context, record, map_name)
    shown = next((change for change in verdict.changes if MAPS_OF.get(change.code, "thickness") == map_name), None)
    faces = places.faces(shown, record.study) if shown is not None else np.zeros(0, dtype=np.int32)
    if views.hides(context, record, faces, 1.0 / capture.meters_per_unit(context.scene)):
        viewing.of(context).bodies |= map_name in orientation.MAPS
        overlay.show(drawing, record.capture.pieces, place=faces)


def worst_map(study: Study, verdict: Verdict) -> str:
    """The map of the worst finding, or of the thickness; "" where there is none to show."""
    for code in (*(change.code for change in verdict.changes), Code.NOT_CONVERGED):
        map_name = MAPS_OF.get(code, "thickness")
        if maps.MAPS[map_name].analysis in study.results.names:
            return map_name
    return next(iter(maps.available(study)), "")


class PLATEWRIGHT_OT_check(Checking, bpy.types.Operator):
    """Check everything about the part and say what to change before printing. Press Esc to cancel"""

    bl_idname = "platewright.check"
    bl_label = "Check Part"
    bl_options = {"REGISTER", "UNDO"}


class PLATEWRIGHT_OT_size_is_right(bpy.types.Operator):
    """Keep this unusual size, and check the rest"""

    bl_idname = "platewright.size_is_right"
    bl_label = "Keep This Size"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        settings.of(context.scene).size_is_right = True
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_check, PLATEWRIGHT_OT_size_is_right)
