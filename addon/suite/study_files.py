"""The command line's output files of a study, and the messages about them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..engine.printing.prepare import SizedCopy
from ..engine.reporting import plan, plan_masks, report, report_fits, report_vents, workshop
from ..engine.reporting.language import Language
from ..engine.study import Study, stands
from ..engine.trapping.vented import Vented
from ..engine.units import LENGTH, MM
from ..quiet import quiet
from . import writers
from .console import say
from .scene import load, stl


def write(study: Study, table: dict[str, Any], paths: dict[str, Path], told_in: Language) -> None:
    """Write all requested outputs to the staging folder."""
    if "report" in paths:
        writers.write_json(paths["report"], table)
    if "plan" in paths:
        paths["plan"].write_text(plan.write(study, told_in), encoding="utf-8", errors="backslashreplace")
    if "workshop" in paths:
        paths["workshop"].write_text(workshop.write(study, told_in), encoding="utf-8")
    if "arrays" in paths:
        writers.write_arrays(paths["arrays"], report.arrays(study))
    if "blend" in paths:
        from .draw import paint

        o = writers.scene_of(study)
        paint.paint(study, o)
        writers.write_blend(paths["blend"], o)
    unit = LENGTH.get(study.job.part.unit, MM)
    if "hanger" in paths and study.results.hanger is not None:
        hanger = study.results.hanger
        stl.write(paths["hanger"], hanger.points[hanger.triangles] / unit)
    if "plugs" in paths and study.results.plugs is not None:
        stl.write(paths["plugs"], study.results.plugs.corners / unit)
    if "masks" in paths and study.results.masks is not None:
        stl.write(paths["masks"], study.results.masks.corners / unit)
        for line in plan_masks.by_hand(study.results.masks):
            say(f"{study.part.name}: {line}")
    for option, helper in stands.printed_in(study.results).items():
        if option in paths:
            stl.write(paths[option], helper.points[helper.triangles] / unit)
    if "picture" in paths:
        from .draw import sheet

        load.empty_scene()
        with quiet():
            sheet.picture(study, paths["picture"])
    if "cut" in paths:
        from .draw import sheet_cut

        load.empty_scene()
        with quiet():
            sheet_cut.picture(study, paths["cut"])


def write_inset(study: Study, sized: SizedCopy, path: Path) -> None:
    """The copy to print, and how much smaller it is."""
    stl.write(path, writers.inset(study, sized) / LENGTH.get(study.job.part.unit, MM))
    say(f"{study.part.name}: {report_fits.summary(sized)}")


def write_vented(study: Study, opened: Vented | None, path: Path) -> None:
    """The part with its holes; unchanged if it needs none, with a message."""
    surface, name = study.surface, study.part.name
    points, triangles = (surface.points, surface.triangles) if opened is None else (opened.points, opened.triangles)
    stl.write(path, points[triangles] / LENGTH.get(study.job.part.unit, MM))
    for line in report_vents.summary_lines(study, opened):
        say(f"{name}: {line}")
