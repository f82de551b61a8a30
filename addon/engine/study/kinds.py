"""The kinds of printed helpers, in one table: its option, the analysis that makes it, and the one that solves the
field with it."""

from __future__ import annotations

from typing import NamedTuple

from .results import Results


class Kind(NamedTuple):
    """A kind of printed helper.

    option : of the command line, and its name beside others; analysis : that makes it
    effect : the analysis that solves the field with it; entry : `kind` of its entries in the report
    on_part : whether it is put on the part and hangs with it; on_rods : whether it hangs on two rods
    """

    option: str
    analysis: str
    effect: str
    entry: str
    on_part: bool = False
    on_rods: bool = False


KINDS = (
    Kind("hanger", "hanger", "hanger_shade", "hanger"),
    Kind("plugs", "plugs", "plugged", "plug", on_part=True),
    Kind("masks", "masks", "masks_shade", "mask", on_part=True),
    Kind("rack", "rack_holder", "rack_shade", "rack", on_rods=True),
    Kind("anode-holder", "anode_holder", "anode_holder_shade", "anode-holder"),
    Kind("shield", "shield", "shield_shade", "shield", on_rods=True),
    Kind("thief", "thief", "thief_shade", "thief", on_rods=True),
)
BY_OPTION = {kind.option: kind for kind in KINDS}
BY_ANALYSIS = {kind.analysis: kind for kind in KINDS}
TOGETHER = "helpers_field"  # the analysis that solves the field with all of them at once


def made(results: Results) -> tuple[Kind, ...]:
    """Those that were made."""
    return tuple(kind for kind in KINDS if getattr(results, kind.analysis) is not None)
