"""The gray picture of a part: its outline against closed forms, places, and what lies in front; PNG by another reader."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest
import trimesh

from addon.engine.mesh import inspection
from addon.engine.mesh.part import Part
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.reporting import png
from addon.engine.visibility import shaded, smooth

RADIUS = 0.02


def surface(mesh: trimesh.Trimesh) -> Surface:
    return run_to_end(inspection.inspect(Part.of("part", np.asarray(mesh.vertices), np.asarray(mesh.faces))))


@pytest.fixture(scope="module")
def ball() -> Surface:
    return surface(trimesh.creation.icosphere(4, RADIUS))


@pytest.mark.parametrize("toward", [(0, 0, 1), (1, -1, 0.5), (-0.3, 0.2, -1)])
def test_the_outline_of_a_ball_is_a_circle(ball, toward):
    """Area pi r2 to half a pixel round the outline, from any side."""
    found = shaded.sight(ball, shaded.view(toward, (0, 0, 1)), 200)
    area = found.alpha.sum() / 255.0 * found.pixel**2
    assert area == pytest.approx(np.pi * RADIUS**2, abs=0.5 * found.pixel * 2 * np.pi * RADIUS)
    assert max(found.size) in (200, 201)


def test_points_fall_where_they_are_drawn(ball):
    """The nearest point of a ball is drawn in the middle, the highest at the top edge: to a pixel."""
    toward = np.array([1.0, -1.0, 0.0]) / np.sqrt(2)
    found = shaded.sight(ball, shaded.view(toward, (0, 0, 1)), 200)
    middle, top = found.place([RADIUS * toward, (0, 0, RADIUS)])
    assert middle == pytest.approx([100, 100], abs=1) and top == pytest.approx([100, 0], abs=1)
    assert found.seen(RADIUS * toward) and not found.seen(-RADIUS * toward)


def test_up_is_up_and_right_is_right():
    """A rod along +X beside a post along +Z, seen from -Y: the picture is wide below right, high at the left."""
    post = trimesh.creation.box((2, 2, 20), trimesh.transformations.translation_matrix((0, 0, 10)))
    rod = trimesh.creation.box((10, 2, 2), trimesh.transformations.translation_matrix((6.1, 0, 1)))
    both = trimesh.util.concatenate([post, rod])
    both.apply_scale(1e-3)
    found = shaded.sight(surface(both), shaded.view((0, -1, 0), (0, 0, 1)), 100)
    there = found.alpha > 127
    height, width = there.shape
    assert there[: height // 2, : width // 6].mean() > 0.9  # the post
    assert not there[: height // 2, width // 2 :].any()
    assert there[-height // 20 :, width // 2 :].mean() > 0.9  # the rod


def test_a_face_that_looks_at_the_light_is_brightest(ball):
    """Lambert's cosine law: over a white ball brightness falls with the angle to the light."""
    found = shaded.sight(ball, shaded.view((0, -1, 0), (0, 0, 1)), 200)
    bright = found.painted(np.ones((len(ball.triangles), 3)))[..., 0].astype(float)
    row, column = np.unravel_index(bright.argmax(), bright.shape)
    seen = np.array([column - 100, 100 - row, 0.0]) / 100
    seen[2] = np.sqrt(1 - seen @ seen)
    assert seen @ shaded.LIGHT_DIRECTION > np.cos(np.radians(10))


def test_a_coarse_ball_is_shaded_as_a_ball():
    """Its 1280 triangles look as Lambert's law has them on a sphere, to three of 255 grays where it is seen steeply."""
    found = shaded.sight(surface(trimesh.creation.icosphere(3, RADIUS)), shaded.view((0, -1, 0), (0, 0, 1)), 200)
    row, column = np.indices(found.size)
    across, upward = (column + 0.5 - found.size[1] / 2) / 100, (found.size[0] / 2 - row - 0.5) / 100
    inner = across**2 + upward**2 < 0.7**2
    normal = np.stack([across, upward, np.sqrt(np.maximum(1 - across**2 - upward**2, 0.0))], axis=-1)
    exact = shaded.DARKEST + (shaded.BRIGHTEST - shaded.DARKEST) * np.clip(normal @ shaded.LIGHT_DIRECTION, 0, 1)
    assert found.gray()[inner] == pytest.approx(exact[inner], abs=3)


