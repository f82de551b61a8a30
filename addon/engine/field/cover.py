"""Transfer from pieces to the faces of the part and back.

A face that is still a triangle of the skin gets the mean of its pieces. Any other lies on some piece, or on
several, and reads the density there, which is made linear on each piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..linalg.sparse import added
from .ends import Ends
from .pieces import Array, Ints, area, barycentric, dot, nearest, normals, slabs, split, within
from .skin import Skin

MIN_PIECE_OVER_MEAN_AREA = 0.1  # of the mean area: pieces smaller than this are not read one by one
MIN_PIECES_SEARCHED_AT_ONCE = 200  # pieces at hand, from which on all are searched at once
OFF = -0.2  # barycentric: a place so far outside of the nearest piece at hand may lie on another
FACES_PER_BATCH = 4000  # faces searched together: their pieces stay in the processor's cache
MAX_STEPS_ASIDE = 2  # from piece to piece, towards one that is nearer
# A face longer than this, over the root of the area of the piece in its middle, is read bit by bit
MAX_FACE_OVER_PIECE_SIZE = 1.2


@dataclass(frozen=True, eq=False)
class Cover:
    """Which pieces tell a face's value. A face's value is the sum of weight x value over its pieces.

    face, piece, weight : (c,) of all pairs; place : (c, 3) barycentric, where on the piece
    share : (c,) m2 of the face that the pair stands for; faces : number of faces
    home : (n,) the face whose triangle became that of the piece
    high : (n,) meters that the faces lie above the piece, on average; nan where none reads it
    ends : what makes values linear
    """

    face: Ints
    piece: Ints
    weight: Array
    place: Array
    share: Array
    faces: int
    home: Ints
    high: Array
    ends: Ends

    def to_faces(self, values: Array) -> Array:
        """Values of pieces (n,) to faces (m,), linear on the pieces; zero on faces without a piece.

        The total current is preserved: the small remainder is distributed by area.
        """
        read = dot(self.ends.of_values(values)[self.piece], self.place)
        size = np.abs(read)
        left, carried = float(self.ends.size @ values) - float(self.share @ read), float(self.share @ size)
        if carried > 0.0:
            read += left / carried * size
        return added(self.face, self.weight * read, self.faces)

    def mean(self, values: Array) -> Array:
        """Values of pieces (n,) to faces (m,), constant on the pieces."""
        return added(self.face, self.weight * values[self.piece], self.faces)

    def to_pieces(self, values: Array) -> Array:
        """Values of faces (m,) to pieces (n,): means by area; pieces that no face reads get that of their home."""
        total = np.bincount(self.piece, self.share, minlength=len(self.home))
        out = np.bincount(self.piece, self.share * values[self.face], minlength=len(self.home))
        return np.divide(out, total, out=values[self.home], where=total > 0)


def cover(skin: Skin, pieces: Array, origin: Ints) -> Cover:
    """From pieces (n, 3, 3) of the skin's triangles `origin` (n,) to the faces of the surface."""
    surface, coarse = skin.surface, skin.coarse
    size, facing = area(pieces), normals(pieces)
    label = 2 * skin.role[origin] + skin.sides[origin]
    source = skin.rows[coarse.origin]
    same = (surface.triangles[source] == coarse.triangles).all(axis=1)
    total = np.bincount(origin, size, minlength=len(same))
    retained = np.flatnonzero(same[origin])
    pairs = [
        (source[origin[retained]], retained, size[retained] / total[origin[retained]], pieces[retained].mean(axis=1))
    ]
    unmatched = np.setdiff1d(skin.rows, source[same])
    went = coarse.place[surface.triangles[unmatched]]
    around = _Around(coarse.triangles[origin], len(surface.points), pieces, facing)
    at, face, share = surface.centroid[unmatched], unmatched, np.ones(len(unmatched))
    piece_below = _nearest_piece(at, surface.normal[unmatched], went, around, pieces, facing)
    length = MAX_FACE_OVER_PIECE_SIZE * np.sqrt(np.maximum(size[piece_below], MIN_PIECE_OVER_MEAN_AREA * size.mean()))
    edges = surface.corners[unmatched] - np.roll(surface.corners[unmatched], 1, axis=1)
    long = np.einsum("ijk,ijk->ij", edges, edges).max(axis=1) > length**2
    if long.any():  # read in strips
        sample = unmatched[long]
        strips, strip = slabs(surface.corners[sample], float(length[long].min()))
        bits, bit = split(strips, np.repeat(length[long][strip, None], 3, axis=1))
        owner = strip[bit]
        middle = bits.mean(axis=1)
        again = _nearest_piece(middle, surface.normal[sample[owner]], went[long][owner], around, pieces, facing)
        at, face = np.concatenate([at[~long], middle]), np.append(face[~long], sample[owner])
        share = np.append(share[~long], area(bits) / surface.area[sample[owner]])
        piece_below = np.append(piece_below[~long], again)
    pairs.append((face, piece_below, share, at))
    f, p, w, at = (np.concatenate(column) for column in zip(*pairs, strict=True))
    place = within(barycentric(at, pieces[p]))
    share = w * surface.area[f]
    total = np.bincount(p, share, len(pieces))
    above = np.bincount(p, share * dot(at - pieces.mean(axis=1)[p], facing[p]), len(pieces))
    high = np.divide(above, total, out=np.full(len(pieces), np.nan), where=total > 0)
    ends = Ends.of(pieces, label)
    return Cover(f, p, w, place, share, len(surface.triangles), source[origin], high, ends)


