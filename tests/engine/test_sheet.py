"""The client's sheet: call-outs by geometry, shapes by closed forms, and one page in three formats by other readers."""

from __future__ import annotations

import io
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader
from scipy import ndimage, optimize

from addon.engine.reporting import png
from addon.engine.settings.options import FINISHES, Sheet
from addon.engine.sheet import callouts, client, notes, pdf, raster, svg, turntable
from addon.engine.sheet.glyphs import Glyph, Glyphs
from addon.engine.sheet.page import Box, Label, Line, Page, Picture
from addon.engine.visibility import shaded

from demo_study import demo

INK = (0.0, 0.0, 0.0)


def straight(corners) -> np.ndarray:
    """(k, 4, 2) a polygon as cubic curves."""
    a = np.array(corners, dtype=float)
    b = np.roll(a, -1, axis=0)
    return np.stack([a, a + (b - a) / 3, b - (b - a) / 3, b], axis=1)


# a font of rings: each character a square of 0.4 with a hole of 0.2, half its size wide
RING = Glyph(
    0.5,
    (straight([(0, 0), (0.4, 0), (0.4, 0.4), (0, 0.4)]), straight([(0.1, 0.1), (0.1, 0.3), (0.3, 0.3), (0.3, 0.1)])),
)
FONT = Glyphs({**{chr(code): RING for code in range(33, 127)}, "µ": RING, "²": RING, "×": RING, " ": Glyph(0.25, ())})


def part(seed: int) -> np.ndarray:
    """(h, w) a blob with bays and holes, as alpha."""
    noise = ndimage.gaussian_filter(np.random.default_rng(seed).normal(size=(120, 90)), 9)
    inside = noise > np.quantile(noise, 0.5)
    rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    return (255 * inside[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]).astype(np.uint8)


@pytest.mark.parametrize("seed", range(50))
def test_leaders_cross_neither_each_other_nor_the_part(seed):
    """Fifty parts, five places each, judged by shapely: no crossing, nothing over the part, all inside the frame."""
    alpha = part(seed)
    rows, columns = np.nonzero(alpha)
    some = np.random.default_rng(seed + 1000).choice(len(rows), 5, replace=False)
    places = np.stack([columns[some], rows[some]], axis=1) + 0.5
    height, width = alpha.shape
    frame = callouts.Frame(20, 10, 0.5, (18.5, 21.5 + width / 2), (4, 36 + width / 2), 10, 10 + height / 2)
    found = callouts.place_leaders(places, alpha, frame, 6.2)
    assert len(found) >= 4  # five in a few rows may not all have one
    lines = [shapely.LineString(one.points) for one in found]
    assert not any(one.intersects(other) for one, other in combinations(lines, 2))
    edges = np.diff(np.pad(alpha >= 128, ((0, 0), (1, 1))).astype(int), axis=1)  # +1 where a run begins, -1 after it
    (y, first), (_, last) = np.nonzero(edges == 1), np.nonzero(edges == -1)
    pixels = shapely.union_all(shapely.box(20 + first / 2, 10 + y / 2, 20 + last / 2, 10.5 + y / 2))
    for one, line in zip(found, lines, strict=True):
        assert line.intersection(pixels).length < 1e-9
        assert pixels.distance(shapely.Point(one.dot)) < 1e-9
        number = shapely.Point(one.points[-1]).buffer(2.3)
        assert number.disjoint(pixels) and shapely.box(0, 7.7, 60 + width, 12.3 + height / 2).covers(number)
    numbers = [shapely.Point(one.points[-1]) for one in found]
    assert all(one.distance(other) > 4.6 for one, other in combinations(numbers, 2))


