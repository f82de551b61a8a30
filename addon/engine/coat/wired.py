"""The coat with a set of wires and its aggregated network, built once for field and coat."""

from __future__ import annotations

from dataclasses import dataclass

from ..mesh.surface import Surface
from ..progress import Progress, subrange
from . import proxy
from .contact import Contacts
from .drop import WiredSheet
from .proxy import AggregatedNetwork
from .sheet import Pad, with_pads

SOLUTION_PATCHES = 1000  # of the coarse copy that field and first minutes are solved with


@dataclass(frozen=True, eq=False)
class Wired:
    """pads : of the wires; fed : the coat's network with them; patches : its coarse copy"""

    pads: tuple[Pad, ...]
    fed: WiredSheet
    patches: AggregatedNetwork


def build(surface: Surface, contacts: Contacts, pads: tuple[Pad, ...]) -> Progress[Wired]:
    """The coat's network with these pads; that of the contacts where the pads are the same."""
    if pads == contacts.pads and contacts.checked is not None:
        fed = contacts.checked.fed
    else:
        fed = WiredSheet.of(*(yield from subrange(0.0, 0.6, with_pads(surface, contacts.coat, pads))))
    patches = yield from subrange(0.6, 1.0, proxy.build(fed.sheet, SOLUTION_PATCHES, fed.pads))
    return Wired(pads, fed, patches)