def _nearest_piece(points: Array, normals: Array, places: Ints, around: _Around, pieces: Array, facing: Array) -> Ints:
    """The piece under each point (n, 3): searched round the three places (n, 3) that its face was collapsed to, and
    onward while a nearer piece is found; among all pieces if none nearby faces the same way.
    """
    nearest_piece = np.zeros(len(points), dtype=np.intp)
    left = around.at_hand(places)
    nearest_piece[left] = around.nearest(points[left], normals[left], places[left])
    lost = np.ones(len(points), dtype=bool)
    lost[left] = False
    for _ in range(MAX_STEPS_ASIDE):
        left = left[barycentric(points[left], pieces[nearest_piece[left]]).min(axis=1) < OFF]
        left = left[around.at_hand(around.triangles[nearest_piece[left]])]
        before = nearest_piece[left]
        nearest_piece[left] = around.nearest(points[left], normals[left], around.triangles[before])
        left = left[nearest_piece[left] != before]
    lost |= dot(normals, facing[nearest_piece]) < 0.0
    nearest_piece[lost] = nearest(points[lost], normals[lost], pieces.mean(axis=1), facing)
    return nearest_piece


class _Around:
    """The pieces round each point of the skin. triangles : (n, 3) of the skin, one a piece; points : how many;
    middle, facing : (n, 3) of the pieces; spread : (n,) m2, of the first corner from the middle, squared
    """

    def __init__(self, triangles: Ints, points: int, pieces: Array, facing: Array) -> None:
        self.triangles = triangles
        corner = triangles.reshape(-1)
        order = np.argsort(corner, kind="stable")
        self._piece = order // 3
        self._count = np.bincount(corner, minlength=points)
        self._start = np.cumsum(self._count) - self._count
        middle = pieces.mean(axis=1)
        self._spread = ((pieces[:, 0] - middle) ** 2).sum(axis=1)
        self._middle, self._facing = (np.ascontiguousarray(vectors.T) for vectors in (middle, facing))

    def at_hand(self, places: Ints) -> Ints:
        """Of triples of points (n, 3) the numbers of those that have pieces round them, and not too many."""
        x, y, z = (self._count[place] for place in places.T)
        total = x + y + z
        return np.flatnonzero((total > 0) & (total < MIN_PIECES_SEARCHED_AT_ONCE))

    def nearest(self, points: Array, normals: Array, place: Ints) -> Ints:
        """For each point (n, 3) the nearest of the pieces round its three places (n, 3) that face its way."""
        out = np.empty(len(points), dtype=np.intp)
        for start in range(0, len(points), FACES_PER_BATCH):
            rows = slice(start, start + FACES_PER_BATCH)
            spot = place[rows]
            count = self._count[spot]
            first, second, third = spot.T
            count[second == first, 1] = 0  # most faces of a fine mesh collapsed to one place: its pieces are tried once
            count[(third == first) | (third == second), 2] = 0
            per_point, flat = count.sum(axis=1), count.reshape(-1)
            first = np.repeat(self._start[spot].reshape(-1) - np.cumsum(flat) + flat, flat)
            candidate = self._piece[first + np.arange(int(flat.sum()))]
            home = np.repeat(np.arange(len(spot)), per_point)
            x, y, z = (at[home] - to[candidate] for at, to in zip(points[rows].T, self._middle, strict=True))
            u, v, w = (at[home] * to[candidate] for at, to in zip(normals[rows].T, self._facing, strict=True))
            apart = x * x + y * y + z * z + 4.0 * self._spread[candidate] * (1.0 - (u + v + w))
            least = np.minimum.reduceat(apart, np.cumsum(per_point) - per_point)
            winners = np.flatnonzero(apart == np.repeat(least, per_point))[::-1]
            out[start + home[winners]] = candidate[winners]
        return out
