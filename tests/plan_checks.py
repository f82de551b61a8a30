"""Mechanical checks of a plan: what must hold of each, whatever the job."""

from __future__ import annotations

import re
from collections import Counter

from addon.engine import schedule
from addon.engine.findings import each_fact_once
from addon.engine.reporting.plan_bench import SPOILING
from addon.engine.study import Study
from addon.engine.study import findings as study_findings
from addon.engine.reporting import finding_text
from addon.engine.reporting.plan_schedule import charge, current
from addon.engine.reporting.plan_text import sentence, typeset

MAX_LINES, MAX_COLUMNS, MIN_STEPS, MAX_STEPS = 120, 100, 12, 16
# Words and figures that no sentence has: an exponent, several of one thing, and what is rounded to nothing
UNSAID = (
    r"\b\d\.?\d*e[+-]?\d+\b",
    r"\b1 (?:parts|wires|plates|copies|rinse tubs|bodies|strips|openings|pockets)\b",
    r"(?<![\d.,])0 (?:mm (?:above|below)|A\b|min\b|g of)",
    r"\{\w+\}",
)
METALS = ("copper", "nickel", "silver", "zinc", "tin", "gold")
# What may be of another metal than the bath: the wire, the ballast, and names that the job gives
NAMED = r"(?:bare|rigid) copper wires?|g of copper (?:on it|tied)|of copper as ballast, lacquered|'[^']*'"
MIN_SENTENCE = 40  # characters from which a sentence that stands twice is a fact told twice


def flat(text: str) -> str:
    """The plan on one line, so that a sentence can be found across line ends."""
    return re.sub(r"\s+", " ", text)


def pages(text: str) -> list[str]:
    """The lines that are followed at the bench."""
    return text.split("\nAPPENDIX")[0].splitlines()


def steps(text: str) -> list[str]:
    """The numbered steps, each on one line."""
    body = "\n".join(pages(text)).split("\nSTEPS")[1]
    return [flat(one) for one in re.split(r"\n(?=\[ \] )", body)[1:]]


def faults(text: str, study: Study) -> list[str]:
    """Everything that contradicts itself, is told twice, or does not fit the page."""
    return [
        *_form(text),
        *_findings(text, study),
        *_one_wire(text),
        *_one_acid_and_air(text),
        *_one_hanging(text),
        *_one_level_and_warmth(text),
        *_supply(text),
        *_what_the_supply_has(text, study),
        *_wires_and_supply(text, study),
        *_thickness(text),
        *_growth(text, study),
        *_references(text),
        *_one_current(text, study),
        *_other_metals(text, study),
    ]


def _form(text: str) -> list[str]:
    found = [f"too wide: {line}" for line in text.splitlines() if len(line) > MAX_COLUMNS]
    found += [f"no figure: {word}" for word in re.findall(r"\b(?:None|nan|inf|NaN)\b", text)]
    found += [f"not to be said: {one}" for pattern in UNSAID for one in re.findall(pattern, flat(text))]
    found += [f"nothing said: {line}" for line in text.splitlines() if line.strip() in ("-", "!", "[ ]", "Check:")]
    found += [f"{len(pages(text))} lines before the appendix"] * (len(pages(text)) > MAX_LINES)
    count, stopped = len(steps(text)), "NOT TO BE PLATED" in text
    return found + [f"{count} steps"] * (not stopped and not MIN_STEPS <= count <= MAX_STEPS)


def _findings(text: str, study: Study) -> list[str]:
    """Each finding once, and no other sentence twice."""
    line, found = flat(text), []
    every = study_findings.of_study(study)
    spoiling = [one for one in every if one.severity in SPOILING]
    kept = each_fact_once(spoiling) + [one for one in every if one.severity not in SPOILING]
    said = {flat(typeset(sentence(finding_text.text(one)))) for one in kept}
    found += [f"told {line.count(one)} times: {one}" for one in said if line.count(one) != 1]
    again = Counter(one for one in re.split(r"(?<=[.:]) ", line) if len(one) > MIN_SENTENCE)
    return found + [f"told twice: {one}" for one, count in again.items() if count > 1]


