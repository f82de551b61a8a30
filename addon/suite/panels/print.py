"""How the part is printed: weight, floating, growth, and a copy that compensates for it."""

from __future__ import annotations

from typing import Any

import bpy

from ...engine.reporting import plan_fits, verdict_text, words
from ...engine.reporting.filled import filled
from ...engine.reporting.finding_text import text
from ...engine.units import CM2, GRAM, UM
from ...engine.verdict.judge import Section, of_section, section
from ..draw.rows import facts, inputs, say
from ..figures import figure
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel, StepPanel, answer, show_button

MAX_FITS = 2  # fits that change most; the others are under the details


class PLATEWRIGHT_PT_print(StepPanel, bpy.types.Panel):
    """How the part is printed. Its weight, its layer steps and whether it floats follow from this"""

    bl_label = "Print"
    page = "2-print"
    section = Section.PRINT

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen.part, "material", "walls", "infill")
        inputs(layout, chosen.print, "layer")
        hanging = answer(context, layout, "hanging", lambda results: results.hanging)
        if hanging is not None and hanging.body is not None:
            facts(layout, _weight(hanging))
            for finding in of_section(hanging.findings, Section.PRINT):
                say(layout, verdict_text.headline(finding), icon="ERROR")
        fits = kept_fits(context)
        if fits is not None and fits.affected:
            worst = sorted((fit for fit, _ in fits.sizes() if fit.affected), key=lambda fit: -fit.change / fit.diameter)
            facts(layout, [_fit(fit, 1) for fit in worst[:MAX_FITS]])
        layout.operator("platewright.inset", icon="MOD_SOLIDIFY")


def _direction(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    """The way up on the printer that leaves the least to sand, where it is another one."""
    record = session.find(context)
    if record is None or record.moved or "orientation" in record.stale(context.scene):
        return
    orientation = record.study.results.orientation
    if orientation is None or orientation.better is None:
        return
    best, now = orientation.better, orientation.as_set
    say(layout, filled("Less to sand if printed {up}", up=words.way_up(best.up)), icon="INFO")
    rows = [
        ("Steps to Sand", best.rough_area, now.rough_area),
        ("Support Contact", best.support_area, now.support_area),
    ]
    facts(
        layout,
        [(name, filled("{best}, not {now}", best=figure(a / CM2), now=figure(b / CM2, "cm2"))) for name, a, b in rows],
    )
    layout.operator("platewright.use_print_direction", icon="ORIENTATION_GLOBAL")


def kept_fits(context: bpy.types.Context) -> Any:
    """The fits, if they are up to date."""
    record = session.find(context)
    if record is None or record.moved or "fits" in record.stale(context.scene):
        return None
    return record.study.results.fits


def _fit(fit: Any, count: int) -> tuple[str, str]:
    """A bore, shaft or thread with its diameter, and what to model instead."""
    kind, size = fit.kind.value.title(), plan_fits.size(fit.diameter)
    label = filled("{kind} {size} mm", kind=kind, size=size)
    if count > 1:
        label = filled("{count} x {found}", count=count, found=label)
    return label, filled("model {size} mm", size=plan_fits.size(fit.model))


def _weight(hanging: Any) -> list[tuple[str, str]]:
    """What the print weighs, dry and in the bath."""
    rows = [("Print Weight", figure(hanging.body.mass / GRAM, "g", digits=3))]
    if hanging.start is not None:
        net = hanging.start.net / GRAM
        rows.append(("Weight in Bath" if net > 0 else "Lift in Bath", figure(abs(net), "g")))
    if hanging.end is not None:
        net = hanging.end.net / GRAM
        rows.append(("Weight When Plated" if net > 0 else "Lift When Plated", figure(abs(net), "g")))
    return rows


class PLATEWRIGHT_PT_print_details(SidebarPanel, bpy.types.Panel):
    """How much coat and deposit add to the size, and where layer lines will show through"""

    bl_label = "Details"
    page = "2-print"
    bl_parent_id = "PLATEWRIGHT_PT_print"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        inputs(layout, settings.of(context.scene).print, "filler", "up")
        _direction(context, layout)
        preparation = answer(context, layout, "preparation", lambda results: results.preparation)
        if preparation is None:
            return
        facts(
            layout,
            [
                ("Growth of Each Face", figure(preparation.growth / UM, "um")),
                ("Loss of Hole Diameter", figure(preparation.bore_loss / UM, "um")),
                ("Layer Steps, Median", figure(preparation.median / UM, "um")),
                ("Layer Steps, Highest", figure(preparation.maximum / UM, "um")),
                ("Area to Sand", figure(preparation.sanding_area / CM2, "cm2")),
            ],
        )
        show_button(layout, "staircase", "Show Layer Steps")
        fits = kept_fits(context)
        if fits is not None and fits.fits:
            layout.label(text="Bores and Shafts When Plated")
            for fit, count in fits.sizes()[: plan_fits.MAX_LISTED_SIZES]:
                name, model = _fit(fit, count)
                facts(layout, [(name, filled("{size} mm", size=plan_fits.finished(fit))), ("", model)])
        hanging = answer(context, layout, "hanging", lambda results: results.hanging)
        if hanging is None:
            return
        rows = [("Deposit Weight", figure(hanging.deposit / GRAM, "g", digits=3))]
        if hanging.sinks:
            rows.append(("Sinks from Thickness", figure(hanging.sinks_thickness / UM, "um")))
        facts(layout, rows)
        for finding in hanging.findings:
            if section(finding.code) == Section.PRINT:
                say(layout, text(finding), icon="ERROR")


CLASSES = (PLATEWRIGHT_PT_print, PLATEWRIGHT_PT_print_details)
