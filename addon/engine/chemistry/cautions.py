"""Conflicts within a job: bath and plastic, temperature window, legal limits, solubility."""

from __future__ import annotations

from ..errors import InputError
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity
from ..settings import tables
from ..settings.bath import Bath
from ..settings.job import Job, read_job
from ..units import ZERO_CELSIUS
from . import bath as baths
from .dip import is_dipped
from .mixing import MAX_SATURATION
from .regulated import AcidLaw, acid_law
from .solubility import saturation

SOFTENING_MARGIN_K = 10.0  # K, margin below the softening temperature (common practice, no source)


def of_job(job: Job) -> list[Finding]:
    """The findings about bath, coat and plastic that need no computation on the part."""
    return [*plastic(job), *temperature(job.bath), *acid(job), *dissolved(job)]


def softening(material: str) -> float:
    """K, at which thin walls of a plastic begin to soften."""
    return float(tables.plastic(material)["softens_C"]) + ZERO_CELSIUS


def plastic(job: Job) -> list[Finding]:
    """A bath so warm that the print softens: at or above its softening temperature less a margin. None for metal."""
    softens, warmth = softening(job.part.material), job.bath.temperature
    if job.coat.sheet_resistance == 0 or warmth < softens - SOFTENING_MARGIN_K:
        return []
    fit = [name for name in tables.names("plastics") if softening(name) - SOFTENING_MARGIN_K > warmth]
    cool = [
        name
        for name in tables.names("baths")
        if (other := read_job({"bath": {"name": name}}).bath).metal == job.bath.metal
        and other.temperature < softens - SOFTENING_MARGIN_K
    ]
    names = {"plastic": job.part.material, "bath": job.bath.name, "plastics": ", ".join(fit), "baths": ", ".join(cool)}
    return [
        Finding(
            Code.PLASTIC_SOFT,
            Severity.STOPS,
            {Quantity.TEMPERATURE: warmth, Quantity.SOFTENS: softens, Quantity.RISE: SOFTENING_MARGIN_K},
            names,
            spoilt_share=1.0,
            remedy=Remedy(RemedyCode.CHANGE_PLASTIC, names={"plastics": names["plastics"], "baths": names["baths"]}),
        )
    ]


def temperature(bath: Bath) -> list[Finding]:
    """A bath outside the temperatures at which it works."""
    window = baths.recipe(bath).temperature_window
    if window is None or window[0] <= bath.temperature <= window[1]:
        return []
    low, high = window
    nearest = low if bath.temperature < low else high
    return [
        Finding(
            Code.BATH_TEMPERATURE,
            Severity.COSTS,
            {
                Quantity.TEMPERATURE: bath.temperature,
                Quantity.LOW_TEMPERATURE: low,
                Quantity.HIGH_TEMPERATURE: high,
            },
            {"bath": bath.name},
            remedy=Remedy(RemedyCode.CHANGE_TEMPERATURE, {Quantity.TEMPERATURE: nearest}),
        )
    ]


def acid(job: Job) -> list[Finding]:
    """Sulfuric acid that private persons in the EU may not have: bought for bath or dip, or in the finished bath."""
    try:
        law = acid_law(job.bath, job.batch.acid)
    except InputError:
        return []  # a recipe without a density is reported where it is mixed
    if law is None and is_dipped(job):
        law = AcidLaw(job.batch.acid, 0.0, ())
    if law is None or not law.restricted:
        return []
    baths_below = ", ".join(law.allowed_baths)
    remedy = Remedy(RemedyCode.CHANGE_BATH, names={"baths": baths_below}) if law.finished else None
    return [
        Finding(
            Code.ACID_RESTRICTED,
            Severity.COSTS,
            {Quantity.BOUGHT_SHARE: law.bought, Quantity.SHARE: law.finished},
            {"bath": job.bath.name, "baths": baths_below},
            remedy=remedy,
        )
    ]


def dissolved(job: Job) -> list[Finding]:
    """A recipe that holds more salt than dissolves at the bath's temperature."""
    try:
        batch = baths.mix(baths.recipe(job.bath), baths.batch_volume(job.batch, job.tank), job.batch.acid)
    except InputError:
        return []
    pure = batch.acid_mass * batch.acid_strength
    masses = {**batch.solids, **({baths.ACID: pure} if pure else {})}
    full = saturation(masses, batch.water + batch.acid_mass - pure, job.bath.temperature)
    if full <= MAX_SATURATION:
        return []
    quantities = {Quantity.SATURATION: full, Quantity.TEMPERATURE: job.bath.temperature}
    severity = Severity.SPOILS if full > 1.0 else Severity.COSTS
    names = {"bath": job.bath.name}
    return [Finding(Code.BATH_SATURATED, severity, quantities, names, remedy=Remedy(RemedyCode.CHANGE_TEMPERATURE))]