def _growth(text: str, study: Study) -> list[str]:
    """Faces grow by the thickness to expect and the coat."""
    number = r"([\d.]+)"
    deposit = re.search(rf"{number} to {number} µm on nine tenths", flat(text))
    growth = re.search(rf"Nine tenths of it grow by {number} to {number} µm", flat(text))
    if deposit is None or growth is None:
        return []
    coat = study.job.coat.thickness * 1e6
    pairs = [
        (float(grown), float(metal) + coat) for grown, metal in zip(growth.groups(), deposit.groups(), strict=True)
    ]
    return [f"{grown} of growth, {due} due" for grown, due in pairs if abs(grown - due) > 0.1 * due]  # two digits each


def _one_current(text: str, study: Study) -> list[str]:
    """One full current and one charge, in the heading, in the steps and in the findings."""
    timetable = schedule.of_study(study)
    if timetable is None:
        return []
    line, front = flat(text), flat("\n".join(pages(text)))
    told = set(re.findall(r"(?:up to|: ) ?([\d.]+) A, [\dhmins ]+ in all", front))
    told |= set(re.findall(r"Set ([\d.]+) A[^.]* until", front)) | set(re.findall(r"At the full ([\d.]+) A", line))
    found = [f"full current {told}, not {current(timetable.full_current)}"] * (
        told != {current(timetable.full_current)}
    )
    charges = set(re.findall(r"in all, ([\d.]+) A h", front)) | set(re.findall(r"until ([\d.]+) A h", front))
    charges |= set(re.findall(r"At ([\d.]+) A h switch the output OFF", front))
    return found + [f"charge {charges}, not {charge(timetable.charge)}"] * (charges != {charge(timetable.charge)})


def _one_wire(text: str) -> list[str]:
    """One diameter of the wire that holds the part, wherever it is named."""
    told = set(re.findall(r"(?:[Bb]are|rigid) copper wire (?:of )?([\d.]+) mm", flat(text)))
    return [f"wires of {told} mm"] * (len(told) > 1)


def _one_acid_and_air(text: str) -> list[str]:
    """What is dipped again was dipped before; a bath that bears no air is not moved by it."""
    body, found = flat(text), []
    if re.search(r"\bdip again\b", body) and "Dip it 10 s in the 5 % acid" not in body:
        found.append("dipped again what was never dipped")
    if re.search(r"Movement: [^.]*\bair\b", body) and "Aeration: none" in body:
        found.append("moved by the air that it does not bear")
    return found


def _one_hanging(text: str) -> list[str]:
    """Ballast is told of a flexible wire alone where a rigid one holds the part; two ways up begin as the part goes in."""
    line, found = flat(text), []
    if "rigid wire clamped" in line:
        sentences = re.split(r"(?<=[.;]) ", line.replace("it then needs no ballast", ""))
        ballast = [one for one in sentences if re.search(r"ballast|g of copper tied", one)]
        found += [f"a rigid wire, and {one}" for one in ballast if "flexible wire" not in one]
    if "change to the second position" in line:
        begins = re.findall(r"less spoiled[^:]*: begin (.*?\(model direction [^)]*\))", line)
        found += [f"begins {begins}, not as step 9"] * (len(begins) != 1 or f"Hang it {begins[0]}" not in line)
    elif re.search(r"\[ \] At half time switch OFF", text):
        found.append("a second position that no step turns to")
    return found


def _one_level_and_warmth(text: str) -> list[str]:
    """One level of the liquid, one temperature of the bath."""
    front, line = flat("\n".join(pages(text))), flat(text)
    levels = set(re.findall(r"filled to ([\d.]+) mm", front)) | set(re.findall(r"liquid at ([\d.]+) mm", front))
    warmth = set(re.findall(r"(?:Bring the bath|bring it) to ([\d.]+) °C", line))
    return [f"levels {levels}"] * (len(levels) > 1) + [f"temperatures {warmth}"] * (len(warmth) > 1)


def _supply(text: str) -> list[str]:
    """The first limit is the first current, and stands for every new start; the limit of voltage is above what is read."""
    front, found = flat("\n".join(pages(text))), []
    limits = re.search(r"Set the limits: ([\d.]+) A and ([\d.]+) V", front)
    if limits is None:
        return []
    first = set(re.findall(r"Check: ([\d.]+) A flow at once", front))
    first |= set(re.findall(r"start again at ([\d.]+) A", front)) | set(re.findall(r"Start: ([\d.]+) A for", front))
    found += [f"first currents {first}, limit {limits[1]} A"] * (first != {limits[1]})
    read = re.search(r"Check: (?:[\d.]+ to )?([\d.]+) V on the meter", front)
    if read is not None:
        found += [f"{read[1]} V expected, {limits[2]} V allowed"] * (float(limits[2]) < float(read[1]))
    return found


