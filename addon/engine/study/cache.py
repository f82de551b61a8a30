"""Results, each under the key of everything that it was computed from."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from ..mesh.surface import Surface
from ..mesh.tracer import Tracer


@dataclass(frozen=True, eq=False)
class Cache:
    """Results that may be used again; drop it to forget them.

    surfaces : key of the part -> its surface and what casts rays at it; results : key of an analysis -> its result
    """

    surfaces: dict[str, tuple[Surface, Tracer]] = field(default_factory=dict)
    results: dict[str, object] = field(default_factory=dict)

    def only(self, keys: Collection[str]) -> Cache:
        """The entries under some keys."""
        return Cache(
            {key: surface for key, surface in self.surfaces.items() if key in keys},
            {key: result for key, result in self.results.items() if key in keys},
        )
