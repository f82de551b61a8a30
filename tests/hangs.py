"""How a part hangs, for tests: the search with usual settings, of which each test names those that matter to it."""

from __future__ import annotations

from typing import Any

from addon.engine.hanging import suggest
from addon.engine.hanging.mass import Printed
from addon.engine.hanging.result import Hanging
from addon.engine.hanging.suggest import SearchRequest
from addon.engine.hanging.weighed import Immersion
from addon.engine.mesh.surface import Surface
from addon.engine.mesh.tracer import Tracer
from addon.engine.progress import run_to_end
from addon.engine.settings.tank import Tank

PRINTED = {"walls": 1.2e-3, "infill": 1.0, "plastic_density": 1240.0}
IMMERSION = {"deposit": 0.0, "bath_density": 1172.0}
WANTED = {"directions": 100, "tank": Tank()}


def searched(surface: Surface, tracer: Tracer, **settings: Any) -> Hanging:
    """settings : fields of `Printed`, `Immersion` and `Wanted`"""
    sections = []
    for kind, usual in ((Printed, PRINTED), (Immersion, IMMERSION), (SearchRequest, WANTED)):
        own = {name: settings.pop(name) for name in list(settings) if name in kind.__dataclass_fields__}
        sections.append(kind(**{**usual, **own}))
    assert not settings, f"no such setting: {', '.join(settings)}"
    return run_to_end(suggest.run(surface, tracer, *sections))
