"""Each sentence of a plan that tells someone to do something has its row, with a source, in docs/checklist.md."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from addon.engine.findings import RemedyCode
from addon.engine.reporting import checklist, finding_text, plan
from addon.engine.reporting.instructions import REMEDY_SOURCES
from addon.engine.reporting.plan_text import sentence, typeset
from addon.engine.study import findings as study_findings

from cup_study import SETTINGS, study

DOCS = Path(__file__).resolve().parents[2] / "docs" / "checklist.md"
ROWS = [row for _, table in checklist.TABLES for row in table]
# A sentence that starts with one of these tells someone to do something.
VERBS = [
    "Add",
    "Bring",
    "Burnish",
    "Check",
    "Choose",
    "Clean",
    "Coat",
    "Collect",
    "Connect",
    "Cover",
    "Cut",
    "Degrease",
    "Dip",
    "Dry",
    "Fill",
    "Filter",
    "Fix",
    "Give",
    "Go",
    "Hang",
    "Have",
    "Hold",
    "Join",
    "Keep",
    "Lay",
    "Leave",
    "Let",
    "Lift",
    "Look",
    "Lower",
    "Make",
    "Mask",
    "Measure",
    "Mix",
    "Move",
    "Never",
    "Open",
    "Place",
    "Plate",
    "Polish",
    "Pour",
    "Print",
    "Prop",
    "Protect",
    "Put",
    "Raise",
    "Rinse",
    "Rub",
    "Sand",
    "Seal",
    "Set",
    "Shake",
    "Start",
    "Stir",
    "Switch",
    "Take",
    "Tie",
    "Tip",
    "Titration",
    "Touch",
    "Turn",
    "Use",
    "Wait",
    "Warm",
    "Wash",
    "Watch",
    "Weigh",
    "Wet",
    "Widen",
    "Wipe",
]


def lines(text: str) -> list[str]:
    """The plan's lines with their wraps undone: steps, checks, cautions, notes."""
    out: list[str] = []
    for row in text.splitlines():
        starts = re.match(r"(\[ \] |  - |  ! | +! | +Check: )", row)
        if starts or not row.startswith("  "):
            out.append(row.strip())
        else:
            out[-1] = f"{out[-1]} {row.strip()}"
    return out


def pattern(template: str) -> re.Pattern[str]:
    """A sentence of the table as it stands in a plan, with anything for its figures."""
    whole = typeset(re.sub(r"\{\w+\}", "@7", template))  # a digit, so that the unit after it is set with its sign
    pieces = [re.escape(piece).replace(r"\ ", r"\s+") for piece in whole.split("@7")]
    return re.compile(r"[^|]*?".join(pieces) + r"(?=\s|\||$)")


PATTERNS = [pattern(text) for row in ROWS for text in (row.value.text, row.value.check) if text]


def without_known(line: str, known: list[str]) -> str:
    """What is left of a line when the sentences of the tables and of the findings are taken out."""
    for said in known:
        line = line.replace(said, "|")
    for one in PATTERNS:
        line = one.sub("|", line)
    return line


def test_the_page_is_made_from_the_tables():
    assert DOCS.read_text(encoding="utf-8") == checklist.markdown(), (
        "python -m addon.engine.reporting.checklist > docs/checklist.md"
    )


def test_every_row_has_a_source():
    assert all(row.value.source for row in ROWS)
    assert set(REMEDY_SOURCES) == {code.value for code in RemedyCode} and all(REMEDY_SOURCES.values())


def test_an_instruction_without_a_row_is_found():
    assert "Drink" in without_known("[ ] Drink the bath.", []) and "Sand" not in without_known(
        "Sand wet only.", ["Sand"]
    )


@pytest.mark.slow
@pytest.mark.parametrize("coat", ["copper paint", "graphite lacquer", "none (metal part)", "zinc-rich primer"])
@pytest.mark.parametrize("bath", ["acid copper, bench mix", "acid copper, high throw", "nickel, Watts"])
def test_every_instruction_of_a_plan_has_its_row(bath, coat):
    whole = study({**SETTINGS, "bath": {"name": bath}, "coat": {"name": coat}})
    known = [typeset(sentence(finding_text.text(one))) for one in study_findings.of_study(whole)]
    for line in lines(plan.write(whole)):
        if line.startswith(("PLATING PLAN", "APPENDIX")) or "ASSUMED" in line or line.isupper():
            continue
        left = without_known(line, known)
        boxed = re.sub(r"^\[ \] +(R?\d+)?( ____)? *", "", left) if left.startswith("[ ]") else ""
        assert not re.search(r"[a-z]{4}", boxed.replace("STOP:", "").replace("Mind", "")), f"no row for: {line}"
        for said in re.split(r"(?<=[.:]) ", left):
            words = said.strip("-! []").split()
            assert not words or words[0] not in VERBS, f"no row for: {said}"
