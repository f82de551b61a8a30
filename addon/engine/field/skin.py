"""The part's surface as the field sees it: a coarser skin, its pieces, and which faces each piece stands
for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..steps import Steps
from ..surface import Surface
from ..tank import Role
from .coarsen import Coarse, coarsen
from .pieces import Array, Ints, area, nearest, normals, split

RIM = 0.1  # open edges longer than this share of a shell's size make it a sheet, not a body with a flaw


@dataclass(frozen=True, eq=False)
class Skin:
    """Triangles in model coordinates, normals into the liquid.

    corners : (k, 3, 3); role : (k,) PART where plated, else INSULATOR
    sheet : (k,) bool, liquid on both sides; sides : (k,) of them that count
    rows : (m',) wetted triangles of the surface; coarse : how they became the skin
    """

    surface: Surface
    corners: Array
    role: NDArray[np.int8]
    sheet: NDArray[np.bool_]
    sides: NDArray[np.int8]
    rows: Ints
    coarse: Coarse


def skin(surface: Surface, size: float, most: int) -> Steps[Skin]:
    """The wetted surface with edges shorter than `size` (m) collapsed, in at most about `most` triangles."""
    sheet = _sheets(surface)
    role = np.where(surface.plated, Role.PART, Role.INSULATOR).astype(np.int8)
    rows = np.flatnonzero(surface.wetted & (surface.area > 0) & ~(sheet & (role == Role.INSULATOR)))
    label = 2 * role[rows] + sheet[rows]
    wanted = np.full(len(surface.points), size)
    coarse = yield from coarsen(surface.points, surface.triangles[rows], label, wanted, most)
    corners = surface.points[coarse.triangles]
    proper = area(corners) > 1e-9 * size**2
    if not proper.all():
        coarse = Coarse(coarse.triangles[proper], coarse.origin[proper], coarse.place)
        corners = corners[proper]
    origin = rows[coarse.origin]
    return Skin(surface, corners, role[origin], sheet[origin], surface.sides[origin], rows, coarse)


def _sheets(surface: Surface) -> NDArray[np.bool_]:
    """Triangles of shells that the liquid touches on both sides, whether or not both count."""
    topology = surface.topology
    count = int(surface.shell.max()) + 1
    total = np.bincount(surface.shell, surface.area, minlength=count)
    ends = surface.points[topology.edges[topology.open]]
    length = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1)
    rim = np.bincount(surface.shell[topology.edge_faces[topology.open, 0]], length, minlength=count)
    return (
        (rim > RIM * np.sqrt(total)) | (np.bincount(surface.shell, surface.sides == 2, minlength=count) > 0)
    )[surface.shell]


@dataclass(frozen=True, eq=False)
class Cover:
    """Which pieces tell a face's value. A face's value is the sum of weight x value over its pieces.

    face, piece, weight : (c,) of all pairs; faces : number of faces; area : (c,) m2 of the face that the pair
    stands for
    """

    face: Ints
    piece: Ints
    weight: Array
    share: Array
    faces: int
    pieces: int

    def to_faces(self, values: Array) -> Array:
        """Values of pieces (n,) to faces (m,); zero on faces without a piece."""
        return np.bincount(self.face, self.weight * values[self.piece], minlength=self.faces)

    def to_pieces(self, values: Array) -> Array:
        """Values of faces (m,) to pieces (n,): means by area; pieces that stand for no face get the mean of
        all.
        """
        total = np.bincount(self.piece, self.share, minlength=self.pieces)
        out = np.bincount(self.piece, self.share * values[self.face], minlength=self.pieces)
        mean = float(np.average(values[self.face], weights=self.share))
        return np.divide(out, total, out=np.full(self.pieces, mean), where=total > 0)


def cover(skin: Skin, pieces: Array, origin: Ints) -> Cover:
    """From pieces (n, 3, 3) of the skin's triangles `origin` (n,) to the faces of the surface."""
    surface, coarse = skin.surface, skin.coarse
    weight = area(pieces)
    # faces that are triangles of the skin still: the mean over their pieces
    source = skin.rows[coarse.origin]
    same = (surface.triangles[source] == coarse.triangles).all(axis=1)
    whole = same[origin]
    total = np.bincount(origin, weight, minlength=len(same))
    kept = np.flatnonzero(whole)
    face = [source[origin[kept]]]
    piece = [kept]
    part = [weight[kept] / total[origin[kept]]]
    # the others: the nearest piece among those that their corners were slid to; large ones bit by bit
    rest = np.setdiff1d(skin.rows, source[same])
    middle, facing = pieces.mean(axis=1), normals(pieces)
    place = coarse.place[surface.triangles[rest]]
    around = _Around(coarse.triangles[origin], len(surface.points))
    large = (surface.area[rest] > 2.0 * np.median(weight)) | (around.count[place].sum(axis=1) == 0)
    small, big = rest[~large], rest[large]
    if len(small):
        face.append(small)
        piece.append(
            around.nearest(surface.centroid[small], surface.normal[small], place[~large], pieces, facing)
        )
        part.append(np.ones(len(small)))
    if len(big):
        bits, owner = split(
            surface.corners[big], np.full((len(big), 3), 2.0 * float(np.sqrt(np.median(weight))))
        )
        face.append(big[owner])
        piece.append(nearest(bits.mean(axis=1), surface.normal[big[owner]], middle, facing))
        part.append(area(bits) / surface.area[big[owner]])
    f, p, w = np.concatenate(face), np.concatenate(piece), np.concatenate(part)
    return Cover(f, p, w, w * surface.area[f], len(surface.triangles), len(pieces))


class _Around:
    """The pieces round each point of the skin. count : (v,) how many"""

    def __init__(self, triangles: Ints, points: int) -> None:
        corner = triangles.reshape(-1)
        order = np.argsort(corner, kind="stable")
        self._piece = order // 3
        self.count = np.bincount(corner, minlength=points)
        self._start = np.cumsum(self.count) - self.count

    def nearest(self, points: Array, normals: Array, place: Ints, pieces: Array, facing: Array) -> Ints:
        """For each point (n, 3) the nearest of the pieces round its three places (n, 3) that face its way."""
        middle = pieces.mean(axis=1)
        spread = ((pieces[:, 0] - middle) ** 2).sum(axis=1)
        out = np.empty(len(points), dtype=np.intp)
        for start in range(0, len(points), 50_000):
            spot = place[start : start + 50_000]
            count = self.count[spot]
            many, flat = count.sum(axis=1), count.reshape(-1)
            first = np.repeat(self._start[spot].reshape(-1) - np.cumsum(flat) + flat, flat)
            candidate = self._piece[first + np.arange(int(flat.sum()))]
            home = np.repeat(np.arange(start, start + len(spot)), many)
            apart = ((points[home] - middle[candidate]) ** 2).sum(axis=1)
            apart += 4.0 * spread[candidate] * (1.0 - (normals[home] * facing[candidate]).sum(axis=1))
            least = np.minimum.reduceat(apart, np.cumsum(many) - many)
            hit = np.flatnonzero(apart == np.repeat(least, many))[::-1]
            out[home[hit]] = candidate[hit]
        return out
