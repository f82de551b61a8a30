"""What to expect where: thin, thick, dull, burnt or bare; what else was found; how the layers show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..units import MM, UM
from ..visibility.openness import HIDDEN
from . import finding_text, plan_fits, plan_wire, words
from .filled import sentence
from .plan_bench import Bench
from .plan_first import MAX_FIRST_FINDINGS
from .plan_schedule import charge
from .plan_text import Line, Section, area, duration, figure, length, note

if TYPE_CHECKING:
    from ..field.result import Field

MAX_TIME_RATIO = 3.0  # times the wanted time: beyond, the rest of the part would be spoilt (common practice, no source)


def expecting(bench: Bench) -> Section:
    """Where the deposit will be thin, dull, burnt or missing."""
    lines = [*_spread(bench), *_gas(bench), *_narrow(bench), *_bare(bench), *_sheltered(bench)]
    return Section("What to expect where", tuple(lines))


def found(bench: Bench) -> Section | None:
    """All findings that the pages before have no room for or no place."""
    rest = [*bench.spoiling()[MAX_FIRST_FINDINGS:], *bench.elsewhere()]
    if not rest:
        return None
    return Section("What else was found", tuple(note(sentence(finding_text.text(one))) for one in rest))


def _spread(bench: Bench) -> list[Line]:
    """Where the deposit is thin and thick, by the field."""
    field, surface = bench.field, bench.study.surface
    if field is None:
        return [note(bench.missing("field", "The spread of the deposit"))]
    plated = np.flatnonzero(surface.plated_area > 0)
    thin, thick = (surface.centroid[plated[pick(field.thickness[plated])]] for pick in (np.argmin, np.argmax))
    spread = field.thickness_spread
    lines = [
        note(
            f"Thinnest at {bench.where(thin)}, thickest at {bench.where(thick)}. Half of the area has more than"
            f" {figure(spread.median / UM, 2)} um, 5 % less than {figure(spread.p5 / UM, 2)} um. Levelers and stirring"
            " are not in these figures."
        )
    ]
    there = "on every show face" if (surface.show & surface.plated).any() else "there too"
    if field.time_thinnest > MAX_TIME_RATIO * field.time:
        lines.append(note("No time makes up for the thinnest places: open them, or hang a small anode into them."))
    elif field.time_thinnest > 1.05 * field.time:
        lines.append(note(f"For the wanted thickness {there}, plate {_longer(bench, field)}."))
    dull = field.bare_area + field.dull_area
    outside = [f"{area(dull)} below it (dull or bare)"] * (dull > 0)
    outside += [f"{area(field.burnt_area)} above it (burnt or rough)"] * (field.burnt_area > 0)
    if outside:
        lines.append(note(f"Outside the bath's window: {words.listed(outside)}."))
    return lines


def _longer(bench: Bench, field: Field) -> str:
    """How long for the thinnest place: by charge, for the field's own time is that of the wanted current."""
    timetable = bench.schedule
    if timetable is None:
        return f"for {duration(field.time_thinnest)}"
    whole = timetable.charge * field.time_thinnest / field.time
    return f"until {charge(whole)} A h have passed, about {duration(timetable.time_to(whole))} in all"


def _gas(bench: Bench) -> list[Line]:
    if bench.gas is None:
        return [note(bench.missing("gas", "Gas pockets"))]
    return []


def _narrow(bench: Bench) -> list[Line]:
    """Openings beyond the one that the finding names."""
    result = bench.study.results.narrow
    if result is None:
        return [note(bench.missing("narrow", "Narrow openings"))]
    return [
        note(
            f"Narrow {one.kind}, {figure(one.width / MM, 2)} mm wide and {figure(one.depth / MM, 2)} mm deep, at"
            f" {bench.where(one.mouth)}; narrow is what is under {length(result.width)}."
        )
        for one in result.openings[1:3]
    ]


def _bare(bench: Bench) -> list[Line]:
    if bench.coat is None:
        return [note(bench.missing("coat", "Losses along the coat"))]
    return plan_wire.bare(bench)


def _sheltered(bench: Bench) -> list[Line]:
    """The preview, where no field says more."""
    if bench.field is not None:
        return []
    seen = bench.study.results.openness
    if seen is None:
        return [note(bench.missing("openness", "Shielded areas"))]
    if not seen.hidden_area:
        return [note("No face is shielded from the bath.")]
    share = f"{100 * HIDDEN:.0f} %"
    return [note(f"Thin on {area(seen.hidden_area)} that see less than {share} of the open bath; polish them least.")]


def layers(bench: Bench) -> Section | None:
    """How layer steps and growth come about."""
    prepared = bench.prepared
    if prepared is None or not prepared.maximum > 0:
        return None
    layer = figure(bench.job.print.layer / MM, 2)
    thin = 100 * prepared.step_thinning
    return Section(
        "Layer steps",
        (
            note(
                f"Layers of {layer} mm leave steps of {figure(prepared.median / UM, 2)} um (median) to"
                f" {figure(prepared.maximum / UM, 2)} um as printed. Left so, they add area, and the deposit is"
                f" thinner by {thin:.0f} % at most: paint rounds them, and a bright bath levels small ones."
            ),
            *plan_fits.sanding(bench),
        ),
    )