def test_colors_run_smoothly_within_a_kind_and_stop_between_kinds():
    """A red that grows with height over a ball of 1280 triangles, each of one value: painted smoothly it is the height
    at each pixel, under the same light; painted by triangles it is off by what a triangle is high."""
    ball = surface(trimesh.creation.icosphere(3, RADIUS))
    found = shaded.sight(ball, shaded.view((0, -1, 0), (0, 0, 1)), 200)
    share = 0.5 + 0.4 * ball.centroid[:, 2] / RADIUS
    tint = np.column_stack([share, np.ones(len(share)), np.zeros(len(share))])
    row, column = np.indices(found.size)
    across, upward = (column + 0.5 - found.size[1] / 2) / 100, (found.size[0] / 2 - row - 0.5) / 100
    inner, height = across**2 + upward**2 < 0.7**2, 0.5 + 0.4 * upward
    one = np.zeros(len(share), dtype=np.intp)

    def worst(picture):
        red, white = picture[inner][:, 0].astype(float), picture[inner][:, 1]
        return float(np.abs(red / white - height[inner]).max())

    assert worst(found.painted(tint, kind=one)) < 0.012 < 0.03 < worst(found.painted(tint))
    halves = (ball.centroid[:, 2] > 0).astype(np.intp)
    parted = smooth.corner_means(ball, np.arange(len(share)), halves[:, None].astype(float), halves)
    assert np.array_equal(parted[..., 0], np.repeat(halves[:, None], 3, axis=1))


@pytest.mark.parametrize("sides", [4, 8])
def test_sharp_edges_stay_sharp(sides):
    """The corners of a prism have the normals of its faces: 90 and 45 degrees between its sides are edges that are meant."""
    prism = surface(trimesh.creation.cylinder(RADIUS, RADIUS, sections=sides))
    faces = np.arange(len(prism.triangles))
    assert smooth.corner_normals(prism, faces) == pytest.approx(np.repeat(prism.normal[:, None], 3, axis=1), abs=1e-12)


def test_a_png_is_what_its_standard_says():
    """Signature, checked chunks and pixels, read by the rules of the PNG specification (W3C, third edition)."""
    pixels = np.random.default_rng(1).integers(0, 256, (5, 7, 4), dtype=np.uint8)
    data = png.encoded(pixels, 11811)
    assert data.startswith(bytes.fromhex("89504e470d0a1a0a"))
    place, chunks = 8, {}
    while place < len(data):
        (length,) = struct.unpack(">I", data[place : place + 4])
        kind, body = data[place + 4 : place + 8], data[place + 8 : place + 8 + length]
        assert struct.unpack(">I", data[place + 8 + length : place + 12 + length])[0] == zlib.crc32(kind + body)
        chunks[kind], place = body, place + 12 + length
    assert list(chunks) == [b"IHDR", b"pHYs", b"IDAT", b"IEND"]
    assert struct.unpack(">IIBB", chunks[b"IHDR"][:10]) == (7, 5, 8, 6)
    assert struct.unpack(">IIB", chunks[b"pHYs"]) == (11811, 11811, 1)  # 300 dpi
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), np.uint8).reshape(5, 29)
    assert not rows[:, 0].any()
    assert np.array_equal(rows[:, 1:].reshape(5, 7, 4), pixels)


def test_no_face_is_drawn_beyond_its_corners():
    """A plate whose diagonals run along the rows: each sample lies within the box of its face's corners, to half a
    pixel. In single precision their crossings with a row lie up to 80 pixels beyond their ends."""
    plate = trimesh.creation.box((0.06, 0.06, 0.003))
    for _ in range(4):
        plate = plate.subdivide()
    for lean in (0.0, 1e-7, 1e-6, 1e-5):
        found = shaded.sight(surface(plate), shaded.view((1 + lean, -1, 0.6), (0, 0, 1)), 200)
        row, column, sample = np.nonzero(found.face >= 0)
        corners = found.place(plate.vertices[plate.faces].reshape(-1, 3)).reshape(-1, 3, 2)[
            found.face[row, column, sample]
        ]
        middle = np.stack([column, row], axis=1) + 0.5
        assert (corners.min(axis=1) - middle).max() < 0.5 and (middle - corners.max(axis=1)).max() < 0.5


@pytest.mark.parametrize("turned", [0.0, 1e-6, 1e-5, 1e-3])
def test_a_plate_of_many_faces_has_no_hole(turned):
    """Edges that lie almost along a row of the raster are where single precision would lose the crossing."""
    across = np.linspace(-0.5, 0.5, 25)
    x, y = (one.ravel() for one in np.meshgrid(across, across))
    points = np.stack([np.cos(turned) * x - np.sin(turned) * y, np.sin(turned) * x + np.cos(turned) * y, 0 * x], axis=1)
    at = np.arange(25 * 25).reshape(25, 25)
    a, b, c, d = (one.ravel() for one in (at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]))
    triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]).astype(np.int32)
    seen = shaded.sight(run_to_end(inspection.inspect(Part.of("plate", points, triangles))), np.eye(3), 450)
    assert (seen.alpha[4:-4, 4:-4] == 255).all()
