"""A camera's picture with numbers: pinholes by closed forms, what is in sight by its slope, marks by shapely."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
import pytest
import shapely
import trimesh

from addon.engine.errors import InputError
from addon.engine.mesh import inspection
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end
from addon.engine.sheet import still
from addon.engine.sheet.page import Box, Label, Line, Picture
from addon.engine.visibility.projected import projected, share_of_picture

from demo_study import demo
from test_sheet import FONT

SIZE = 150, 200
RADIUS, AWAY, LENS = 0.02, 0.10, 2.0  # m, m, focal length over half the picture's width


def camera(eye, target, lens=LENS, near=0.01, far=10.0) -> np.ndarray:
    """(4, 4) the clip matrix of a pinhole camera (OpenGL 1.x, glFrustum; from memory, certain)."""
    back = np.array(eye, dtype=float) - target
    back /= np.linalg.norm(back)
    right = np.cross((0, 0, 1), back)
    right /= np.linalg.norm(right)
    look = np.eye(4)
    look[:3, :3] = right, np.cross(back, right), back
    look[:3, 3] = -look[:3, :3] @ eye
    sides = lens, lens * SIZE[1] / SIZE[0]
    lower = [[0, 0, (far + near) / (near - far), 2 * far * near / (near - far)], [0, 0, -1, 0]]
    return np.array([[sides[0], 0, 0, 0], [0, sides[1], 0, 0], *lower]) @ look


@pytest.fixture(scope="module")
def ball():
    mesh = trimesh.creation.icosphere(4, RADIUS)
    return run_to_end(inspection.inspect(Part.of("ball", np.asarray(mesh.vertices), np.asarray(mesh.faces))))


def test_a_ball_is_a_circle_as_wide_as_its_tangent_cone(ball):
    """Its outline lies where a ray touches it: sine of the angle is radius over distance."""
    found = projected(ball, camera((0, -AWAY, 0), (0, 0, 0)), SIZE)
    radius = LENS * np.tan(np.arcsin(RADIUS / AWAY)) * SIZE[1] / 2
    assert (found.alpha > 0).sum() * found.cell**2 == pytest.approx(np.pi * radius**2, rel=0.02)
    assert found.corner == pytest.approx([SIZE[1] / 2 - radius, SIZE[0] / 2 - radius], abs=1.0)
    nearest = np.array([[0.0, -RADIUS, 0.0]])
    assert found.place(nearest)[0] * found.cell + found.corner == pytest.approx([SIZE[1] / 2, SIZE[0] / 2], abs=1e-9)


def test_the_share_of_a_picture_is_that_of_the_nearer_face():
    """A cube through a pinhole, by similar triangles. None of it behind the eye, and no bound around it."""
    cube = np.array(list(product((-0.01, 0.01), repeat=3)))
    wide = LENS * 0.01 / (AWAY - 0.01) * SIZE[1] / SIZE[0]
    assert share_of_picture(cube, camera((0, -AWAY, 0), (0, 0, 0)), SIZE) == pytest.approx(wide)
    assert share_of_picture(cube, camera((0, -AWAY, 0), (0, -2 * AWAY, 0)), SIZE) == 0.0
    assert share_of_picture(cube, camera((0, -0.005, 0), (0, 1, 0)), SIZE) == np.inf


def test_what_is_in_sight_is_what_rays_reach(ball):
    """A face of a ball is seen where it looks at the eye; one seen so flat that a cell is 2.5 deep is left out."""
    eye = np.array((0.05, -0.08, 0.04))
    found = projected(ball, camera(eye, (0.0, 0.0, 0.0)), SIZE)
    away = eye - ball.centroid
    facing = np.einsum("ij,ij->i", away, ball.normal) / np.linalg.norm(away, axis=1)
    clear = np.abs(facing) > 0.2
    assert np.array_equal(found.in_sight(ball.centroid)[clear], facing[clear] > 0)
    assert (facing[found.faces] > 0).all()


def test_a_camera_that_looks_away_is_told(ball):
    with pytest.raises(InputError, match="does not see the part"):
        projected(ball, camera((0, -AWAY, 0), (0, -2 * AWAY, 0)), SIZE)


@pytest.mark.slow
@pytest.mark.parametrize("eye", [(0.09, -0.15, 0.09), (0.03, -0.05, 0.05), (-0.1, 0.12, -0.03)])
def test_numbers_stand_beside_the_part_and_the_picture_stays(eye):
    """Of the demo part from near, far and below: no leader crosses another or the part, and off the marks every pixel is
    the picture's own."""
    study = demo()
    shown = projected(study.surface, camera(eye, study.surface.bounds.mean(axis=0)), SIZE)
    pixels = np.random.default_rng(3).integers(0, 256, (*SIZE, 4), dtype=np.uint8)
    pixels[..., 3] = 255
    made = still.page(study, FONT, shown, shown, pixels, "light")
    [picture] = [item for item in made.items if isinstance(item, Picture)]
    pixel = picture.width / SIZE[1]
    rows, columns = np.nonzero(shown.alpha)
    x = picture.left + (shown.corner[0] + columns * shown.cell) * pixel
    y = (shown.corner[1] + rows * shown.cell) * pixel
    part = shapely.union_all(shapely.box(x, y, x + shown.cell * pixel, y + shown.cell * pixel))
    leaders = list(
        {item.points: shapely.LineString(item.points) for item in made.items if isinstance(item, Line)}.values()
    )
    assert len(leaders) >= 2 and not any(one.intersects(other) for one, other in combinations(leaders, 2))
    assert all(one.intersection(part).length < 1e-6 for one in leaders)
    assert all(made.bounds(item)[0] >= 0 and made.bounds(item)[2] <= made.width for item in made.items)
    drawn = still.draw(made, pixels)
    left = round(picture.left / pixel)
    same = (drawn[: SIZE[0], left : left + SIZE[1]] == pixels).all(axis=2)
    marks = [made.bounds(item) for item in made.items if isinstance(item, Box | Line | Label)]
    for a, b, c, d in marks:
        rows, columns = (slice(max(0, int(low / pixel) - 3), int(high / pixel) + 4) for low, high in ((b, d), (a, c)))
        same[rows, max(0, columns.start - left) : max(0, columns.stop - left)] = True
    assert same.all()