@given(st.lists(st.floats(0, 100), min_size=1, max_size=6).map(sorted), st.floats(1, 15))
@settings(max_examples=60, deadline=None)
def test_heights_are_the_nearest_that_keep_their_distance(wanted, gap):
    """Against scipy's SLSQP on the same least squares problem."""
    found = callouts.spaced_heights(wanted, gap, 0.0, 100.0)
    distance = min(gap, 100.0 / max(len(wanted) - 1, 1))
    assert all(b - a >= distance - 1e-9 for a, b in zip(found[:-1], found[1:], strict=True))
    assert found[0] >= -1e-9 and found[-1] <= 100 + 1e-9
    bounds = {"type": "ineq", "fun": lambda x: np.diff(x) - distance}
    start = np.linspace(0, 100, len(wanted)) if len(wanted) > 1 else np.array(wanted)
    best = optimize.minimize(
        lambda x: ((x - wanted) ** 2).sum(),
        start,
        bounds=[(0, 100)] * len(wanted),
        constraints=[bounds],
        method="SLSQP",
    )
    assert ((np.array(found) - wanted) ** 2).sum() <= best.fun + 1e-4 * (1 + best.fun)


@pytest.mark.parametrize(
    ("corners", "area"),
    [([(2.3, 1.7), (17.9, 4.2), (8.4, 18.6)], None), ([(3, 3), (13, 3), (13, 13), (3, 13)], 100.0)],
)
def test_a_filled_shape_covers_its_area(corners, area):
    """Shapely's area (shoelace formula); a square on whole pixels is exact."""
    found = raster.coverage([np.array(corners, dtype=float)], 20, 20)
    assert found.min() >= -1e-12 and found.max() <= 1 + 1e-12
    assert found.sum() == pytest.approx(area or shapely.Polygon(corners).area, rel=1e-12 if area else 5e-3)


def test_a_hole_stays_empty():
    outer, inner = (np.array([(a, a), (b, a), (b, b), (a, b)], dtype=float) for a, b in ((2, 18), (6, 14)))
    found = raster.coverage([outer, inner], 20, 20)
    assert found.sum() == pytest.approx(16**2 - 8**2) and found[10, 10] == 0


@pytest.mark.parametrize(("most", "bar"), [(0.0149, 10), (0.049, 20), (0.05, 50), (0.9, 500), (0.0021, 2)])
def test_the_scale_bar_is_1_2_or_5(most, bar):
    assert client.bar_length(most) == pytest.approx(bar * 1e-3)


