"""What to expect where: thin, thick, dull, burnt or bare; what else was found; how the layers show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..field.cautions import NEGLIGIBLE_AREA_SHARE, burns
from ..units import MM, UM
from ..visibility.openness import MAX_HIDDEN_OPENNESS
from . import finding_text, plan_fits, plan_wire, words
from .filled import filled, keyed, sentence
from .plan_bench import Bench
from .plan_first import MAX_FIRST_FINDINGS
from .plan_schedule import charge
from .plan_text import Line, Section, area, duration, figure, length, note

if TYPE_CHECKING:
    from ..field.result import Field

MAX_TIME_RATIO = 3.0  # times the wanted time: longer plating spoils the rest of the part (common practice, no source)


def expecting(bench: Bench) -> Section:
    """Where the deposit will be thin, dull, burnt or missing."""
    lines = [*_spread(bench), *_gas(bench), *_narrow(bench), *_bare(bench), *_sheltered(bench)]
    return Section("What to expect where", tuple(lines))


def further_findings(bench: Bench) -> Section | None:
    """All findings that do not appear on the pages before."""
    further = [*bench.spoiling()[MAX_FIRST_FINDINGS:], *bench.elsewhere()]
    if not further:
        return None
    return Section("What else was found", tuple(note(sentence(finding_text.text(finding))) for finding in further))


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
            filled(
                "Thinnest at {thin}, thickest at {thick}. Half of the area has more than {median} um, 5 % less than"
                " {p5} um. Levelers and stirring are not in these figures.",
                thin=bench.where(thin),
                thick=bench.where(thick),
                median=figure(spread.median / UM, 2),
                p5=figure(spread.p5 / UM, 2),
            )
        )
    ]
    if bench.stopped:
        return lines + _outside(bench, field)
    if field.time_thinnest > MAX_TIME_RATIO * field.time:
        lines.append(
            note("Longer plating does not fix the thinnest places: open them, or hang a small anode into them.")
        )
    elif field.time_thinnest > 1.05 * field.time:
        shown = bool((surface.show & surface.plated).any())
        template = "For the wanted thickness on every visible face, plate {longer}."
        too = "For the wanted thickness at the thinnest place too, plate {longer}."
        lines.append(note(filled(template if shown else too, longer=_longer(bench, field))))
    return lines + _outside(bench, field)


def _outside(bench: Bench, field: Field) -> list[Line]:
    """Areas outside the bath's range, unless negligible."""
    whole = float(bench.study.surface.plated_area.sum())
    dull, least = field.bare_area + field.dull_area, NEGLIGIBLE_AREA_SHARE * whole
    outside: list[str] = []
    if dull > least:
        outside.append(filled("{area} below it (dull or bare)", area=area(dull)))
    if burns(bench.job, field, whole):
        outside.append(filled("{area} above it (burnt or rough)", area=area(field.burnt_area)))
    return [note(filled("Outside the bath's plating range: {areas}.", areas=words.listed(outside)))] if outside else []


def _longer(bench: Bench, field: Field) -> str:
    """The time for the thinnest place, by charge, because the field's own time assumes the wanted current."""
    timetable = bench.schedule
    if timetable is None:
        return filled("for {time}", time=duration(field.time_thinnest))
    whole = timetable.charge * field.time_thinnest / field.time
    until = "until {charge} A h have passed, about {time} in all"
    return filled(until, charge=charge(whole), time=duration(timetable.time_to(whole)))


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
            filled(
                "Narrow {kind}, {width} mm wide and {depth} mm deep, at {place}; narrow is what is under {least}.",
                kind=keyed(opening.kind, f"{opening.kind} (narrow)"),
                width=figure(opening.width / MM, 2),
                depth=figure(opening.depth / MM, 2),
                place=bench.where(opening.mouth),
                least=length(result.width),
            )
        )
        for opening in result.openings[1:3]
    ]


def _bare(bench: Bench) -> list[Line]:
    if bench.coat is None:
        return [note(bench.missing("coat", "Losses along the coat"))]
    return plan_wire.bare(bench)


def _sheltered(bench: Bench) -> list[Line]:
    """Shielded areas from the preview, where there is no field."""
    if bench.field is not None:
        return []
    seen = bench.study.results.openness
    if seen is None:
        return [note(bench.missing("openness", "Shielded areas"))]
    if not seen.hidden_area:
        return [note("No face is shielded from the bath.")]
    thin = "Thin on {area} that see less than {share} % of the open bath; polish them least."
    return [note(filled(thin, area=area(seen.hidden_area), share=f"{100 * MAX_HIDDEN_OPENNESS:.0f}"))]


def layers(bench: Bench) -> Section | None:
    """The effect of layer steps and growth."""
    prepared = bench.prepared
    if prepared is None or not prepared.maximum > 0 or bench.metal_part:
        return None
    layer = figure(bench.job.print.layer / MM, 2)
    thin = 100 * prepared.step_thinning
    return Section(
        "Layer steps",
        (
            note(
                filled(
                    "Layers of {layer} mm leave steps of {median} um (median) to {most} um as printed. Unsanded,"
                    " they add area, and the deposit is thinner by {percent} % at most: paint rounds them, and a"
                    " bright bath levels small ones.",
                    layer=layer,
                    median=figure(prepared.median / UM, 2),
                    most=figure(prepared.maximum / UM, 2),
                    percent=f"{thin:.0f}",
                )
            ),
            *plan_fits.sanding(bench),
        ),
    )
