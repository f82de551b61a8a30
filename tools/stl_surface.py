"""Triangles of an STL as a surface that the engine looks at; for the scripts that make pictures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from addon.engine.mesh.surface import Surface


def corners(path: Path) -> NDArray[np.float64]:
    """(m, 3, 3) of a binary STL, mm."""
    import numpy as np

    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    return np.frombuffer(path.read_bytes(), record, offset=84)["corners"].astype(float)


def surface_of(found: NDArray[np.float64]) -> Surface:
    """Corners (m, 3, 3) in mm as a surface that can be looked at, triangle for triangle."""
    import numpy as np

    from addon.engine.mesh import inspection
    from addon.engine.mesh.part import Part
    from addon.engine.mesh.weld import compact, exact
    from addon.engine.progress import run_to_end
    from addon.engine.units import MM

    points = found.reshape(-1, 3) * MM
    triangles = np.arange(len(points), dtype=np.int32).reshape(-1, 3)
    return run_to_end(inspection.inspect(Part.of("part", *compact(points, triangles, exact(points)))))
