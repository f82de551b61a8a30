"""The images of a box of insulating walls, against plain sums of images."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.field.bem.box import BoxImages
from addon.engine.field.bem.images import SELF, Group, after, near_images, reflect

LOW, LENGTH = np.array([-0.1, 0.02, 0.0]), np.array([0.3, 0.2, 0.22])


def place(shares: np.ndarray) -> np.ndarray:
    return LOW + shares * LENGTH


@pytest.fixture(scope="module")
def sources():
    """A cloud in the middle and a plate near a wall: points, normals, groups and the images that are left out."""
    random = np.random.default_rng(4)
    cloud = place(random.uniform(0.3, 0.65, (40, 3)))
    plate = place(random.uniform([0.15, 0.03, 0.2], [0.8, 0.03, 0.9], (30, 3)))
    points = np.vstack([cloud, plate])
    normal = random.normal(size=points.shape)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    groups = [Group.of(np.arange(40), cloud), Group.of(np.arange(40, 70), plate)]
    explicit = [[SELF, *near_images(group, groups, LOW, LENGTH)] for group in groups]
    charge, dipole = random.normal(size=70), random.normal(size=70)
    return points, normal, groups, explicit, charge - charge.mean(), dipole


def plain(points, normal, groups, explicit, charge, dipole, reach):
    """The images up to `reach` boxes away but for the explicit ones, one by one."""
    out = np.zeros(len(points))
    ways = [(sign, m) for sign in (1, -1) for m in range(-reach, reach + 1)]
    for image in [(a, b, c) for a in ways for b in ways for c in ways]:
        sign = np.array([s for s, _ in image])
        for group, known in zip(groups, explicit, strict=True):
            if image in known:
                continue
            apart = points[:, None] - reflect(image, points[group.rows], LOW, LENGTH)
            r = np.linalg.norm(apart, axis=2)
            out += (1.0 / r) @ charge[group.rows]
            out -= (np.einsum("ijk,jk->ij", apart, sign * normal[group.rows]) / r**3) @ dipole[group.rows]
    return out / (4.0 * np.pi)


@pytest.mark.slow
def test_images_equal_their_sum(sources):
    """To 3e-4 of the sum, apart from a constant. The plain sum's error falls as the square of its reach: two of them
    give the limit."""
    points, normal, groups, explicit, charge, dipole = sources
    images = BoxImages(LOW, LENGTH, points, normal, np.ones(len(points)), groups, explicit)
    near, far = (plain(points, normal, groups, explicit, charge, dipole, reach) for reach in (2, 3))
    limit = far + (far - near) / ((3.5 / 2.5) ** 2 - 1.0)
    off = images.apply(charge, dipole) - limit
    assert np.abs(off - off.mean()).max() < 3e-4 * np.abs(limit - limit.mean()).max()


def test_any_points_see_what_the_panels_see(sources):
    """`evaluate` at the panels' own centroids is `apply` there."""
    points, normal, groups, explicit, charge, dipole = sources
    images = BoxImages(LOW, LENGTH, points, normal, np.ones(len(points)), groups, explicit)
    own = images.apply(charge, dipole)
    some = groups[0].rows
    scale = np.abs(own - own.mean()).max()
    np.testing.assert_allclose(images.evaluate(points[some], charge, dipole), own[some], atol=3e-4 * scale)


def test_a_mirrored_image_comes_back():
    """Reflecting twice in one wall is nothing; in two opposite walls it is a shift by twice the box."""
    low, high = ((-1, 0), (1, 0), (1, 0)), ((-1, 1), (1, 0), (1, 0))
    assert after(low, low) == SELF
    points = place(np.random.default_rng(0).uniform(size=(5, 3)))
    moved = reflect(after(high, low), points, LOW, LENGTH)
    np.testing.assert_allclose(moved - points, [[2 * LENGTH[0], 0, 0]] * 5, atol=1e-15)


def test_only_near_images_are_left_out(sources):
    """The cloud in the middle leaves none out; the plate those in its wall and in the walls beside its ends."""
    _, _, groups, explicit, _, _ = sources
    assert explicit[0] == [SELF]
    assert ((1, 0), (-1, 0), (1, 0)) in explicit[1]
    assert ((1, 0), (-1, 1), (1, 0)) not in explicit[1]
