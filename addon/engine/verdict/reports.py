"""Reading a report back from its file."""

from __future__ import annotations

import json
from pathlib import Path

from .. import inputs
from ..errors import InputError
from ..filled import filled
from .compare import Table, check

MAX_REPORT_BYTES = 64_000_000


def load(path: Path) -> Table:
    """A report, checked as far as it is compared. Raises InputError, one line that names the file, where it is none."""
    inputs.size(path, MAX_REPORT_BYTES, "is it a report?")
    try:
        table = json.loads(path.read_bytes(), parse_constant=_reject_constant)
    except OSError as error:
        raise InputError(
            filled("{path}: {reason}; check the name and your rights to it", path=path, reason=inputs.reason(error))
        ) from None
    except RecursionError:
        raise InputError(filled("{path}: this is no report: it is nested too deep", path=path)) from None
    except ValueError as error:  # of the text's encoding as well
        raise InputError(filled("{path}: this is no JSON: {reason}", path=path, reason=error)) from None
    return check(table, str(path))


def _reject_constant(word: str) -> float:
    raise ValueError(f"{word} is no number")
