"""Gas pockets: time and error beside a flood of cells in the same run, and what a search over directions costs.

The peer fills a grid with trimesh (embree) and floods it with scipy.ndimage and scipy.sparse.csgraph, layer by layer,
in time linear in the cells. It gets the coarsest grid on which its error is no more than `WANTED`.
"""

from __future__ import annotations

import tracemalloc

import numpy as np
from clock import timed

from addon.engine.trapping import gas
from addon.engine.mesh import inspection
from addon.engine.trapping.basins import find_basins
from addon.engine.trapping.bodies import gas_bodies, liquid_bodies
from addon.engine.trapping.pockets import fill
from addon.engine.trapping.relief import Relief, prepare
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface

from grids import blocks, filled, trapped
from addon.engine.trapping.relief import relief_of
from models import Model, box, cup, joined, moved, part, split

UP = np.array([0.0, 0.0, 1.0])
WANTED = 0.02


def volume(relief: Relief, up: np.ndarray = UP) -> float:
    return float(fill(relief, find_basins(relief, up)).volume.sum())


def flood(model: Model, cell: float) -> float:
    return float(trapped(filled(model, cell)).sum()) * cell**3


def surface_of(model: Model) -> Surface:
    return run_to_end(inspection.inspect(part(model)))


def beside_a_flood(name: str, model: Model, exact: float, cell: float) -> None:
    """One direction, z up: preparation included, as the peer's filling is."""
    surface = surface_of(model)
    ours, found = timed(lambda: volume(prepare(surface)))
    closed = surface.points, surface.triangles[surface.wetted]
    peer, flooded = timed(lambda: flood(closed, cell))
    while abs(flooded / exact - 1) > WANTED:
        cell *= 0.75
        peer, flooded = timed(lambda side=cell: flood(closed, side))
    cells = int(np.prod(np.ceil(np.ptp(closed[0], axis=0) / cell) + 2))
    print(
        f"{name:34s} {len(closed[1]):8d} triangles: {ours * 1e3:8.1f} ms, error {found / exact - 1:+8.4%};"
        f" flood of {cells / 1e6:6.2f}M cells {peer * 1e3:8.0f} ms, error {flooded / exact - 1:+6.2%};"
        f" {peer / ours:6.1f} times faster"
    )


def tilted_cup() -> tuple[Model, float]:
    """A cup, radius 10 and depth 20, upside down and tilted by 20 degrees: pi R^2 (H - R tan a)."""
    angle = np.radians(180 - 20)
    turn = np.array([[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]])
    return moved(cup(10, 20, 1, around=128), turn=turn), np.pi * 100 * (20 - 10 * np.tan(np.radians(20)))


def pitted_plate() -> tuple[Model, float]:
    """A plate of 200 x 200 x 10 with 225 pits of 3 x 3 x 3 in its underside, tilted by 3 degrees."""
    many, size, angle = 15, 3.0, np.radians(3)
    solid = np.ones((2 * many + 1, 2 * many + 1, 2), dtype=bool)
    solid[1::2, 1::2, 0] = False
    points, faces = blocks(solid)
    land = (200 - many * size) / (many + 1)
    lines = np.cumsum([0.0, *[land, size] * many, land])
    across = [np.interp(points[:, k], range(len(lines)), lines) for k in (0, 1)]
    points = np.stack([*across, np.interp(points[:, 2], range(3), [0, size, 10])], axis=1)
    turn = np.array([[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]])
    model = moved(split(split((points, faces))), turn=turn)
    return model, many**2 * size**2 * (size - size / 2 * np.tan(angle))


def rough_cup(triangles: int) -> Model:
    """A bell with waves on all its walls and a ball hung in it: pockets, peaks and ceilings in great number."""
    rows = max(round(np.sqrt(triangles / 60)), 2)
    bell = cup(10, 20, 2, around=6 * rows, rows=rows)
    points, faces = joined(bell, moved(box((4, 4, 4), (8, 8, 8)), (-2, -2, 8)))
    waves = np.random.default_rng(0).normal(size=(24, 3)) * 3
    shift = np.sin(points @ waves.T + np.arange(24)).sum(axis=1)
    return points * (1 + 0.006 * shift[:, None]), faces


def growth() -> None:
    """One direction from ten thousand to a million triangles."""
    for triangles in (10_000, 100_000, 1_000_000):
        surface = surface_of(rough_cup(triangles))
        _ = surface.topology
        preparing, relief = timed(lambda surface=surface: prepare(surface), 2)
        one, _ = timed(lambda relief=relief: volume(relief, np.array([0.2, 0.1, -1.0])))
        tracemalloc.start()
        filling = fill(relief, find_basins(relief, np.array([0.2, 0.1, -1.0])))
        memory = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        print(
            f"{len(surface.triangles):8d} triangles: preparation {preparing * 1e3:7.1f} ms,"
            f" one direction {one * 1e3:7.1f} ms, {memory / 1e6:6.1f} MB, {len(filling.level) - 1} basins"
        )


def search() -> None:
    """Five hundred directions, as the search for the best way up asks."""
    relief = prepare(surface_of(rough_cup(100_000)))
    directions = np.random.default_rng(1).normal(size=(500, 3))
    seconds, volumes = timed(lambda: [volume(relief, up) for up in directions], 1)
    print(
        f"500 directions at {np.count_nonzero(relief.face >= 0)} triangles: {seconds:5.2f} s on one core"
        f" ({seconds * 2:.1f} ms each); least gas {min(volumes):.1f}, most {max(volumes):.1f};"
        " rays cast by the host: none"
    )


def turning() -> None:
    """Gas, held liquid, their lists and bodies while a part is turned by hand, beside reading the part anew each time."""
    model, angles = rough_cup(100_000), iter(np.linspace(0.0, 6.0, 40))
    surface = surface_of(model)
    _ = relief_of(surface)

    def look(surface: Surface, bodies: bool = False) -> int:
        angle = next(angles)
        up = np.array([np.sin(angle), 0.3, np.cos(angle)])
        found = (
            run_to_end(gas.trapped(surface, up, capillary_length=2.7)),
            run_to_end(gas.held(surface, up, capillary_length=2.7)),
        )
        if bodies:
            _ = gas_bodies(surface, up), liquid_bodies(surface, up)
        return len(found[0].pockets) + len(found[1].pools)

    alone, pockets = timed(lambda: look(surface), 8)
    drawn, _ = timed(lambda: look(surface, bodies=True), 8)
    anew, _ = timed(lambda: look(surface_of(model)))
    print(
        f"turned by hand, {len(surface.triangles)} triangles, {pockets} pockets and pools: {1 / alone:.0f} looks a second,"
        f" {1 / drawn:.0f} with their bodies; {anew / alone:.1f} times faster than reading the part anew"
    )


if __name__ == "__main__":
    print("gas")
    beside_a_flood("cup", *tilted_cup(), cell=2.0)
    beside_a_flood("large plate with small pits", *pitted_plate(), cell=1.0)
    growth()
    search()
    turning()