@pytest.fixture(scope="module", autouse=True)
def _the_best_view_is_looked_for_once():
    """It hangs on the results alone, not on form, finish or title; and half as many pixels a side show what is tested."""
    look, seen = client.best_view_and_callouts, {}

    def found(study):
        known = id(study.results)
        if known not in seen:
            seen[known] = study.results, look(study)
        return seen[known][1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(client, "best_view_and_callouts", found)
        patch.setattr(notes, "MAIN_VIEW_PIXELS", 500)
        yield


@pytest.fixture(scope="module", params=list(client.FORMS))
def page(request) -> Page:
    return client.page(demo(), FONT, request.param, date="2026-01-02")


@pytest.mark.slow
def test_all_lies_on_the_page_and_no_words_on_words(page):
    """Boxes by shapely: inside the margin's half, and no label over a label, a number or a picture of another place."""
    sheet = shapely.box(5, 5, page.width - 5, page.height - 5)
    assert all(sheet.covers(shapely.box(*page.bounds(item))) for item in page.items)
    labels = [shapely.box(*page.bounds(item)) for item in page.items if isinstance(item, Label)]
    assert not any(one.intersection(other).area > 1e-9 for one, other in combinations(labels, 2))
    words = " ".join(item.words for item in page.items if isinstance(item, Label))
    assert "Thinnest in sight" in words and " A " not in f" {words} "  # no amperes


@pytest.mark.slow
def test_the_pdf_is_read_by_another_reader(page):
    """pypdf: one page of the right size, every label as text, the font embedded as outlines, the pictures' pixels."""
    read = PdfReader(io.BytesIO(pdf.write(page)))
    (only,) = read.pages
    assert [float(side) * 25.4 / 72 for side in only.mediabox[2:]] == pytest.approx([page.width, page.height], abs=0.01)
    text = only.extract_text()
    assert all(word in text for item in page.items if isinstance(item, Label) for word in item.words.split())
    (font,) = (one.get_object() for one in only["/Resources"]["/Font"].values())
    assert font["/Subtype"] == "/Type3" and len(font["/CharProcs"]) == len(font["/Widths"])
    pictures = [item for item in page.items if isinstance(item, Picture)]
    stored = [one.get_object() for one in only["/Resources"]["/XObject"].values()]
    assert len(stored) == len(pictures)
    for own, there in zip(pictures, stored, strict=True):
        assert there.get_data() == own.pixels[..., :3].tobytes()
        assert there["/SMask"].get_object().get_data() == own.pixels[..., 3].tobytes()
    assert read.metadata.title == page.title


def test_the_svg_has_its_words_as_text_and_asks_for_nothing(page):
    root = ElementTree.fromstring(svg.write(page))
    space = "{http://www.w3.org/2000/svg}"
    assert [one.text for one in root.iter(f"{space}text")] == [i.words for i in page.items if isinstance(i, Label)]
    assert all(one.get("href").startswith("data:image/png;base64,") for one in root.iter(f"{space}image"))
    assert root.get("width") == f"{page.width:g}mm"


def test_pixels_show_what_was_set():
    """On paper of 100 by 50 mm at 254 dpi, 10 pixels a mm: the ink of a box, a line, a ring of letters, a picture."""
    made = Page(100, 50, (1.0, 1.0, 1.0), FONT, "test")
    red = np.zeros((2, 2, 4), np.uint8)
    red[..., 0], red[..., 3] = 255, (255, 0)
    made.add(Box(10, 10, 5, 4, INK), Box(70, 10, 8, 8, INK, round=True), Line(((20, 12), (40, 12)), INK, 0.5))
    made.add(Label((50, 12), "aa", 10, INK), Picture(10, 30, 10, 10, red))
    found = raster.draw(made, 254)
    assert found.shape == (500, 1000, 4)
    dark = 1 - found[..., 1] / 255
    assert dark[90:150, 90:160].sum() / 100 == pytest.approx(5 * 4, rel=1e-3)
    assert dark[:, 650:850].sum() / 100 == pytest.approx(np.pi * 16, rel=3e-3)  # of 64 corners: 0.2 % less
    assert dark[100:140, 180:420].sum() / 100 == pytest.approx(20.5 * 0.5, rel=0.01)
    assert dark[70:130, 490:620].sum() / 100 == pytest.approx(2 * 100 * (0.4**2 - 0.2**2), rel=0.02)
    assert found[350, 110].tolist() == [255, 0, 0, 255] and found[350, 195].tolist() == [255, 255, 255, 255]
    assert png.encoded(found, 10000)[:8] == png.SIGNATURE
    clear = raster.draw(made, 254, clear=True)
    assert clear[0, 0, 3] == 0 and clear[120, 120].tolist() == [*(round(255 * one) for one in INK), 255]
    cover = clear[..., 3:] / 255.0
    over = cover * clear[..., :3] + (1 - cover) * 255.0  # laid over white: the same page
    assert np.abs(over - found[..., :3]).max() <= 2


def test_a_number_keeps_its_unit_at_the_end_of_a_line():
    made = Page(100, 50, (1.0, 1.0, 1.0), FONT, "test")
    words = "thinnest in sight: 13 µm (front, 26 mm below the top)."
    for width in range(20, 160, 5):
        lines = made.lines(words, 4.0, width)
        assert " ".join(lines) == words
        assert not [line for line in lines if line[-1].isdigit()], lines


@pytest.mark.slow
def test_what_the_job_writes_stands_on_the_sheet():
    """Title, revision, project and date by pypdf; the mark keeps its shape in its place and its frame goes."""
    said = Sheet(title="Gate post", project="Old house " * 20, revision="B", date="2026-05-06")
    study = replace(demo(), job=replace(demo().job, sheet=said))
    mark = np.full((40, 80, 4), 200, np.uint8)
    made = client.page(study, FONT, "landscape", date="2026-01-02", mark=mark)
    text = PdfReader(io.BytesIO(pdf.write(made))).pages[0].extract_text()
    assert "Gate post" in text and "Revision B" in text and "2026-05-06" in text and "2026-01-02" not in text
    [shown] = [item for item in made.items if isinstance(item, Picture) and item.pixels is mark]
    assert shown.width / shown.height == pytest.approx(2) and shown.left + shown.width == pytest.approx(297 - 12)
    head = [item for item in made.items if isinstance(item, Label) and "Revision" in item.words]
    assert made.bounds(head[0])[2] < shown.left and head[0].words.endswith("...")
    assert len([item for item in made.items if isinstance(item, Box) and not item.round and item.edge]) == 0


@pytest.mark.slow
@pytest.mark.parametrize("form", client.FORMS)
def test_pictures_and_words_of_a_form_keep_apart(form):
    """Judged by shapely: all pictures and words on the page, no picture on another, no word on a picture."""
    made = client.page(demo(), FONT, form)
    pictures = [
        shapely.box(item.left, item.top, item.left + item.width, item.top + item.height)
        for item in made.items
        if isinstance(item, Picture)
    ]
    words = [shapely.box(*made.bounds(item)) for item in made.items if isinstance(item, Label)]
    paper = shapely.box(0, 0, made.width, made.height)
    assert len(pictures) == 7 and all(paper.contains(one) for one in (*pictures, *words))
    assert not any(one.intersects(other) for one, other in combinations(pictures, 2))
    assert not any(one.intersects(shapely.union_all(pictures)) for one in words)


@pytest.mark.slow
def test_a_finish_is_as_dark_as_it_is_wanted():
    """Brightest pixel of the hero: bright above satin; mean of a patina below both."""
    hero = {}
    for finish in FINISHES:
        study = replace(demo(), job=replace(demo().job, sheet=Sheet(finish=finish)))
        picture = next(item for item in client.page(study, FONT).items if isinstance(item, Picture))
        hero[finish] = picture.pixels[picture.pixels[..., 3] == 255][:, :3].astype(float)
    assert np.quantile(hero["bright"], 0.999) > np.quantile(hero["satin"], 0.999)
    assert hero["patina"].mean() < min(hero["bright"].mean(), hero["satin"].mean())


@pytest.mark.slow
def test_call_outs_stand_where_they_can_be_seen():
    """Each place that is named lies in front: no triangle that trimesh's rays meet between it and the viewer."""
    study = demo()
    found, callouts = notes.best_view_and_callouts(study)
    peer = trimesh.Trimesh(study.surface.points, study.surface.triangles, process=False)
    for one in callouts:
        start = one.point + study.surface.size * 5e-3 * found.turn[2]
        assert not peer.ray.intersects_any([start], [found.turn[2]])[0], one.words


def test_a_turntable_is_read_by_another_reader_and_turns_once_at_one_scale():
    """Pillow: as many frames as were made, pixel by pixel; each view as tall as the projected extent says."""
    made = list(turntable.frames(demo(), count=4, pixels=90))
    read = Image.open(io.BytesIO(png.animated(made, 90)))
    assert read.n_frames == 4
    for number, frame in enumerate(made):
        read.seek(number)
        assert np.array_equal(np.asarray(read.convert("RGB")), frame)
    assert read.info["duration"] == 90
    used = [np.flatnonzero((frame[:, :90] < 250).any(axis=(1, 2))) for frame in made]
    heights = [rows[-1] - rows[0] + 1 for rows in used]
    assert max(heights) - min(heights) <= 2  # a finial is as tall from all sides, but for its flutes
    assert all(rows[0] >= 2 and rows[-1] <= 87 for rows in used)  # inside the frame


@pytest.mark.slow
def test_a_fit_is_told_where_its_wall_is_in_sight():
    """Of the demo part's bore, seen from below: its size when plated as `fits` has it, at a place on its wall; from above,
    where nobody sees the wall, it is not told."""
    study = demo()
    fit = next(one for one in study.results.fits.affected if one.kind.value == "bore")
    below, above = (shaded.sight(study.surface, shaded.view((0.05, -0.1, z), (0, 0, 1)), 450) for z in (-1, 1))
    [told] = [one for one in notes.callouts(study, below) if "becomes" in one.words]
    assert f"{fit.diameter * 1e3:.3g}"[:3] in told.words and f"{fit.finished[0] * 1e3:.3g}"[:4] in told.words
    away = told.point - fit.center
    assert np.linalg.norm(away - (away @ fit.axis) * fit.axis) == pytest.approx(fit.diameter / 2, rel=0.05)
    assert below.seen(told.point)
    assert not [one for one in notes.callouts(study, above) if "becomes" in one.words]
