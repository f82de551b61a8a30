"""What Blender says of an operator that cannot do its work."""

from __future__ import annotations


def reason(error: RuntimeError) -> str:
    """The first line of it, in Blender's words or in ours; it adds where in its own code that came up."""
    lines = [line.strip() for line in str(error).splitlines() if line.strip()]
    return lines[0].removeprefix("Error: ") if lines else ""
