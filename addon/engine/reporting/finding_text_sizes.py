"""The sentences of findings on gaps, bores, walls and the thickness for a purpose: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code, Finding
from ..findings import Quantity as Of
from ..units import MM, UM
from .filled import filled
from .finding_template import Template, counts, first_place, name, says, shown, two_digits
from .plan_text import figure, point


def _gap_closes(f: Finding) -> str:
    return filled(
        "A gap of {gap} mm at {at} closes: coat and deposit of both sides are {layers} mm, on {area} cm2. Widen it in"
        " the model, or mask it.",
        gap=two_digits(f, Of.GAP),
        at=point(f.places[0]),
        layers=figure(f.shown(Of.THICKNESS) * UM / MM, 2),
        area=two_digits(f, Of.AREA),
    )


def _wall_thin(f: Finding) -> str:
    left = f.shown(Of.WALLS) - f.shown(Of.THICKNESS) * UM / MM
    figures = {
        "area": two_digits(f, Of.AREA),
        "wall": two_digits(f, Of.WALLS),
        "at": point(f.places[0]),
        "least": two_digits(f, Of.WIDTH),
    }
    if left > 0:
        return filled(
            "In a print-size copy walls get too thin to print on {area} cm2: of {wall} mm at {at} {left} mm are left,"
            " less than one line of {least} mm. Thicken the model there, or print it as it is and let it grow.",
            left=figure(left, 2),
            **figures,
        )
    return filled(
        "In a print-size copy walls get too thin to print on {area} cm2: of {wall} mm at {at} nothing is left, less"
        " than one line of {least} mm. Thicken the model there, or print it as it is and let it grow.",
        **figures,
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.GAP_CLOSES: _gap_closes,
    Code.BORE_CLOSES: counts(
        Of.COUNT,
        "{count} bore closes, the first of {diameter} mm at {at}: coat and deposit are up to"
        " {thickness} um all around. Model it wider, plug it, or drill it afterwards.",
        "{count} bores close, the first of {diameter} mm at {at}: coat and deposit are up to"
        " {thickness} um all around. Model it wider, plug it, or drill it afterwards.",
        diameter=shown(Of.DIAMETER),
        at=first_place,
        thickness=shown(Of.THICKNESS),
    ),
    Code.WALL_THIN: _wall_thin,
    Code.PURPOSE_THIN: says(
        "For its purpose, {purpose}, {thickness} um are too thin: set the thickness to {needed} um (limited by"
        " {limit}).",
        purpose=name("purpose"),
        thickness=shown(Of.THICKNESS),
        needed=shown(Of.NEEDED_THICKNESS),
        limit=name("limit"),
    ),
}
