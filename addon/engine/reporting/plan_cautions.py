"""The cautions of a plan: only those for the metal, the substances and the coat of this job.

Each with its source in `instructions_after`.
"""

from __future__ import annotations

from ..chemistry.dip import is_dipped
from .instructions_cautions import Caution
from .plan_bench import Bench
from .plan_ready import GLOVES
from .plan_text import Section, figure, note

HYDROGEN_ML_AH = 23.0  # mL of hydrogen an ampere hour for each 5 % of current that deposits no metal: 0.456 L/A h, 25 C
REFERENCE_LOST_SHARE = 0.05  # of the current, that HYDROGEN_ML_AH is for
MIN_LOST_SHARE = 0.005  # of the current, below which hydrogen is not counted

SUBSTANCES = {
    "copper sulfate pentahydrate": Caution.COPPER_SULFATE,
    "sulfuric acid": Caution.SULFURIC_ACID,
    "nickel sulfate hexahydrate": Caution.NICKEL_SALTS,
    "nickel chloride hexahydrate": Caution.NICKEL_SALTS,
    "nickel sulfamate tetrahydrate": Caution.NICKEL_SALTS,
    "boric acid": Caution.BORIC_ACID,
}
METALS = {"copper": Caution.COPPER_WATER, "nickel": Caution.NICKEL_WATER}


def cautions(bench: Bench) -> Section:
    """Data sheets, local codes and licensed practice come first; then what this job's own chemicals ask for."""
    lines = [
        Caution.FIRST.say(),
        Caution.PROTECTION.say(gloves=GLOVES),
        *(chemical.say() for chemical in _chemicals(bench)),
        _gas(bench),
        Caution.SUPPLY.say(),
        METALS.get(bench.job.bath.metal, Caution.OTHER_WATER).say(),
        *bench.at("cautions"),
    ]
    if not bench.metal_part:
        lines += [Caution.SOLVENT.say(), Caution.DUST.say()]
    return Section("Cautions in full", tuple(note(line) for line in lines))


def _chemicals(bench: Bench) -> list[Caution]:
    known = [substance for name, substance in SUBSTANCES.items() if name in bench.substances] or [Caution.UNKNOWN]
    return list(dict.fromkeys([*known, *([Caution.SULFURIC_ACID] if is_dipped(bench.job) else [])]))


def _gas(bench: Bench) -> str:
    lost = 1.0 - bench.job.bath.efficiency
    if lost > MIN_LOST_SHARE:
        return Caution.HYDROGEN.say(amount=figure(HYDROGEN_ML_AH * lost / REFERENCE_LOST_SHARE, 2))
    return Caution.VENTILATE.say()