def _what_the_supply_has(text: str, study: Study) -> list[str]:
    """No current is to be set that the supply does not have, to what a figure tells of it."""
    line, most = flat("\n".join(pages(text)).split("\nSTEPS")[-1]), study.job.supply.current
    told = re.findall(r"(?:Set|limits:|Start:|then|start again at) ([\d.]+) A\b", line)
    return [f"{current} A of a supply of {most}" for current in set(told) if float(current) > 1.01 * most]


def _wires_and_supply(text: str, study: Study) -> list[str]:
    """All wires of a part, where a table tells each, carry what the steps set for one part."""
    timetable, coat = schedule.of_study(study), study.results.coat
    told = re.findall(r"- \d+\. \([^;]*?, ([\d.]+) A\b", flat(text))
    if timetable is None or coat is None or not told:
        return []
    copies = study.results.deposit.copies
    each = (1.0 - timetable.thief_share) * timetable.full_current / copies
    total = sum(map(float, told))
    return [f"wires of {total:.3g} A in all, of {each:.3g}"] * (abs(total - each) > 0.05 * each)


def _thickness(text: str) -> list[str]:
    """Thinnest below nine tenths below thickest; to fill the thinnest place takes more than the plan's own charge and time."""
    line, found = flat(text), []
    told = re.search(
        r"Expect ([\d.]+)(?: to ([\d.]+))? µm at the thinnest, ([\d.]+) to ([\d.]+) µm on nine tenths of it, "
        r"([\d.]+)(?: to ([\d.]+))? µm at the thickest",
        line,
    )
    if told is not None:
        thin, low, high, thick = float(told[1]), float(told[3]), float(told[4]), float(told[6] or told[5])
        found += [f"not in order: {told[0]}"] * (not thin <= low < high <= thick)
    longer = re.search(r"plate until ([\d.]+) A h have passed, about ([\dhmin ]+) in all", line)
    whole = re.search(r"A, ([\dhmin ]+) in all, ([\d.]+) A h", line)
    if longer is not None and whole is not None:
        less = float(longer[1]) <= float(whole[2]) or minutes(longer[2]) <= minutes(whole[1])
        found += [f"{longer[0]}, of {whole[0]}"] * less
    elif re.search(r"wanted thickness (?:there too|on every visible face), plate for", line) and whole is not None:
        found.append("more time without its charge")
    return found


def minutes(told: str) -> float:
    """Of '1 h 20 min'."""
    units = {"h": 60.0, "min": 1.0, "s": 1 / 60}
    return sum(float(value) * units[unit] for value, unit in re.findall(r"(\d+) (h|min|s)", told))


def _references(text: str) -> list[str]:
    """What a step points to is there."""
    line = flat(text)
    there = {f"R{number}" for number in re.findall(r"\[ \] R(\d+) ", line)}
    there |= {f"appendix {letter}" for letter in re.findall(r"\n([A-Z])\. [A-Z]", text)}
    wanted = {
        one for told in re.findall(r"Mind (R\d+(?:(?:, | and )R\d+)*)", line) for one in re.findall(r"R\d+", told)
    }
    wanted |= {f"appendix {letter}" for letter in re.findall(r"appendix ([A-Z])\b", line)}
    faults = [f"{one} is not there" for one in sorted(wanted - there)]
    if "much heavier than that: see appendix" in line and "Much heavier than wanted" not in line:
        faults.append("no appendix says what to do with a part that is much heavier than wanted")
    return faults


def _other_metals(text: str, study: Study) -> list[str]:
    """No word of a metal that is neither in the bath nor in the name of the coat."""
    job = study.job
    own = flat(text.split("ASSUMED")[0]).lower()
    for name in (job.coat.name, job.bath.name):
        own = own.replace(name.lower(), "")
    own = re.sub(NAMED, "", own)
    return [
        f"{metal} in a plan of {job.bath.metal}: {sentence}"
        for metal in METALS
        if metal != job.bath.metal and metal not in job.coat.name and metal in own
        for sentence in own.split(".")
        if re.search(rf"\b{metal}\b", sentence)
    ]
