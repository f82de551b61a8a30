"""The message of an operator that failed."""

from __future__ import annotations


def reason(error: RuntimeError) -> str:
    """The first line of the message; Blender appends where in its code it was raised."""
    lines = [line.strip() for line in str(error).splitlines() if line.strip()]
    return lines[0].removeprefix("Error: ") if lines else ""
