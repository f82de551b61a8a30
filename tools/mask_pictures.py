"""Printed masks as the docs show them: a cap over a masked stub, whole and cut open, and a plug in a masked bore."""

from __future__ import annotations

from pathlib import Path

from stl_surface import surface_of  # beside this file

STUB = [(0, 0), (10, 0), (10, 10), (4, 10), (4, 20), (0, 20)]
BORE = [(0, 0), (10, 0), (10, 20), (3, 20), (3, 6), (0, 6)]
PARTS = ((STUB, 4.0, 10.0), (BORE, 3.0, 6.0))  # profile, radius within which it is masked, height from which on, mm
TOWARD, PIXELS, MARGIN, AROUND = (0.25, -1.0, 0.4), 420, 8, 48
PART, HELPER = (0.85, 0.84, 0.82), (0.27, 0.47, 0.80)


def draw(target: Path) -> None:
    """Each whole, then without its near half."""
    import numpy as np

    from addon.engine.helpers import mask
    from addon.engine.mesh.inspection import inspect
    from addon.engine.mesh.part import Part
    from addon.engine.progress import run_to_end
    from addon.engine.reporting import png
    from addon.engine.settings.job import read_job
    from addon.engine.units import MM
    from addon.engine.visibility.shaded import sight, view
    from addon.suite.scene.tracers import HostTracer

    import shapes

    seen = []
    for profile, radius, height in PARTS:
        part = shapes.turned(np.array(profile, dtype=float), AROUND)
        within = (np.linalg.norm(part[:, :, :2], axis=2) < radius + 0.01) & (part[:, :, 2] > height - 0.01)
        welded = surface_of(part)
        masked = Part.of("part", welded.points, welded.triangles, masked=within.all(axis=1))
        surface = run_to_end(inspect(masked))
        made = mask.find(surface, HostTracer(surface), read_job({"part": {"file": "part.stl"}})).corners / MM
        for open_ in (False, True):
            far = (lambda some: some[some.mean(axis=1)[:, 1] > 0]) if open_ else (lambda some: some)
            halves = [far(part), far(made)]
            whole = surface_of(np.concatenate(halves))
            tint = np.where(np.arange(len(whole.triangles))[:, None] < len(halves[0]), PART, HELPER)
            one = sight(whole, view(np.array(TOWARD), np.array([0.0, 0.0, 1.0])), PIXELS)
            seen.append(np.dstack([one.painted(tint), one.alpha]))
    high = max(len(one) for one in seen)
    padded = [np.pad(one, ((high - len(one), 0), (MARGIN, MARGIN), (0, 0))) for one in seen]
    target.write_bytes(png.encoded(np.hstack(padded)))
