"""Reading a report back from its file."""

from __future__ import annotations

import json
from pathlib import Path

from .. import inputs
from ..errors import InputError
from .compare import Table, check

MAX_REPORT_BYTES = 64_000_000


def load(path: Path) -> Table:
    """A report, checked as far as it is compared. Raises InputError, one line that names the file, where it is none."""
    inputs.size(path, MAX_REPORT_BYTES, "is it a report?")
    try:
        table = json.loads(path.read_bytes(), parse_constant=_no_number)
    except OSError as error:
        raise InputError(f"{path}: {inputs.reason(error)}; check the name and your rights to it") from None
    except RecursionError:
        raise InputError(f"{path}: this is no report: it is nested too deep") from None
    except ValueError as error:  # of the text's encoding as well
        raise InputError(f"{path}: this is no JSON: {error}") from None
    return check(table, str(path))


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number")
