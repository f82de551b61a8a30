"""The cautions of a plan: those of the metal, the substances and the coat that this job really has, and no others.

Sources: ILO ICSC 1416 (copper sulfate) and 0362 (sulfuric acid); Regulation (EU) 2019/1148; REACH Annex XVII,
entries 27 to 30, and the classification of nickel salts and boric acid, from memory; the rest is common practice, no
source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..chemistry import bath as baths
from ..chemistry.regulated import MAX_ACID_BY_WEIGHT, acid_law
from ..errors import InputError
from . import words
from .plan_text import Section, figure, note

if TYPE_CHECKING:
    from ..analyses import Study
    from ..settings.job import Job

HYDROGEN_ML_AH = 23.0  # mL of hydrogen an ampere hour for each 5 % of current that deposits no metal: 0.456 L/A h, 25 C

SUBSTANCES = {
    "copper sulfate pentahydrate": "Copper sulfate harms if swallowed and seriously damages eyes.",
    "sulfuric acid": "Sulfuric acid burns skin and eyes; always acid into water, slowly, never water into acid.",
    "nickel sulfate hexahydrate": (
        "Nickel salts cause cancer when breathed in, may harm the unborn child, and sensitize skin and lungs: no mist,"
        " no dust, no skin contact. In the EU they are not supplied to the general public."
    ),
    "nickel chloride hexahydrate": (
        "Nickel salts cause cancer when breathed in, may harm the unborn child, and sensitize skin and lungs: no mist,"
        " no dust, no skin contact. In the EU they are not supplied to the general public."
    ),
    "boric acid": "Boric acid may harm fertility and the unborn child: no dust, no handling when pregnant.",
}
METALS = {
    "copper": "Copper is very toxic to life in water.",
    "nickel": (
        "Nickel is toxic to life in water. Plated nickel releases nickel on skin and causes allergy: nothing that is"
        " worn or held for long without a sealing coat over it."
    ),
}


def cautions(study: Study) -> Section:
    """Data sheets, local codes and licensed practice come first; then what this job's own chemicals ask for."""
    job = study.job
    lines = [
        "Safety data sheets, your local codes and licensed practice come before this plan.",
        "Goggles or a face shield, acid-proof gloves, apron; water for the eyes within reach. Label the vessels, keep"
        " children and animals away.",
        *_chemicals(job),
        *_gas(job),
        "An isolated low-voltage supply behind a ground-fault breaker, dry and away from the tank; switch it off before"
        " you reach into the bath.",
        "Nothing goes down the drain or into soil: bath, rinse water, sludge and wipes go to a licensed waste"
        f" collector. {METALS.get(job.bath.metal, 'Metal salts are toxic to life in water.')}",
        *_law(job),
        *_coat(job),
        "Sand wet, with a dust mask. The part is not for food, drink or the mouth.",
    ]
    return Section("Cautions", tuple(note(line) for line in lines))


def _chemicals(job: Job) -> list[str]:
    try:
        inside = [item.name for item in baths.recipe(job.bath).ingredients]
    except InputError:
        inside = []
    known = [SUBSTANCES[name] for name in inside if name in SUBSTANCES]
    return list(dict.fromkeys(known)) or ["What is in the bath burns, harms or sensitizes: follow its data sheet."]


def _gas(job: Job) -> list[str]:
    lost = 1.0 - job.bath.efficiency
    if lost > 0.005:
        amount = figure(HYDROGEN_ML_AH * lost / 0.05, 2)
        return [f"Ventilate, no flames: about {amount} mL of hydrogen come off for each A h, with a mist of the bath."]
    return ["Ventilate, no flames: too much current makes hydrogen and carries a mist of the bath into the air."]


def _law(job: Job) -> list[str]:
    try:
        law = acid_law(job.bath, job.batch.acid)
    except InputError:
        law = None
    if law is None or not law.restricted:
        return []
    what = []
    if law.bought > MAX_ACID_BY_WEIGHT:
        what.append(f"the {100 * law.bought:.0f} % acid that you buy")
    if law.finished > MAX_ACID_BY_WEIGHT:
        what.append(f"the finished bath ({100 * law.finished:.1f} % acid)")
    said = (
        "EU: private persons may not buy, bring in, have or use sulfuric acid above 15 % by weight without a license"
        f" (Regulation (EU) 2019/1148). That covers {words.listed(what)}."
    )
    if law.finished > MAX_ACID_BY_WEIGHT and law.allowed_baths:
        said += f" These baths stay below: {words.listed([repr(name) for name in law.allowed_baths])}."
    elif law.bought > MAX_ACID_BY_WEIGHT:
        said += " The finished bath stays below: mix it from acid of 15 % or less."
    return [f"{said} Look up your own country's rules."]


def _coat(job: Job) -> list[str]:
    if not job.coat.sheet_resistance > 0:
        return []
    return [
        "Coats with solvent give off vapor that burns and harms: spray outdoors or under extraction, with a mask for"
        " organic vapor, away from flames. Try it on a scrap: solvent can attack ABS and polycarbonate."
    ]
