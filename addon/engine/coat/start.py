"""The start on a bare coat: the currents of the ramp, or the reason why no start is possible."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from .. import faraday
from ..chemistry import kinetics
from ..chemistry.cautions import SOFTENING_MARGIN_K, plastic, softening
from ..findings import Quantity
from ..progress import Progress
from ..reasons import Reason, ReasonCode
from ..settings.job import Job
from . import heat, ramp
from .bare import BareCoat
from .bathside import Bath
from .current_limit import Drive
from .film import RESISTIVITY_OHM_M, displaced_film, sheet_resistance_in_bath
from .heat import Heating
from .ramp import Ramp, Stage
from .sheet import Pad

MAX_SHEET_RESISTANCE = 200.0  # ohm per square, at which no number of wires covers a part: common practice, no source
METAL_REASON = Reason(ReasonCode.METAL_IS_SAFE)


class Refusal(Enum):
    """Why there is no start: the plastic is soft in this bath; the coat conducts too little; no supply sets so small a
    current; the coat does not last until half of the part is covered."""

    PLASTIC = "plastic"
    COAT = "coat"
    SUPPLY = "supply"
    LIFE = "life"


@dataclass(frozen=True, eq=False)
class Start:
    """The first minutes. ramp : as walked, None where nothing was; steps : to set, none where the start is refused

    reason : why the first current is no larger; first, full : warmth at the first and at the full current
    """

    ramp: Ramp | None
    steps: tuple[Stage, ...]
    reason: Reason
    first: Heating | None
    full: Heating | None
    refusal: Refusal | None = None


def begin(job: Job, pads: tuple[Pad, ...], bare: BareCoat, bath: Bath, target: float, area: float) -> Progress[Start]:
    """Find the currents to start one part with. target : A in the end; area : m2 plated

    No ramp is computed where the plastic is soft, or the coat is above MAX_SHEET_RESISTANCE.
    """
    metal = faraday.metal(job.bath.metal)
    charge = faraday.charge(metal, area * job.target.thickness * metal.density, job.bath.efficiency)
    if bare.spread is None:
        whole = np.where(np.isnan(bare.drop), 0.0, job.target.thickness)
        stages = (Stage(target, charge / target, 1.0),)
        return Start(Ramp(stages, "target", 0.0, whole), stages, METAL_REASON, None, None)
    ohms = sheet_resistance_in_bath(job)
    softens = softening(job.part.material)
    full = heat.coat_heating(bare.fed, pads, bare.coupled, ohms, target, bath=job.bath.temperature, softens=softens)
    if plastic(job):
        return Start(None, (), Reason(ReasonCode.PLASTIC_IS_SOFT), None, full, Refusal.PLASTIC)
    if ohms > MAX_SHEET_RESISTANCE:
        return Start(None, (), Reason(ReasonCode.COAT_TOO_POOR), None, full, Refusal.COAT)
    drive = _drive(job, target, charge, full)
    walked = yield from ramp.run(
        bare.spread, bath, job.coat.sheet_resistance, drive, film=displaced_film(job), first=bare.borne
    )
    first = walked.stages[0].current
    warm = heat.at_current(full, first)
    if first < drive.step and first < target:
        return Start(walked, (), Reason(ReasonCode.SUPPLY_TOO_COARSE), warm, full, Refusal.SUPPLY)
    if walked.half_covered > job.coat.bath_life:
        return Start(walked, (), Reason(ReasonCode.COAT_SHORT_LIVED), warm, full, Refusal.LIFE)
    return Start(walked, walked.stages, _reason(walked, drive.top), warm, full)


def _drive(job: Job, target: float, charge: float, full: Heating) -> Drive:
    """What limits the current of one part and what the current does; full : heating of its bare coat at the target."""
    bath, top = job.bath, job.bath.safe_density
    law = kinetics.law(bath.kinetics, bath.temperature)
    spare = full.softens - SOFTENING_MARGIN_K - bath.temperature  # above 0, otherwise there would be no start
    return Drive(
        target=target,
        charge=charge,
        top=top,
        conductivity=bath.conductivity,
        polarization=float(law.resistance(np.array(top))),
        heat=full.limit,
        flux=heat.LIQUID_TRANSFER_W_M2K * spare,
        rate=faraday.thickness(faraday.metal(bath.metal), 1.0, 1.0, bath.efficiency),
        resistivity=RESISTIVITY_OHM_M[bath.metal],
        covered_top=min(bath.window[1], bath.limiting),
        step=job.supply.step / max(len(job.rack.positions), 1),
    )


def _reason(walked: Ramp, top: float) -> Reason:
    """Why the first current is no larger."""
    if walked.limited == "burn":
        return Reason(ReasonCode.WOULD_BURN, {Quantity.HIGH_DENSITY: top})
    return Reason(ReasonCode.FULL_IS_SAFE if walked.limited == "target" else ReasonCode.WOULD_WARM)
