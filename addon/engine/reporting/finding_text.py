"""Findings in words and as rows of the report: the one place where a code becomes a sentence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from ..findings import Code, Finding, Remedy, Severity
from ..units import MM
from . import (
    finding_text_coat,
    finding_text_hanging,
    finding_text_mesh,
    finding_text_sizes,
    finding_text_tank,
    finding_text_trapping,
)
from .finding_template import Template

TEMPLATES: Mapping[Code, Template] = {
    **finding_text_mesh.TEMPLATES,
    **finding_text_trapping.TEMPLATES,
    **finding_text_sizes.TEMPLATES,
    **finding_text_hanging.TEMPLATES,
    **finding_text_coat.TEMPLATES,
    **finding_text_tank.TEMPLATES,
}


def text(finding: Finding) -> str:
    """One finding as a sentence or two: what happens, and what to do."""
    return TEMPLATES[finding.code](finding)


def texts(findings: Iterable[Finding]) -> tuple[str, ...]:
    """Each sentence once, in order."""
    return tuple(dict.fromkeys(map(text, findings)))


def warnings(findings: Iterable[Finding]) -> list[str]:
    """The sentences of all but the notes."""
    return list(texts(finding for finding in findings if finding.severity != Severity.NOTE))


def row(finding: Finding) -> dict[str, Any]:
    """A finding as the report has it; keys in docs/headless.md."""
    return {
        "code": finding.code.value,
        "severity": finding.severity.value,
        "quantities": {quantity.key: quantity.shown(value) for quantity, value in finding.quantities.items()},
        "names": dict(finding.names),
        "places_mm": _places(finding),
        "spoilt_share": finding.spoilt_share,
        "remedy": None if finding.remedy is None else _remedy(finding.remedy),
        "text": text(finding),
    }


def _remedy(remedy: Remedy) -> dict[str, Any]:
    return {
        "code": remedy.code.value,
        **{quantity.key: quantity.shown(value) for quantity, value in remedy.quantities.items()},
        **remedy.names,
        **({"places_mm": np.array(remedy.places) / MM} if remedy.places else {}),
    }


def _places(finding: Finding) -> Any:
    return np.array(finding.places) / MM if finding.places else []
