"""From pieces to the faces of the part and back.

A face that is still a triangle of the skin gets the mean of its pieces. Any other lies on some piece and
reads the density there, which is made linear on each piece: its corners get the mean of the pieces that meet
in them and face alike, then all three are shifted so that the piece keeps its own mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .pieces import Array, Ints, area, nearest, normals, split
from .skin import Skin

STEEP = 0.5  # a corner differs from its piece by no more than this share of the piece's value
BEYOND = 0.5  # how far outside its piece a face may read, in barycentric coordinates


@dataclass(frozen=True, eq=False)
class Cover:
    """Which pieces tell a face's value. A face's value is the sum of weight x value over its pieces.

    face, piece, weight : (c,) of all pairs; place : (c, 3) barycentric, where on the piece
    share : (c,) m2 of the face that the pair stands for; faces : number of faces
    corner : (n, 3) number of the place in which pieces meet; size : (n,) m2 of the pieces
    """

    face: Ints
    piece: Ints
    weight: Array
    place: Array
    share: Array
    faces: int
    corner: Ints
    size: Array

    def to_faces(self, values: Array) -> Array:
        """Values of pieces (n,) to faces (m,); zero on faces without a piece."""
        weight = np.repeat(self.size, 3)
        total = np.bincount(self.corner.reshape(-1), weight)
        ends = np.bincount(self.corner.reshape(-1), weight * np.repeat(values, 3)) / total
        away = ends[self.corner]
        away -= away.mean(axis=1, keepdims=True)
        most = STEEP * np.abs(values)[:, None]
        away = np.clip(away, -most, most)
        read = values[self.piece] + np.einsum("ij,ij->i", away[self.piece], self.place)
        return np.bincount(self.face, self.weight * read, minlength=self.faces)

    def to_pieces(self, values: Array) -> Array:
        """Values of faces (m,) to pieces (n,): means by area; pieces that stand for no face get the mean of
        all.
        """
        count = len(self.size)
        total = np.bincount(self.piece, self.share, minlength=count)
        out = np.bincount(self.piece, self.share * values[self.face], minlength=count)
        mean = float(np.average(values[self.face], weights=self.share))
        return np.divide(out, total, out=np.full(count, mean), where=total > 0)


def cover(skin: Skin, pieces: Array, origin: Ints) -> Cover:
    """From pieces (n, 3, 3) of the skin's triangles `origin` (n,) to the faces of the surface."""
    surface, coarse = skin.surface, skin.coarse
    size, facing = area(pieces), normals(pieces)
    source = skin.rows[coarse.origin]
    same = (surface.triangles[source] == coarse.triangles).all(axis=1)
    total = np.bincount(origin, size, minlength=len(same))
    kept = np.flatnonzero(same[origin])
    pairs = [(source[origin[kept]], kept, size[kept] / total[origin[kept]], pieces[kept].mean(axis=1))]
    rest = np.setdiff1d(skin.rows, source[same])
    went = coarse.place[surface.triangles[rest]]
    around = _Around(coarse.triangles[origin], len(surface.points))
    length = 2.0 * float(np.sqrt(np.median(size)))
    edges = surface.corners[rest] - np.roll(surface.corners[rest], 1, axis=1)
    long = np.einsum("ijk,ijk->ij", edges, edges).max(axis=1) > (1.5 * length) ** 2
    large = long | (around.count[went].sum(axis=1) == 0)
    small, big = rest[~large], rest[large]
    if len(small):
        at, normal = surface.centroid[small], surface.normal[small]
        hit = around.nearest(at, normal, went[~large], pieces, facing)
        off = np.flatnonzero(_barycentric(at, pieces[hit]).min(axis=1) < -0.2)  # not among those at hand
        hit[off] = nearest(at[off], normal[off], pieces.mean(axis=1), facing)
        pairs.append((small, hit, 1.0, at))
    if len(big):  # bit by bit
        bits, owner = split(surface.corners[big], np.full((len(big), 3), length))
        at, face = bits.mean(axis=1), big[owner]
        hit = nearest(at, surface.normal[face], pieces.mean(axis=1), facing)
        pairs.append((face, hit, area(bits) / surface.area[face], at))
    f, p, at = (np.concatenate([pair[k] for pair in pairs]) for k in (0, 1, 3))
    w = np.concatenate([np.broadcast_to(pair[2], pair[0].shape) for pair in pairs])
    place = np.clip(_barycentric(at, pieces[p]), -BEYOND, 1.0 + BEYOND)
    place /= place.sum(axis=1, keepdims=True)
    return Cover(f, p, w, place, w * surface.area[f], len(surface.triangles), _corners(pieces, facing), size)


def _barycentric(points: Array, triangles: Array) -> Array:
    """Of points (n, 3) dropped onto triangles (n, 3, 3), (n, 3)."""
    a, b, c = triangles.swapaxes(0, 1)
    u, v, w = b - a, c - a, points - a
    uu, uv, vv, wu, wv = (np.einsum("ij,ij->i", *pair) for pair in ((u, u), (u, v), (v, v), (w, u), (w, v)))
    below = uu * vv - uv * uv
    second, third = (vv * wu - uv * wv) / below, (uu * wv - uv * wu) / below
    return np.stack([1.0 - second - third, second, third], axis=1)


def _corners(pieces: Array, facing: Array) -> Ints:
    """(n, 3) one number for all corners of pieces at one place that face alike."""
    span = float(np.ptp(pieces.reshape(-1, 3), axis=0).max())
    places = np.round(pieces.reshape(-1, 3) / (1e-7 * span)).astype(np.int64)
    alike = np.round(1.5 * np.repeat(facing, 3, axis=0)).astype(np.int64)
    keys = np.ascontiguousarray(np.hstack([places, alike]))
    _, number = np.unique(keys.view([("", keys.dtype)] * 6).reshape(-1), return_inverse=True)
    return number.reshape(-1, 3)


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
