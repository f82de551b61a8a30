"""How the panels act on each other in their liquid: the layer operators with the walls that are images.

A liquid is without end, or closed by panels, or behind mirrors, or a box of insulating walls. In a box
nothing but electrodes and shields needs panels: near images are mirrors or copied panels ("ghosts"), the rest
is `BoxImages`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ...progress import Progress, Step, subrange
from .box import BoxImages
from .images import SELF, Group, Image, after, mirrored, near_images, reflect
from .layers import LayerOperators, Neighborhood

Array = NDArray[np.float64]
Single = NDArray[np.float32]

# bytes that a solution takes at most beside the operators: of a panel (GMRES's vectors, inverses of blocks, reading),
# more of one in a box (its values at the nodes of the images), and of an image panel
BYTES_PER_PANEL, BYTES_PER_BOXED_PANEL, BYTES_PER_IMAGE_PANEL = 2200, 3700, 2300


@dataclass(frozen=True, eq=False)
class Liquid:
    """What bounds the liquid besides the panels.

    box : (2, 3) lowest and highest corner of a box whose six sides insulate, or None
    surface : height of a free surface that is a mirror, or None
    """

    box: Array | None = None
    surface: float | None = None


class Influence:
    """S and D of the panels in their liquid, at their centroids.

    n, area, centroid, normal : of the panels, (n,) and (n, 3)
    double : (n,) bool: the panels that have a double layer: all but sheets, which the liquid wets on both sides
    diagonal : (n,) meters, S_ii
    """

    def __init__(
        self,
        layers: LayerOperators,
        images: BoxImages | None,
        ghosts: NDArray[np.intp],
        double: NDArray[np.bool_],
        twin: NDArray[np.intp] | None = None,
    ) -> None:
        """twin : (n,) the panel whose potential each has, itself or another"""
        self._layers, self._images, self._ghosts, self._twin = layers, images, ghosts, twin
        self.n = n = len(double)
        self.area, self.centroid, self.normal = layers.area[:n], layers.centroid[:n], layers.normal[:n]
        self.diagonal = layers.diagonal
        self.double = double

    @cached_property
    def _seen(self) -> Array:
        """(n,) minus D 1, computed on first use. Tied panels share their twin's value."""
        seen = -self.apply(np.zeros(self.n), np.ones(self.n), precise=True)
        return seen if self._images is None else seen - self._images.background(self.double)

    @cached_property
    def closed(self) -> bool:
        """Whether the panels (and a mirror) enclose the liquid: they see themselves as +1/2 then, else as -1/2."""
        return bool(self.double.any() and np.median(self._seen[self.double]) > 0.0)

    @cached_property
    def share(self) -> Array:
        """(n,) share of the sphere that is liquid, as the panels themselves see it: a half on a flat panel of a closed
        body, 1 on a sheet. It makes a constant potential carry no current, exactly."""
        return self._seen if self.closed else 1.0 + self._seen

    def groups(self, most: int) -> list[NDArray[np.int64]]:
        """Groups of at most so many neighboring panels that part the whole, as indices."""
        return self._layers.groups(most)

    def neighborhood(self, group: NDArray[np.int64], size: int) -> Neighborhood:
        """A group with the panels round it, `size` together, and what they do to each other."""
        return self._layers.neighborhood(group, size)

    def potential(self, near: Neighborhood) -> Single:
        """(m, m) share - D of a neighborhood, what potentials do there; those of tied panels count at the others."""
        panels = near.panels
        out: Single = -near.double * self.double[panels]
        if self._twin is not None:
            tied = np.flatnonzero(self._twin[panels] != panels)
            order = np.argsort(panels)
            at = order[np.searchsorted(panels[order], self._twin[panels[tied]]) % len(panels)]
            own_body = panels[at] == self._twin[panels[tied]]
            np.add.at(out.T, at[own_body], out[:, tied[own_body]].T)
            out[:, tied] = 0.0
        out[np.diag_indices(len(panels))] += self.share[panels]
        return out

    def without(self, rows: NDArray[np.bool_]) -> Influence:
        """The same with no double layer on the given panels."""
        return Influence(self._layers, self._images, self._ghosts, self.double & ~rows, self._twin)

    def tied(self, twin: NDArray[np.intp]) -> Influence:
        """The same where a panel has the potential of another, (n,)."""
        tied = Influence(self._layers, self._images, self._ghosts, self.double, twin)
        tied._seen = self._seen  # a tie leaves a constant potential unchanged
        return tied

    def _jump(self, phi: Array) -> Array:
        """(n,) what counts for the double layer of potentials (n,)."""
        return np.where(self.double, phi if self._twin is None else phi[self._twin], 0.0)

    @classmethod
    def build(
        cls,
        corners: Array,
        bodies: Sequence[NDArray[np.intp]],
        double: NDArray[np.bool_],
        liquid: Liquid,
        heavy: Sequence[bool],
    ) -> Progress[Influence]:
        """From panels wound with their normals into the liquid.

        corners : (n, 3, 3) meters; bodies : the panels of each body; double : (n,) see the class
        heavy : for each body, whether it is better mirrored whole than copied (the part)
        """
        yield Step(0.0, "Placing the images in the walls")
        placed = _placed(corners, bodies, liquid, heavy)
        images = None
        if liquid.box is not None:
            cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
            double_area = np.linalg.norm(cross, axis=1)
            images = BoxImages(
                liquid.box[0],
                liquid.box[1] - liquid.box[0],
                corners.mean(axis=1),
                cross / double_area[:, None],
                0.5 * double_area,
                placed.groups,
                placed.explicit,
            )
        layers = yield from subrange(
            0.05,
            1.0,
            LayerOperators.build(placed.everything, mirrors=placed.mirrors, targets=len(corners)),
        )
        return cls(layers, images, placed.ghosts, double)

    def apply(self, q: Array, phi: Array, *, precise: bool = False) -> Array:
        """S q - D phi at the centroids, (n,). phi counts on panels with a double layer only.

        precise : sums in double precision, of the same coefficients: for what must not round, at some times the cost
        """
        phi = self._jump(phi)
        out = self._layers.apply(*self._with_ghosts(q, phi), precise=precise)
        return out if self._images is None else out + self._images.apply(q, phi, precise=precise)

    @staticmethod
    def memory_estimate(
        corners: Array, bodies: Sequence[NDArray[np.intp]], liquid: Liquid, heavy: Sequence[bool]
    ) -> int:
        """Bytes that a solution takes at most: operators, and by peaks of whole solutions what solving and images in
        walls need beside them. Arguments as for `build`.
        """
        placed = _placed(corners, bodies, liquid, heavy)
        layers = LayerOperators.memory_estimate(placed.everything, mirrors=placed.mirrors, targets=len(corners))
        panel = BYTES_PER_PANEL + (0 if liquid.box is None else BYTES_PER_BOXED_PANEL)
        return layers + int(panel * len(corners) + BYTES_PER_IMAGE_PANEL * len(placed.ghosts))

    @property
    def imaged(self) -> bool:
        """Whether there are images in the walls of a box."""
        return self._images is not None

    def evaluate(self, points: Array, q: Array, phi: Array) -> Array:
        """S q - D phi at points (m, 3) of the liquid, (m,)."""
        near = self.near(points, q, phi)
        return near + self.far(points, q, phi) if self.imaged else near

    def liquid(self, points: Array) -> Array:
        """(m,) share of the sphere that is liquid as seen from points (m, 3): 1 in it, 0 in a body and beyond the
        walls."""
        seen = -self.near(points, np.zeros(self.n), np.ones(self.n))
        return seen if self.closed else 1.0 + seen

    def near(self, points: Array, q: Array, phi: Array) -> Array:
        """The part of `evaluate` that the panels, their mirrors and their copies make."""
        return self._layers.evaluate(points, *self._with_ghosts(q, self._jump(phi)))

    def far(self, points: Array, q: Array, phi: Array) -> Array:
        """The remaining images in the walls of a box: smooth all over the liquid, and expensive at each point."""
        assert self._images is not None
        return self._images.evaluate(points, q, self._jump(phi))

    def _with_ghosts(self, q: Array, phi: Array) -> tuple[Array, Array]:
        if not len(self._ghosts):
            return q, phi
        return np.concatenate([q, q[self._ghosts]]), np.concatenate([phi, phi[self._ghosts]])


