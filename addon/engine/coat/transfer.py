"""The transfer between the panels of a field and the patches of a coat, without passing over the part's faces at
every product."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..field.cover import Cover
from ..linalg.sparse import Index, Vector, added, sorted_keys
from .proxy import AggregatedNetwork
from .sheet import Sheet


@dataclass(frozen=True, eq=False)
class FacePatches:
    """How much of each of the part's faces lies on which patch.

    starts : (m + 1,) where each face's entries begin; patch : (k,); area : (k,) m2 of plated coat
    """

    starts: Index
    patch: Index
    area: Vector

    @classmethod
    def of(cls, sheet: Sheet, patches: AggregatedNetwork) -> FacePatches:
        """A third of a triangle goes to each of its corners, as the sheet collects."""
        face = np.repeat(sheet.mesh.owner.astype(np.intp), 3)
        patch = patches.patch[sheet.mesh.triangles.reshape(-1)]
        area = np.repeat(sheet.share / 3.0, 3)
        plated = np.flatnonzero(area > 0)
        face, patch, area = _summed(face[plated], patch[plated], area[plated], len(patches.area))
        return cls(np.searchsorted(face, np.arange(sheet.faces + 1)), patch, area)


@dataclass(frozen=True, eq=False)
class Transfer:
    """Two sparse matrices.

    patch, piece, area : (k,) m2, from densities on the pieces of a part to the current into each patch
    to_piece, from_patch, share : (l,) from volts on the patches to volts on the pieces, means by area
    patches, pieces : how many there are
    """

    patch: Index
    piece: Index
    area: Vector
    to_piece: Index
    from_patch: Index
    share: Vector
    patches: int
    pieces: int

    @classmethod
    def of(cls, faces: FacePatches, own: Index, count: int, cover: Cover) -> Transfer:
        """own : (n,) the patches that wires reach, of `count`; cover : from the pieces to the part's faces.

        The same as collecting from faces that have the mean of their pieces, and as the mean over a piece's faces of
        theirs, which is that over each face of its patches: nothing where none is plated, or no wire reaches.
        """
        number = np.full(count, -1)
        number[own] = np.arange(len(own))
        pair, entry = _joined(faces.starts, cover.face)
        patch = number[faces.patch[entry]]
        reached = np.flatnonzero(patch >= 0)
        pair, entry, patch = pair[reached], entry[reached], patch[reached]
        pieces = len(cover.home)
        collect = _summed(patch, cover.piece[pair], faces.area[entry] * cover.weight[pair], pieces)
        total = added(cover.piece, cover.share, pieces)
        bare = np.flatnonzero(total <= 0)  # pieces that no face reads: taken from the face they came from
        to = np.concatenate([cover.piece, bare])
        weight = np.concatenate([cover.share / np.where(total > 0, total, 1.0)[cover.piece], np.ones(len(bare))])
        pair, entry = _joined(faces.starts, np.concatenate([cover.face, cover.home[bare]]))
        patch = number[faces.patch[entry]]
        whole = np.add.reduceat(np.append(faces.area, 0.0), faces.starts[:-1]) if len(faces.area) else faces.area
        face = np.searchsorted(faces.starts, entry, side="right") - 1
        reached = np.flatnonzero(patch >= 0)
        pair, entry, patch, face = pair[reached], entry[reached], patch[reached], face[reached]
        give = _summed(to[pair], patch, weight[pair] * faces.area[entry] / whole[face], len(own))
        return cls(*collect, *give, len(own), pieces)

    def collected(self, density: Vector) -> Vector:
        """(n,) A into each patch from the density (p,) A/m2 on the pieces."""
        return added(self.patch, self.area * density[self.piece], self.patches)

    def on_pieces(self, value: Vector) -> Vector:
        """(p,) of the pieces, from a value (n,) of the patches."""
        return added(self.to_piece, self.share * value[self.from_patch], self.pieces)

    def leak(self, twin: NDArray[np.intp]) -> Leak:
        """The current that patches collect through pieces tied to the piece twin[i] (p,)."""
        starts = np.searchsorted(self.to_piece, np.arange(self.pieces + 1))
        own_piece = twin[self.piece]
        pair, entry = _joined(starts, own_piece)
        return Leak(self.patch[pair], self.from_patch[entry], own_piece[pair], self.area[pair] * self.share[entry])


@dataclass(frozen=True, eq=False)
class Leak:
    """The current into the patches `patch` (k,) for a volt of the patches `from_patch` (k,): area (k,) m2 times the
    conductance of the pieces `piece` (k,)."""

    patch: Index
    from_patch: Index
    piece: Index
    area: Vector


def _joined(starts: Index, face: NDArray[np.intp]) -> tuple[Index, Index]:
    """All entries of each face (c,) that is asked for: which of the faces, and which entry, (k,) each."""
    count = starts[face + 1] - starts[face]
    pair = np.repeat(np.arange(len(face)), count)
    entry = np.arange(len(pair)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(starts[face], count)
    return pair, entry


def _summed(row: Index, column: Index, value: Vector, columns: int) -> tuple[Index, Index, Vector]:
    """Entries of a matrix with those in one place added up, by row and then column."""
    bits = max(int(columns - 1).bit_length(), 1)
    key = row.astype(np.intp) << bits | column
    order, key = sorted_keys(key, int(key.max(initial=1)).bit_length())
    first = np.flatnonzero(np.append(True, key[1:] != key[:-1])) if len(key) else np.empty(0, np.intp)
    total = np.add.reduceat(value[order], first) if len(first) else value
    return key[first] >> bits, key[first] & ((1 << bits) - 1), total
