"""Assumptions of a plan: every setting that the job did not specify."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..settings.bath import Kinetics
from ..settings.job import Job, read_job
from ..settings.schema import Spec, specs, write
from ..settings.target import PURPOSES
from .filled import filled, joined, keyed, sentence
from .plan_text import Line, Section

if TYPE_CHECKING:
    from .plan_bench import Bench

# What is listed as assumed; names and marks in the model are no figures of the bench.
LISTED = ("part", "target", "bath", "batch", "tank", "coat", "supply", "print")
NEVER_ASSUMED = ("file", "object", "mask", "show", "name")
PRINT_SETTINGS = ("material", "walls", "infill")  # of the part; a metal part has none


def assumed(bench: Bench) -> Section:
    """Every setting that was not specified; where that is unknown, those at their default value."""
    job = bench.job
    silent = read_job({"bath": {"name": job.bath.name, "file": job.bath.file}, "coat": {"name": job.coat.name}})
    lines: list[str] = []
    for name in LISTED:
        if (name == "coat" and bench.metal_part) or (name == "print" and job.is_metal):
            continue
        same = _unsaid(name, job, getattr(silent, name))
        if name == "bath" and _silent("kinetics", job, silent):
            same.append(_kinetics(job.bath.kinetics))
        if name == "bath" and _silent("anode_kinetics", job, silent):
            same.append(filled("{law} at the anode", law=_kinetics(job.bath.anode_kinetics)))
        if same:
            section = keyed(name, f"{name} (section)")
            lines.append(filled("{section}: {settings}", section=section, settings=joined(same, ", ")))
    lines += _layout(job)
    return Section("Assumed, because the job does not say otherwise", (Line("", sentence(joined(lines, "; "))),))


def _unsaid(name: str, job: Job, silent: Any) -> list[str]:
    """The unspecified settings of a section. silent : the section with all defaults"""
    section = getattr(job, name)
    actual, default = write(section), write(silent)
    follows = _following(job)

    def written(key: str) -> bool:
        full = f"{name}.{key}"
        return actual[key] != default[key] if job.specified is None else full in job.specified or full in follows

    return [
        _setting(spec, actual[spec.key])
        for field, spec in specs(type(section)).items()
        if spec.key not in NEVER_ASSUMED and not written(spec.key) and actual[spec.key] not in (None, "")
        if not (name == "target" and _idle(field, job))
        if not (name == "part" and job.is_metal and field in PRINT_SETTINGS)
    ]


def _idle(field: str, job: Job) -> bool:
    """Whether a setting of the target belongs to a purpose that the deposit does not have."""
    purpose = job.target.purpose
    others = {name for names in PURPOSES.values() for name in names} - set(PURPOSES[purpose])
    return field in others or (field == "purpose" and purpose == "none")


def _following(job: Job) -> set[str]:
    """The settings that follow from others which were written, and so are no assumption."""
    specified, following = job.specified or frozenset(), set()
    if job.bath.measured is not None:
        following.add("bath.conductivity_S_m")
    fixed = job.target.current is not None or "target.density_A_dm2" in specified
    if job.target.current is not None or (job.target.time is not None and "target.thickness_um" in specified):
        following.add("target.density_A_dm2")
    if job.target.time is not None and (fixed or "target.thickness_um" not in specified):
        following.add("target.thickness_um")
    return following


def _silent(law: str, job: Job, silent: Job) -> bool:
    """Whether one of the bath's kinetics was left unspecified."""
    if job.specified is None:
        return bool(getattr(job.bath, law) == getattr(silent.bath, law))
    return f"bath.{law}" not in job.specified


def _kinetics(law: Kinetics) -> str:
    if law.kind == "tafel":
        tafel = "Tafel kinetics with {exchange} A/m2 of exchange and transfer {transfer}"
        return filled(tafel, exchange=f"{law.exchange:g}", transfer=f"{law.transfer:g}")
    if law.kind == "butler-volmer":
        return filled(
            "Butler and Volmer's kinetics with {exchange} A/m2 of exchange, transfer {transfer} and {anodic}",
            exchange=f"{law.exchange:g}",
            transfer=f"{law.transfer:g}",
            anodic=f"{law.anodic:g}",
        )
    if law.kind == "linear":
        return filled("polarization {resistance} ohm m2", resistance=f"{law.resistance:g}")
    return "no polarization"


def _setting(spec: Spec, value: Any) -> str:
    """A setting as the panels call it, with its value."""
    label = keyed(spec.label.lower(), spec.label)
    template = "{setting} {value} {unit}" if spec.unit else "{setting} {value}"
    return filled(template, setting=label, value=_shown(value, spec), unit=spec.unit)


def _shown(value: Any, spec: Spec) -> str:
    if isinstance(value, list):
        items = [f"{item:g}" for item in value]
        if spec.size == 2:
            return filled("{low} to {high}", low=items[0], high=items[1])
        return (" x " if spec.unit else ", ").join(items)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _layout(job: Job) -> list[str]:
    lines = []
    if job.anodes is None:
        lines.append("anodes: two plates, of the bath's usual ratio to parts and thieves")
    if job.place.centre is None and not job.rack.positions and job.rack.suggest < 2:
        lines.append("part in the middle of the tank")
    return lines
