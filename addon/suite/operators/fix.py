"""Fix: change the setting, or press the button, that a finding calls for, and check the part again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ...engine.errors import InputError
from ...engine.geometry import attitude
from ...engine.progress import Progress
from ...engine.reporting import layout_text, verdict_text
from ...engine.reporting.filled import capital, filled
from ...engine.study import LEFT_OUT, Study
from ...engine.tank.vessel import roomy
from ...engine.units import A_PER_DM2, MM, ZERO_CELSIUS
from ...engine.verdict import fixes
from ...engine.verdict.fixes import Fix, FixCode
from .. import judged, refusal
from ..language import localized
from ..preview import views
from ..scene import roles, settings, stage
from ..scene.capture import meters_per_unit
from ..session import session
from . import layouts, turn
from .check import Checking
from .measure import Studying, in_object_mode
from .quality import LEVELS
from .view import record_of

GATE = -1  # the number that stands for the scale
# Fixes that are only right for the shape that was checked
OF_THE_SHAPE = (FixCode.USE_HANGING, FixCode.MARK_HOLES, FixCode.MAKE_PLUGS, FixCode.SET_WIRES)


NO_LAYOUT = (
    "{name}: no layout that was tried keeps it from staying dull without burning; nothing is changed. They are listed"
    " under Improve Evenness"
)


class LayoutTrials(Studying):
    """The layouts, as the table under Improve Evenness has them."""

    def analyses(self) -> tuple[str, ...]:
        return ("layouts",)


class PLATEWRIGHT_OT_fix(Checking, bpy.types.Operator):
    """Make this change and check the part again"""

    bl_idname = "platewright.fix"
    bl_label = "Fix"
    bl_options = {"REGISTER", "UNDO"}
    canceled = "the change is made, but not checked; press Check Again"

    number: bpy.props.IntProperty(
        name="Number", description="Which of the changes, from 0; -1: the scale", min=GATE, options={"HIDDEN"}
    )
    _made = False
    _change: Fix
    _before: Study | None = None  # the study without the change, until the new check ends
    _also: Fix | None = None  # a follow-up change made with it
    _layout: str = ""  # the one that was applied

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        try:
            fix = _fix(context, properties.number)
        except InputError:
            return cls.__doc__ or ""
        return localized(filled("{change}, and check the part again", change=TOOLTIPS[fix.code]))

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return in_object_mode(cls, context) and super().poll(context)

    def start(self, context: bpy.types.Context) -> Progress[Any]:
        fix, record = _fix(context, self.number), session.find(context)
        self._made, self._also, self._layout = False, None, ""
        self._change, self._before = fix, None if record is None else record.study
        if fix.code == FixCode.TRY_LAYOUTS:
            return self._with_layout(context)
        CHANGES[fix.code](context, fix)
        self._made = True
        return self._with_follow_up(super().start(context))

    def _with_layout(self, context: bpy.types.Context) -> Progress[Any]:
        """Try layouts, apply the one that helps, and check the part with it. Raises InputError, with nothing changed,
        where none does."""
        tried = LayoutTrials()
        result = yield from tried.start(context)
        context = bpy.context
        record = session.keep(context, *result)
        if record.study.results.layouts is None:
            raise InputError(record.study.reasons.get("layouts", LEFT_OUT))
        brightest = fixes.brightest(record.study)
        if brightest is None:
            raise InputError(filled(NO_LAYOUT, name=record.study.part.name))
        trial, density = brightest
        layouts.take(context, record, trial)
        settings.of(context.scene).target.density = _set_density(density)
        self._made, self._layout = True, capital(layout_text.name(trial))
        return (yield from self._with_follow_up(super().start(context)))

    def is_superseded(self, study: Study) -> bool:
        if self._before is None:
            return False
        self._also = fixes.follow_up(self._change, self._before, study)
        self._before = None  # at most one follows
        return self._also is not None

    def _with_follow_up(self, steps: Progress[Any]) -> Progress[Any]:
        """The check after the change; if it brings another fault, the check after both changes."""
        result = yield from steps
        if self._also is None:
            return result
        context = bpy.context
        CHANGES[self._also.code](context, self._also)
        return (yield from super().start(context))

    def outcome(self, study: Study) -> str:
        outcome = super().outcome(study)
        if self._layout:
            outcome = filled("{outcome}. Applied: {layout}", outcome=outcome, layout=self._layout)
        if self._also is None:
            return outcome
        also = verdict_text.change(self._also)
        return filled("{outcome}. Also changed, so that it does not burn: {change}", outcome=outcome, change=also)

    def refused(self) -> set[str]:
        return {"FINISHED"} if self._made else {"CANCELLED"}  # so that the change can be undone


def _fix(context: bpy.types.Context, number: int) -> Fix:
    """The change that a button stands for. Raises InputError where it is gone."""
    if number == GATE:
        size = judged.gate(context)
        if size is None:
            raise InputError("The scale of the part is not in doubt any more")
        return judged.gate_fix(size)
    record = session.find(context)
    fixes = judged.judgment(record.study).fixes if record is not None else ()
    fix = fixes[number] if number < len(fixes) else None
    if fix is None:
        raise InputError("There is nothing to change here any more; press Check Again")
    if record is not None and record.moved and fix.code in OF_THE_SHAPE:
        raise InputError(
            filled("{name}: it has changed since it was checked; press Check Again first", name=record.study.part.name)
        )
    return fix


def _scale(context: bpy.types.Context, fix: Fix) -> None:
    """Scale the objects about the origin of the scene, as an import with another scale would."""
    turn.move(context, Matrix.Scale(fix.value, 4))
    settings.of(context.scene).size_is_right = False
    view3d = context.space_data
    if isinstance(view3d, bpy.types.SpaceView3D):
        views.look_at_objects(view3d, session.objects(context))


def _hang(context: bpy.types.Context, fix: Fix) -> None:
    suggestion = record_of(context).study.results.hanging.suggestions[fix.number]
    rotation = attitude.about(suggestion.turn) @ attitude.turn_up(suggestion.up)
    chosen = settings.of(context.scene)
    chosen.part.up = settings.as_stored(rotation[2])
    chosen.place.turn = settings.as_stored([np.degrees(attitude.yaw(rotation))])[0]


def _pressed(operator: str, **options: Any) -> None:
    """Run one of our operators. Raises InputError with its sentence where it refuses."""
    try:
        getattr(bpy.ops.platewright, operator)("EXEC_DEFAULT", **options)
    except RuntimeError as refused:  # an operator's refusal reaches its caller as this error
        raise InputError(refusal.reason(refused)) from None


def _density(context: bpy.types.Context, fix: Fix) -> None:
    settings.of(context.scene).target.density = _set_density(fix.value)


def _set_density(density: float) -> float:
    """A/dm2 as the setting shows it, of A/m2."""
    return float(f"{density / A_PER_DM2:.3g}")


def _infill(context: bpy.types.Context, fix: Fix) -> None:
    settings.of(context.scene).part.infill = fix.value


def _plastic(context: bpy.types.Context, fix: Fix) -> None:
    settings.of(context.scene).part.material = fix.name


def _coat(context: bpy.types.Context, fix: Fix) -> None:
    settings.of(context.scene).coat.entry = fix.name
    settings.fill_from_table(context.scene, "coat")


def _temperature(context: bpy.types.Context, fix: Fix) -> None:
    settings.of(context.scene).bath.temperature = float(f"{fix.value - ZERO_CELSIUS:.3g}")


def _finer(context: bpy.types.Context, _fix: Fix) -> None:
    _pressed("quality", level=LEVELS[-1].name)


def _tank(context: bpy.types.Context, _fix: Fix) -> None:
    """Enlarge the tank as the part needs; a tank in the scene is scaled with its anodes, its floor in place."""
    scene, study = context.scene, record_of(context).study
    job, surface = settings.job_of(scene), study.surface
    held = stage.upright(job)
    larger = roomy(np.ptp(surface.points[np.unique(surface.triangles)] @ held.T, axis=0), job.tank)
    chosen, tank = settings.of(scene).tank, roles.tank(scene)
    if tank is not None:
        inside = roles.inside(tank, scene)
        factor = np.array(larger.size) / np.where(inside.size > 0, inside.size, 1.0)
        floor = Matrix.Translation((inside.origin / meters_per_unit(scene)).tolist())
        axes = Matrix(inside.turn.tolist()).to_4x4()
        grown = axes.inverted() @ Matrix.Diagonal((*factor.tolist(), 1.0)) @ axes
        tank.matrix_world = floor @ grown @ floor.inverted() @ tank.matrix_world
        context.view_layer.update()
    chosen.size, chosen.level = [length / MM for length in larger.size], larger.level / MM


CHANGES: Mapping[FixCode, Callable[[bpy.types.Context, Fix], None]] = {
    FixCode.SCALE_IMPORT: _scale,
    FixCode.USE_HANGING: _hang,
    FixCode.MARK_HOLES: lambda _context, _fix: _pressed("mark_holes"),
    FixCode.MAKE_PLUGS: lambda _context, _fix: _pressed("make_plugs"),
    FixCode.SET_WIRES: lambda _context, fix: _pressed("suggest_wires", number=int(fix.value)),
    FixCode.SET_COAT: _coat,
    FixCode.SET_DENSITY: _density,
    FixCode.SET_INFILL: _infill,
    FixCode.SET_PLASTIC: _plastic,
    FixCode.SET_TEMPERATURE: _temperature,
    FixCode.SET_PANELS: _finer,
    FixCode.ENLARGE_TANK: _tank,
    FixCode.TRY_LAYOUTS: lambda _context, _fix: None,  # they are tried first: see `_with_layout`
}
TOOLTIPS: Mapping[FixCode, str] = {
    FixCode.SCALE_IMPORT: "Scale the part's objects, as if the import had been scaled",
    FixCode.USE_HANGING: (
        "Hang the part in this position in the bath, and lower the current density where it would burn there. Your"
        " object stays as it is"
    ),
    FixCode.MARK_HOLES: "Add a marker, as wide as the hole has to be, wherever a vent or a drain empties the part",
    FixCode.MAKE_PLUGS: "Add plugs to print for holes that need no metal: they keep bath and current out",
    FixCode.SET_WIRES: "Add this many wires at the best positions. They replace those that are there",
    FixCode.SET_COAT: "Plan for this coat, which conducts better, with the values of its preset",
    FixCode.SET_DENSITY: "Set this current density",
    FixCode.SET_INFILL: "Print with this infill, so that the part sinks",
    FixCode.SET_PLASTIC: "Print in this plastic, which stays hard in the bath",
    FixCode.SET_TEMPERATURE: "Plan for this temperature of the bath. Bring the bath there before you plate",
    FixCode.SET_PANELS: "Calculate finer, and slower",
    FixCode.ENLARGE_TANK: "Plan for a tank that has room for the part",
    FixCode.TRY_LAYOUTS: (
        "Try other anodes and a rotation at half time, apply the best of those with which little stays dull and nothing"
        " burns"
    ),
}

CLASSES = (PLATEWRIGHT_OT_fix,)
