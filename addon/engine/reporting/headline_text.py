"""Headlines of findings on which a verdict seldom opens: what is wrong, in a few words, without what to do about it."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code, Finding
from ..findings import Quantity as Of
from .filled import filled
from .finding_text_mesh import Template
from .plan_text import figure
from .words import by_number

DIGITS = 2


def _shown(finding: Finding, quantity: Of) -> str:
    return figure(finding.shown(quantity), DIGITS)


def _counted(single: str, several: str) -> Template:
    """A headline about a number of things: one template for a single thing, one for several."""
    return lambda f: by_number(f.shown(Of.COUNT), single, several)


HEADLINES: Mapping[Code, Template] = {
    Code.OBJECT_SKIPPED: lambda f: filled("{name} is not taken as it stands", name=f.names["object"]),
    Code.FACES_TURNED: _counted(
        "{count} face looks the wrong way (normals)", "{count} faces look the wrong way (normals)"
    ),
    Code.ONE_SIDED: lambda f: by_number(
        f.shown(Of.SHELLS), "{count} shell has only one side", "{count} shells have only one side"
    ),
    Code.POINTS_WELDED: _counted("{count} doubled point is taken as one", "{count} doubled points are taken as one"),
    Code.EDGES_CLOSED: _counted("{count} open edge closed for the check", "{count} open edges closed for the check"),
    Code.FACES_REPEATED: _counted("{count} face lies on another", "{count} faces lie on others"),
    Code.INNER_WALLS: _counted("{count} face lies where two bodies touch", "{count} faces lie where two bodies touch"),
    Code.FACES_DEGENERATE: _counted("{count} face has no area", "{count} faces have no area"),
    Code.GAP_CLOSES: lambda f: filled("A gap of {gap} mm closes", gap=_shown(f, Of.GAP)),
    Code.BORE_CLOSES: _counted("{count} bore closes", "{count} bores close"),
    Code.WALL_THIN: lambda f: filled("Walls of a print-size copy get too thin on {area} cm2", area=_shown(f, Of.AREA)),
    Code.PURPOSE_THIN: lambda f: filled(
        "{thickness} um are too thin for the purpose", thickness=_shown(f, Of.THICKNESS)
    ),
    Code.BUBBLE_PRONE: lambda f: filled("Bubbles cling to {area} cm2 of undersides", area=_shown(f, Of.AREA)),
    Code.TRAPPING_OVERLAP: lambda f: "Gas between bodies that touch is not seen",
    Code.TRAPPING_PATCHED: lambda f: "Gas is computed with the mesh's holes closed",
    Code.INFILL_AIR: lambda f: filled("The infill holds {volume} mL of air", volume=_shown(f, Of.VOLUME)),
    Code.VOID_AIR: lambda f: filled("Sealed voids hold {volume} mL of air", volume=_shown(f, Of.VOLUME)),
    Code.WALLS_MEET: lambda f: filled("Walls of {walls} mm meet: the print counts as solid", walls=_shown(f, Of.WALLS)),
    Code.WEIGHT_UNKNOWN: lambda f: "The weight of the part is unknown",
    Code.COAT_HOT: lambda f: filled(
        "The coat at the wire gets too warm above {limit} A", limit=_shown(f, Of.LIMIT_CURRENT)
    ),
    Code.CONTACT_HOT_IN_AIR: lambda f: "The wire's contact gets hot in air",
    Code.COAT_WITHOUT_TANK: lambda f: "The coat's start is an estimate, made without the tank",
    Code.INSIDE_SHELL: lambda f: filled(
        "{share} % of the surface lies inside another shell", share=figure(100 * f.shown(Of.SHARE), DIGITS)
    ),
    Code.OPEN_SHEET: lambda f: "The open surface counts as a sheet with liquid on both sides",
    Code.HELD_VOLTAGE_OFF: lambda f: filled(
        "The held {voltage} V do not give the wanted density", voltage=_shown(f, Of.VOLTAGE)
    ),
    Code.RACK_GAP_UNTRIED: lambda f: filled("Copies {gap} mm apart were not tried", gap=f"{f.shown(Of.GAP):.0f}"),
    Code.ACID_RESTRICTED: lambda f: "EU: this acid takes a license",
    Code.PLATES_FAR_APART: lambda f: "The measuring plates are too far apart",
    Code.READINGS_NEGATIVE: lambda f: "The readings point to no positive voltage",
    Code.READINGS_SCATTER: lambda f: "The readings scatter by more than 10 %",
    Code.PANELS_REDUCED: lambda f: filled(
        "Memory holds {panels} of {wanted} panels",
        panels=f"{f.shown(Of.PANELS):.0f}",
        wanted=f"{f.shown(Of.WANTED_PANELS):.0f}",
    ),
    Code.FIELD_WITHOUT_COAT: lambda f: "The current is calculated as if the coat lost nothing",
}
