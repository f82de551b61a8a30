"""Targets that follow from a fixed time or current; nothing is set until a row is applied."""

from __future__ import annotations

import bpy

from ...engine.chemistry import deposit
from ...engine.errors import InputError
from ...engine.reporting.finding_text import texts
from ...engine.settings.bath import Bath
from ...engine.settings.target import Target
from ...engine.units import A_PER_DM2, HOUR, UM
from ..draw.rows import facts, inputs, say
from ..figures import duration, figure
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel

TITLES = {"density": "Same current density", "thickness": "Same thickness", "both": "Time and current fixed"}


class PLATEWRIGHT_PT_fixed(SidebarPanel, bpy.types.Panel):
    """See what deposit a given time or current makes. Nothing changes until you apply it"""

    bl_label = "Set by Time or Current"
    page = "5-tank-and-bath"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen, "fixed_time", "fixed_current")
        record = session.find(context)
        planned = record.study.results.deposit if record is not None else None
        if record is None or planned is None:
            say(layout, "Check the part first", icon="INFO")
            return
        if not chosen.fixed_time and not chosen.fixed_current:
            say(layout, "Type a time or a current, or both", icon="INFO")
            return
        area = planned.area * planned.copies
        try:
            job = settings.job_of(context.scene)
            choices = deposit.choices(
                job.target, job.bath, area, chosen.fixed_time * HOUR or None, chosen.fixed_current or None
            )
        except InputError as fault:
            say(layout, fault.args[0], icon="CANCEL")
            return
        for name, target in choices:
            _choice(layout, TITLES[name], target, job.bath, area)


def _choice(layout: bpy.types.UILayout, title: str, target: Target, bath: Bath, area: float) -> None:
    box = layout.box()
    row = box.row()
    row.label(text=title)
    take = row.operator("platewright.take_target", text="", icon="CHECKMARK")
    take.thickness, take.density = target.thickness / UM, target.density / A_PER_DM2
    facts(
        box,
        [
            ("Thickness", figure(target.thickness / UM, "um")),
            ("Current Density", figure(target.density / A_PER_DM2, "A/dm2")),
            ("Current", figure(deposit.current_for(target.density, area), "A")),
            ("Time", duration(deposit.time_for(target.thickness, target.density, bath))),
        ],
    )
    for sentence in texts(deposit.window_findings(target.density, bath)):
        say(box, sentence, icon="ERROR")


CLASSES = (PLATEWRIGHT_PT_fixed,)