@dataclass(frozen=True)
class _Carried:
    """Which images the layer operators carry: mirrors (axis, 0 low or 1 high), ghosts a group, and both
    together.
    """

    mirrors: list[tuple[int, int]]
    ghosts: list[list[Image]]
    explicit: list[list[Image]]


@dataclass(frozen=True, eq=False)
class _Placed:
    """Panels with the copies that stand for near images, which panel each copy is of, and the mirrors; in a box its
    groups and the images of each that are carried so.
    """

    everything: Array
    ghosts: NDArray[np.intp]
    mirrors: list[tuple[Sequence[float], Sequence[float]]]
    groups: list[Group]
    explicit: list[list[Image]]


def _placed(corners: Array, bodies: Sequence[NDArray[np.intp]], liquid: Liquid, heavy: Sequence[bool]) -> _Placed:
    mirrors: list[tuple[Sequence[float], Sequence[float]]] = []
    if liquid.surface is not None:
        mirrors.append(((0.0, 0.0, liquid.surface), (0.0, 0.0, -1.0)))
    if liquid.box is None:
        return _Placed(corners, np.empty(0, np.intp), mirrors, [], [])
    low, length = liquid.box[0], liquid.box[1] - liquid.box[0]
    centroid = corners.mean(axis=1)
    groups = [Group.of(rows, centroid[rows]) for rows in bodies]
    carried = _carried(groups, heavy, low, length)
    mirrors += [_wall(axis, way, low, length) for axis, way in carried.mirrors]
    copies = [(g.rows, image) for g, images in zip(groups, carried.ghosts, strict=True) for image in images]
    ghosts = np.concatenate([np.empty(0, np.intp), *(rows for rows, _ in copies)])
    copied = [_copy(corners[rows], image, low, length) for rows, image in copies]
    return _Placed(np.concatenate([corners, *copied]), ghosts, mirrors, groups, carried.explicit)


