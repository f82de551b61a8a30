"""Which way round triangles should run: alike within a shell, and outward."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .labels import connected
from .topology import Topology


def shells(topology: Topology, count: int) -> NDArray[np.int32]:
    """(m,) the connected piece of each of `count` triangles, joined across every edge."""
    owner = topology.halves // 3
    edge = np.repeat(np.arange(len(topology.edges)), np.diff(topology.starts))
    same = edge[1:] == edge[:-1]
    label, _ = connected(count, owner[:-1][same], owner[1:][same])
    return label


def uneven(triangles: NDArray[np.int32], topology: Topology) -> NDArray[np.bool_]:
    """(m,) triangles that run against the first triangle of their shell; all false where all run alike.

    Two triangles run alike where they use their common edge in opposite ways. Each triangle stands for two
    nodes, as it is and turned; edges tie the nodes that agree, and the piece that holds the first triangle as
    it is names the turn of all others. On a one-sided shell (a Moebius band) both are one piece: left as it is.
    """
    count = len(triangles)
    pair = np.flatnonzero(np.diff(topology.starts) == 2)
    first, second = topology.halves[topology.starts[pair]], topology.halves[topology.starts[pair] + 1]
    begin = triangles.reshape(-1)
    against = begin[first] == begin[second]
    if not against.any():
        return np.zeros(count, dtype=bool)
    f, g = first // 3, second // 3
    label, _ = connected(
        2 * count, np.concatenate([f, f + count]), np.concatenate([g + count * against, g + count * ~against])
    )
    shell, pieces = connected(count, f, g)
    lead = np.full(pieces, count)
    np.minimum.at(lead, shell, np.arange(count))
    one_sided = label[lead] == label[lead + count]
    return (label[:count] != label[lead][shell]) & ~one_sided[shell]


def signed_volume(corners: NDArray[np.float64], shell: NDArray[np.int32], middle: NDArray[np.float64]) -> NDArray[np.float64]:
    """(shells,) m3 enclosed by each shell, negative where it is inside out. corners : (m, 3, 3); middle : (3,)."""
    a, b, c = (corners - middle).transpose(1, 0, 2)
    return np.bincount(shell, np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0)


def winding(corners: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) how often closed triangles (m, 3, 3) wind round each point (n, 3): +-1 inside, 0 outside.

    The sum of solid angles over 4 pi; formula of Van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30
    (1983) 125 (from memory). Cost n x m.
    """
    found = np.empty(len(points))
    for k, point in enumerate(points):
        a, b, c = (corners - point).transpose(1, 0, 2)
        la, lb, lc = (np.sqrt(np.einsum("ij,ij->i", x, x)) for x in (a, b, c))
        top = np.einsum("ij,ij->i", a, np.cross(b, c))
        bottom = la * lb * lc
        for x, y, z in ((a, b, lc), (b, c, la), (c, a, lb)):
            bottom += np.einsum("ij,ij->i", x, y) * z
        found[k] = np.arctan2(top, bottom).sum() / (2 * np.pi)
    return found
