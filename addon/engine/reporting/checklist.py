"""The chemist's checklist: every sentence of a plan that tells someone to do something, with its source.

python -m addon.engine.reporting.checklist > docs/checklist.md
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator

from . import (
    instructions_after,
    instructions_at_step,
    instructions_cautions,
    instructions_first,
    instructions_helpers,
    instructions_steps,
)
from .instructions import REMEDY_SOURCES, Instruction, Instructions

TABLES: tuple[tuple[str, type[Instructions]], ...] = (
    ("Changes in the model", instructions_first.Model),
    ("What to have ready", instructions_first.Ready),
    ("Steps", instructions_steps.Step),
    ("Printing what stands in the tank", instructions_helpers.Printing),
    ("Setting up what is printed", instructions_helpers.Standing),
    ("Printed masks", instructions_helpers.Masking),
    ("Cautions at the steps", instructions_at_step.AtStep),
    ("Mixing the bath", instructions_after.Mixing),
    ("After the bath", instructions_after.After),
    ("Care of the bath", instructions_after.Care),
    ("Waste", instructions_after.Waste),
    ("Cautions in full", instructions_cautions.Caution),
)
INTRODUCTION = """# Checklist: what a plan tells people to do, and where that comes from

One row a sentence. This page is made from the tables in `addon/engine/reporting/instructions_*.py`, from which the plan
takes its words; a test compares the two. An ellipsis stands for a figure or a name of the job. "From memory" means that
the source was not at hand when the row was written; "common practice, no source" means that the trade does so and
nobody was found to cite. Strike out, on your own copy, what your data sheets, your local codes or your experience
contradict: they come first.
"""


def markdown() -> str:
    """The page, as docs/checklist.md has it."""
    parts = [INTRODUCTION]
    for title, table in TABLES:
        parts.append(f"\n## {title}\n\n| says | seen to work by | source |\n|---|---|---|\n")
        parts += [f"| {_shown(row.text)} | {_shown(row.check)} | {row.source} |\n" for row in _rows(table)]
    parts.append("\n## What findings advise\n\n| remedy | source |\n|---|---|\n")
    parts += [f"| `{code}` | {source} |\n" for code, source in REMEDY_SOURCES.items()]
    return "".join(parts)


def _rows(table: type[Instructions]) -> Iterator[Instruction]:
    for member in table:
        yield member.value


def _shown(text: str) -> str:
    return re.sub(r"\{\w+\}", "…", text)


if __name__ == "__main__":
    sys.stdout.write(markdown())
