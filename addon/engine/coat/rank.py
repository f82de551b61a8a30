"""Ranks every place for a wire at once, and sets of a few wires, without a solution for each.

With G the pseudo-inverse of the network's Laplacian, b the current that each point collects and Q its sum, the drop
from v to a wire at c is (G b)_v - (G b)_c + Q (G_cc - G_vc): all pairs in one expression. With several wires the
currents I_c that they carry follow from equal potentials at all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..linalg.sparse import Graph, Index, Vector

MAX_EXCHANGE_ROUNDS = 12  # rounds in which every wire may move once
MIN_EXCHANGE_GAIN = 1e-4  # of the worst drop, least gain that moves a wire: less is rounding on a symmetric part
PEACEMAN_RADIUS_RATIO = 0.1985  # radius of the disc that a point of a network stands for, beside the root of its area


@dataclass(frozen=True, eq=False)
class Ranking:
    """One connected network prepared for ranking: dense, so for a few thousand points at most.

    green : (n, n) ohm, pseudo-inverse of the Laplacian; current : (n,) A that each point collects
    spread : (n,) V lost between a point as the network sees it and a wire's pad on it, for the whole current;
        negative where the pad is the larger
    """

    green: Vector
    current: Vector
    spread: Vector

    @classmethod
    def of(
        cls,
        graph: Graph,
        current: Vector,
        sheet_resistance: float,
        *,
        area: Vector | None = None,
        pad: float | Vector | None = None,
    ) -> Ranking:
        """graph : connected, one ohm a square; area : (n,) m2 and pad : diameter in meters, one or (n,), add what is
        lost close to a round pad. The disc that a point of a network stands for: D. W. Peaceman, SPE Journal 18 (1978)
        183 (from memory)."""
        n = graph.count
        matrix = np.diag(graph.sums(graph.weight))
        matrix[graph.low, graph.high] = matrix[graph.high, graph.low] = -graph.weight
        # makes the matrix regular: a constant is added to it and taken off its inverse
        shift = max(float(np.trace(matrix)), 1.0) / n
        green = sheet_resistance * (np.linalg.inv(matrix + shift / n) - 1.0 / (shift * n))
        spread = np.zeros(n)
        if area is not None and pad is not None:
            radius = PEACEMAN_RADIUS_RATIO * np.sqrt(np.maximum(area, 1e-300))
            total = float(current.sum())
            spread = sheet_resistance * total / (2 * np.pi) * np.log(2 * radius / pad)
        return cls(green, current, spread)

    @cached_property
    def single(self) -> Vector:
        """(n,) V, the worst drop anywhere with one wire at each point."""
        lost = self.green @ self.current
        total = float(self.current.sum())
        far = (lost[:, None] - total * self.green).max(axis=0)
        return far - lost + total * np.diag(self.green) + self.spread

    def drops(self, wires: Index) -> Vector:
        """(n,) V lost at each point with wires at these points."""
        return self._sets(np.asarray(wires)[None, :])[1][0]

    def best(self, count: int, candidates: Index) -> tuple[Index, float]:
        """The places of `count` wires among the candidates (of all, if they are fewer), and the worst drop in V.

        Two starts, the best place one after another, and each next wire where most is lost; from both, each wire in
        turn moves to where it serves best while the others stay, until none moves. Not always the global optimum, but
        close.
        """
        count = min(count, len(candidates))
        first = int(candidates[self.single[candidates].argmin()])
        nearby, far = [first], [first]
        for _ in range(count - 1):
            nearby.append(self.more(nearby, candidates)[0])
            free = candidates[~np.isin(candidates, far)]
            far.append(int(free[self.drops(np.array(far))[free].argmax()]))
        sets = [self._exchanged(start, candidates) for start in ([nearby, far] if count > 1 else [nearby])]
        wires, worst = min(sets, key=lambda choice: choice[1])
        return np.array(wires), worst

    def _exchanged(self, wires: list[int], candidates: Index) -> tuple[list[int], float]:
        """The wires after each in turn has moved to where it helps most, while that helps at all."""
        worst = float(self.drops(np.array(wires)).max())
        for _ in range(MAX_EXCHANGE_ROUNDS if len(wires) < len(candidates) else 0):
            moved = False
            for i in range(len(wires)):
                others = wires[:i] + wires[i + 1 :]
                place, value = self.more(others, candidates)
                if value < worst * (1.0 - MIN_EXCHANGE_GAIN):
                    wires, worst, moved = [*others[:i], place, *others[i:]], value, True
            if not moved:
                break
        return wires, worst

    def more(self, wires: Sequence[int], candidates: Index) -> tuple[int, float]:
        """The best place for one wire more than these, and the worst drop then in V."""
        free = candidates[~np.isin(candidates, wires)]
        if not len(free):
            return int(wires[-1]), float(self.drops(np.array(wires)).max())
        sets = np.column_stack([np.tile(wires, (len(free), 1)), free]).astype(np.intp)
        worst = np.concatenate([self._sets(part)[0] for part in np.array_split(sets, 1 + len(sets) // 256)])
        best = int(worst.argmin())
        return int(free[best]), float(worst[best])

    def _sets(self, sets: Index) -> tuple[Vector, Vector]:
        """Worst drop (s,), and drop at each point (s, n), of each set of wires (s, k)."""
        s, k = sets.shape
        lost = self.green @ self.current
        # potentials: lost - sum_c I_c green_c + constant, zero at every wire; the I_c add up to the current
        system = np.zeros((s, k + 1, k + 1))
        system[:, :k, :k] = self.green[sets[:, :, None], sets[:, None, :]]
        total = float(self.current.sum())
        if total > 0:
            rows = np.arange(k)
            system[:, rows, rows] += self.spread[sets] / total
        system[:, :k, k] = -1.0
        system[:, k, :k] = 1.0
        right = np.empty((s, k + 1))
        right[:, :k], right[:, k] = lost[sets], total
        solved = np.linalg.solve(system, right[:, :, None])[:, :, 0]
        drops = lost - np.einsum("sk,skn->sn", solved[:, :k], self.green[sets]) + solved[:, k, None]
        return drops.max(axis=1), drops