def _carried(groups: Sequence[Group], heavy: Sequence[bool], low: Array, length: Array) -> _Carried:
    near = [near_images(group, groups, low, length) for group in groups]
    mirrors: list[tuple[int, int]] = []
    for axis in range(3):
        for way in (0, 1):
            wall = mirrored(axis, way)
            if any(h and wall in images for h, images in zip(heavy, near, strict=True)):
                mirrors.append((axis, way))
                break
    family = [SELF]
    for axis, way in mirrors:
        family += [after(mirrored(axis, way), image) for image in family]
    ghosts, explicit = [], []
    for images in near:
        own: list[Image] = []
        known = list(family)
        for image in images:
            if image not in known:
                own.append(image)
                known += [after(member, image) for member in family]
        ghosts.append(own)
        explicit.append(known)
    return _Carried(mirrors, ghosts, explicit)


def _wall(axis: int, way: int, low: Array, length: Array) -> tuple[list[float], list[float]]:
    point, normal = low + way * length, np.zeros(3)
    normal[axis] = 1.0 - 2.0 * way
    return point.tolist(), normal.tolist()


def _copy(corners: Array, image: Image, low: Array, length: Array) -> Array:
    """Mirrored panels, wound so that their normals are the mirrored ones."""
    out = reflect(image, corners, low, length)
    odd = np.prod([sign for sign, _ in image]) < 0
    return out[:, ::-1] if odd else out
