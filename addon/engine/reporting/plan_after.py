"""The plan after the bath: finishing, what to expect where, cautions, and what was assumed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..settings.job import Job, Kinetics, read_job
from ..settings.schema import Spec, specs, write
from ..settings.tables import plastic
from ..units import ML, MM, UM
from ..visibility.openness import HIDDEN
from . import plan_wire, words
from .plan_before import missing, where
from .plan_text import Section, area, duration, figure, length, mass, note, step

if TYPE_CHECKING:
    from ..analyses import Study
    from ..coat.result import CoatResult
    from ..field.result import Field
    from ..trapping.gas import Drainage, Gas
    from ..trapping.narrow import NarrowOpenings
    from ..visibility.openness import Openness

LONG = 3.0  # times the wanted time: beyond, the rest of the part would be spoilt (common practice, no source)
# What is listed as assumed; names and marks in the model are no figures of the bench.
LISTED = ("part", "target", "bath", "batch", "tank", "coat", "supply", "print")
UNSAID = ("file", "object", "mask", "show", "name")


def finishing(study: Study) -> Section:
    """Rinse, weigh, sand, polish, protect."""
    job = study.job
    drainage: Drainage | None = study.as_hung("drainage")
    deposit = study.results.get("deposit")
    pour = ", pour out what it holds" if drainage is not None and drainage.held_volume > 0.05 * ML else ""
    lines = [
        step(f"Switch off, then lift it out slowly over the tank{pour}; rinse twice in a basin at once; dry cool.")
    ]
    if deposit is not None:
        lines.append(step(f"Weigh it: {mass(deposit.mass)} more than before is what was wanted."))
    lines.append(step("Sand wet, 600 to 2000 grit, lightly: edges are soon sanded through."))
    warm = ""
    if job.coat.sheet_resistance > 0:
        softens = plastic(job.part.material, "part.material")["softens_C"]
        warm = (
            ", cool to the touch: warmth lifts the film from the plastic"
            f" ({job.part.material} softens from about {softens:.0f} C)"
        )
    lines.append(step(f"Polish slowly{warm}. Then at once patina if wanted, and wax or lacquer against tarnish."))
    return Section("After plating", tuple(lines))


def expecting(study: Study) -> Section:
    """Where the deposit will be thin, dull, burnt or missing."""
    lines = _spread(study)
    lines += _gas(study)
    lines += _narrow(study)
    lines += _bare(study)
    lines += _sheltered(study)
    return Section("What to expect where", tuple(lines))


def _spread(study: Study) -> list[str]:
    """Where the deposit is thin and thick, by the field."""
    field: Field | None = study.results.get("field")
    surface = study.surface
    if field is None or surface is None:
        return [note(missing(study, "field", "The spread of the deposit"))]
    spread, plated = field.thickness_spread, np.flatnonzero(surface.plated_area > 0)
    thin, thick = (surface.centroid[plated[pick(field.thickness[plated])]] for pick in (np.argmin, np.argmax))
    lines = [
        note(
            f"Thickness {figure(spread.min / UM, 2)} um (thinnest, at {where(study, thin)}),"
            f" {figure(spread.median / UM, 2)} um (median), {figure(spread.max / UM, 2)} um (thickest, at"
            f" {where(study, thick)}); 5 % of the area stay below {figure(spread.p5 / UM, 2)} um."
        )
    ]
    there = "on every show face" if (surface.show & surface.plated).any() else "there too"
    if field.time_thinnest > LONG * field.time:
        lines.append(note("No time makes up for the thinnest places: open them, or hang a small anode into them."))
    elif field.time_thinnest > 1.05 * field.time:
        lines.append(note(f"For the wanted thickness {there}, plate for {duration(field.time_thinnest)}."))
    dull = field.bare_area + field.dull_area
    outside = [f"{area(dull)} below it (dull or bare)"] * (dull > 0)
    outside += [f"{area(field.burnt_area)} above it (burnt or rough)"] * (field.burnt_area > 0)
    if outside:
        lines.append(note(f"Outside the bath's window: {words.listed(outside)}."))
    return lines


def _gas(study: Study) -> list[str]:
    gas: Gas | None = study.as_hung("gas")
    if gas is None:
        return [note(missing(study, "gas", "Gas pockets"))]
    lines = []
    if gas.trapped_plated_area > 0:
        bare = area(gas.trapped_plated_area)
        lines.append(note(f"Bare in the gas pockets, unless they are vented or the part is turned: {bare}."))
    if gas.level_underside_area > 0:
        lines.append(
            note(f"Matt or pitted on {area(gas.level_underside_area)} of level undersides, where bubbles cling.")
        )
    return lines


def _narrow(study: Study) -> list[str]:
    found: NarrowOpenings | None = study.results.get("narrow")
    if found is None:
        return [note(missing(study, "narrow", "Narrow openings"))]
    lines = [
        note(
            f"A {opening.kind} {figure(opening.width / MM)} mm wide, {figure(opening.depth / MM)} mm deep at"
            f" {where(study, opening.mouth)} may not flood and will hardly plate inside: widen or plug it."
        )
        for opening in found.openings[:1]
    ]
    rest = len(found.openings) - 1
    if rest > 0:
        lines.append(note(f"{rest} more openings are narrower than {length(found.width)}: see the report."))
    return lines


def _bare(study: Study) -> list[str]:
    coat: CoatResult | None = study.results.get("coat")
    if coat is None:
        return [note(missing(study, "coat", "Losses along the coat"))]
    return plan_wire.bare(coat)


def _sheltered(study: Study) -> list[str]:
    """The preview, where no field says more."""
    if "field" in study.results:
        return []
    seen: Openness | None = study.results.get("openness")
    if seen is None:
        return [note(missing(study, "openness", "Sheltered places"))]
    if not seen.hidden_area:
        return [note("No face is sheltered from the bath.")]
    return [
        note(
            f"Thin on {area(seen.hidden_area)} that see less than {100 * HIDDEN:.0f} % of the open bath;"
            " polish them least."
        )
    ]


def assumed(study: Study) -> Section:
    """Every setting that was not written; where nobody knows what was, those that have their usual value."""
    job = study.job
    silent = read_job({"bath": {"name": job.bath.name, "file": job.bath.file}, "coat": {"name": job.coat.name}})
    found = []
    for name in LISTED:
        same = _unsaid(name, job, getattr(silent, name))
        if name == "bath" and _silent("kinetics", job, silent):
            same.append(_kinetics(job.bath.kinetics))
        if name == "bath" and _silent("anode_kinetics", job, silent):
            same.append(f"{_kinetics(job.bath.anode_kinetics)} at the anode")
        if same:
            found.append(f"{name}: {', '.join(same)}")
    found += _layout(job)
    return Section("Assumed, because the job does not say otherwise", ("; ".join(found) + ".",))


def _unsaid(name: str, job: Job, silent: Any) -> list[str]:
    """The settings of a section that nobody wrote. silent : the section when nothing is said"""
    section = getattr(job, name)
    ours, theirs = write(section), write(silent)
    follows = _following(job)

    def written(key: str) -> bool:
        full = f"{name}.{key}"
        return ours[key] != theirs[key] if job.said is None else full in job.said or full in follows

    return [
        f"{spec.label.lower()} {_shown(ours[spec.key], spec)}{f' {spec.unit}' if spec.unit else ''}"
        for spec in specs(type(section)).values()
        if spec.key not in UNSAID and not written(spec.key) and ours[spec.key] not in (None, "")
    ]


def _following(job: Job) -> set[str]:
    """The settings that follow from others which were written, and so are no assumption."""
    said, found = job.said or frozenset(), set()
    if job.bath.measured is not None:
        found.add("bath.conductivity_S_m")
    fixed = job.target.current is not None or "target.density_A_dm2" in said
    if job.target.current is not None or (job.target.time is not None and "target.thickness_um" in said):
        found.add("target.density_A_dm2")
    if job.target.time is not None and (fixed or "target.thickness_um" not in said):
        found.add("target.thickness_um")
    return found


def _silent(law: str, job: Job, silent: Job) -> bool:
    """Whether nothing was written of one of the bath's laws."""
    if job.said is None:
        return bool(getattr(job.bath, law) == getattr(silent.bath, law))
    return f"bath.{law}" not in job.said


def _kinetics(law: Kinetics) -> str:
    if law.kind == "tafel":
        return f"Tafel kinetics with {law.exchange:g} A/m2 of exchange and transfer {law.transfer:g}"
    if law.kind == "butler-volmer":
        both = f"transfer {law.transfer:g} and {law.anodic:g}"
        return f"Butler and Volmer's kinetics with {law.exchange:g} A/m2 of exchange, {both}"
    return f"polarization {law.resistance:g} ohm m2" if law.kind == "linear" else "no polarization"


def _shown(value: Any, spec: Spec) -> str:
    if isinstance(value, list):
        between = " to " if spec.size == 2 else " x " if spec.unit else ", "
        return between.join(f"{item:g}" for item in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _layout(job: Job) -> list[str]:
    found = []
    if job.anodes is None:
        found.append("anodes: two plates, one on each long side of the tank, as tall as the part")
    if job.place.centre is None and not job.rack.positions:
        found.append("part in the middle of the tank")
    return found
