"""Headlines of findings that seldom lead a verdict: the fault in a few words, without the remedy."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code
from ..findings import Quantity as Of
from .filled import filled
from .finding_template import DIGITS, Template, counts, name, says, shown
from .plan_text import figure

HEADLINES: Mapping[Code, Template] = {
    Code.OBJECT_SKIPPED: says("{name} is not taken as it stands", name=name("object")),
    Code.FACES_TURNED: counts(
        Of.COUNT, "{count} face looks the wrong way (normals)", "{count} faces look the wrong way (normals)"
    ),
    Code.ONE_SIDED: counts(Of.SHELLS, "{count} shell has only one side", "{count} shells have only one side"),
    Code.POINTS_WELDED: counts(
        Of.COUNT, "{count} doubled point is taken as one", "{count} doubled points are taken as one"
    ),
    Code.EDGES_CLOSED: counts(
        Of.COUNT, "{count} open edge closed for the check", "{count} open edges closed for the check"
    ),
    Code.FACES_REPEATED: counts(Of.COUNT, "{count} face lies on another", "{count} faces lie on others"),
    Code.INNER_WALLS: counts(
        Of.COUNT, "{count} face lies where two bodies touch", "{count} faces lie where two bodies touch"
    ),
    Code.FACES_DEGENERATE: counts(Of.COUNT, "{count} face has no area", "{count} faces have no area"),
    Code.GAP_CLOSES: says("A gap of {gap} mm closes", gap=shown(Of.GAP)),
    Code.BORE_CLOSES: counts(Of.COUNT, "{count} bore closes", "{count} bores close"),
    Code.WALL_THIN: says("Walls of a print-size copy get too thin on {area} cm2", area=shown(Of.AREA)),
    Code.PURPOSE_THIN: says("{thickness} um are too thin for the purpose", thickness=shown(Of.THICKNESS)),
    Code.BUBBLE_PRONE: says("Bubbles cling to {area} cm2 of undersides", area=shown(Of.AREA)),
    Code.TRAPPING_OVERLAP: says("Gas between bodies that touch is not seen"),
    Code.TRAPPING_PATCHED: says("Gas is computed with the mesh's holes closed"),
    Code.INFILL_AIR: says("The infill holds {volume} mL of air", volume=shown(Of.VOLUME)),
    Code.VOID_AIR: says("Sealed voids hold {volume} mL of air", volume=shown(Of.VOLUME)),
    Code.WALLS_MEET: says("Walls of {walls} mm meet: the print counts as solid", walls=shown(Of.WALLS)),
    Code.WEIGHT_UNKNOWN: says("The weight of the part is unknown"),
    Code.COAT_HOT: says("The coat at the wire gets too warm above {limit} A", limit=shown(Of.LIMIT_CURRENT)),
    Code.CONTACT_HOT_IN_AIR: says("The wire's contact gets hot in air"),
    Code.COAT_WITHOUT_TANK: says("The coat's start is an estimate, made without the tank"),
    Code.INSIDE_SHELL: lambda f: filled(
        "{share} % of the surface lies inside another shell", share=figure(100 * f.shown(Of.SHARE), DIGITS)
    ),
    Code.OPEN_SHEET: says("The open surface counts as a sheet with liquid on both sides"),
    Code.HELD_VOLTAGE_OFF: says("The held {voltage} V do not give the wanted density", voltage=shown(Of.VOLTAGE)),
    Code.RACK_GAP_UNTRIED: says("Copies {gap} mm apart were not tried", gap=shown(Of.GAP, ".0f")),
    Code.ACID_RESTRICTED: says("EU: this acid takes a license"),
    Code.PLATES_FAR_APART: says("The measuring plates are too far apart"),
    Code.READINGS_NEGATIVE: says("The readings point to no positive voltage"),
    Code.READINGS_SCATTER: says("The readings scatter by more than 10 %"),
    Code.PANELS_REDUCED: says(
        "Memory holds {panels} of {wanted} panels",
        panels=shown(Of.PANELS, ".0f"),
        wanted=shown(Of.WANTED_PANELS, ".0f"),
    ),
    Code.FIELD_WITHOUT_COAT: says("The current is calculated as if the coat lost nothing"),
}
