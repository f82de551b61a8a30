"""Places for wires ranked at once, against a solution for each."""

from __future__ import annotations

from itertools import combinations

import models
import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.coat import proxy, rank, sheet
from addon.engine.progress import run_to_end

RS = 0.5


def small_part() -> tuple[sheet.Sheet, np.ndarray]:
    """A bell with a thick rim as its own triangles, and an uneven current density on it."""
    part = run_to_end(inspection.inspect(models.part(models.moved(models.cup(10, 20, 2, 14, 3), scale=1e-3))))
    coat = run_to_end(sheet.build(part, triangles=1))
    return coat, coat.area * (100 + 4000 * coat.mesh.points[:, 2] - 3000 * coat.mesh.points[:, 0])


COAT, CURRENT = small_part()
RANKING = rank.Ranking.of(COAT.graph, CURRENT, RS)


def brute(wires) -> np.ndarray:
    """(n,) V with wires at these points: the reduced Laplacian solved by numpy."""
    graph = COAT.graph
    full = np.diag(graph.sums(graph.weight)) / RS
    full[graph.low, graph.high] = full[graph.high, graph.low] = -graph.weight / RS
    free = np.setdiff1d(np.arange(graph.count), wires)
    u = np.zeros(graph.count)
    u[free] = np.linalg.solve(full[np.ix_(free, free)], CURRENT[free])
    return u


def test_every_place_at_once_is_every_place_by_itself():
    """The worst drop of each candidate to rounding: so the same best, and the same order of the first ten."""
    each = np.array([brute([c]).max() for c in range(COAT.graph.count)])
    single = RANKING.single
    assert single == pytest.approx(each, rel=1e-8)
    assert single.argmin() == each.argmin()
    # mirror images on the bell lose alike: they may change places
    ten = np.argsort(single, kind="stable")[:10]
    assert each[ten] == pytest.approx(np.sort(each)[:10], rel=1e-8)


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_several_wires_share_the_current_as_in_a_solution(count):
    wires = np.random.default_rng(count).choice(COAT.graph.count, count, replace=False)
    assert RANKING.drops(wires) == pytest.approx(brute(wires), abs=1e-9)


def test_greedy_with_exchange_comes_close_to_the_best_pair_of_all():
    """Against all pairs of thirty places: not more than 2 % above the best."""
    candidates = np.arange(0, COAT.graph.count, COAT.graph.count // 30)
    best = min(brute(pair).max() for pair in combinations(candidates, 2))
    wires, worst = RANKING.best(2, candidates)
    assert set(wires) <= set(candidates)
    assert worst == pytest.approx(brute(wires).max(), rel=1e-8)
    assert best * (1 - 1e-9) <= worst <= 1.02 * best


def test_more_wires_never_lose_more():
    candidates = np.arange(COAT.graph.count)
    worst = [RANKING.best(count, candidates)[1] for count in (1, 2, 3, 4)]
    assert worst == sorted(worst, reverse=True)
    assert worst[1] < 0.7 * worst[0]


def test_more_wires_than_places_is_no_accident():
    wires, worst = RANKING.best(3, np.array([5, 9]))
    assert set(wires) == {5, 9}
    assert worst == pytest.approx(brute([5, 9]).max(), rel=1e-8)


def test_proxy_keeps_current_pieces_and_area():
    """Coarse patches never bridge separate pieces, and lose neither area nor current."""
    part = models.part(
        models.moved(models.sphere(5, 3), scale=1e-3),
        models.moved(models.box((8, 8, 8), (6, 6, 6)), (20, 0, 0), scale=1e-3),
    )
    coat = run_to_end(sheet.build(run_to_end(inspection.inspect(part)), triangles=1))
    patches = run_to_end(proxy.build(coat, 100))
    assert len(patches.area) <= 100
    assert patches.area.sum() == pytest.approx(coat.area.sum(), rel=1e-12)
    assert (patches.piece[patches.patch] == coat.piece).all()
    assert (patches.piece[patches.graph.low] == patches.piece[patches.graph.high]).all()
    assert patches.graph.weight.min() >= 0
