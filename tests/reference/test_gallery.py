"""The twelve parts of the gallery: closed by trimesh, their area by closed forms, and what docs/gallery.md says of them."""

from __future__ import annotations

import re
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from addon.engine.findings import Code
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.units import CM2, MM

import models

GALLERY = Path(__file__).resolve().parents[2] / "docs" / "gallery"
sys.path.insert(0, str(GALLERY))
import parts  # noqa: E402

CHORD = (np.pi / 32) ** 2 / 6 + (np.pi / parts.AROUND) ** 2 / 2  # share that the flat sides of a circle lack at most


@cache
def mesh(name: str) -> trimesh.Trimesh:
    """mm, as single precision holds it in the file."""
    found = trimesh.Trimesh(**trimesh.triangles.to_kwargs(parts.ORDERS[name].make().astype(np.float32)))
    found.merge_vertices()
    return found


@pytest.mark.parametrize("name", parts.ORDERS)
def test_parts_are_closed_and_have_the_area_of_a_peer(name):
    peer = mesh(name)
    assert peer.is_watertight and peer.is_winding_consistent and peer.volume > 0
    surface = run_to_end(inspection.inspect(models.part((peer.vertices * MM, peer.faces.astype(np.int32)))))
    apart = {Code.BODIES_APART} if peer.body_count > 1 else set()
    assert surface.closed and {fault.code for fault in surface.faults} <= apart
    assert surface.plated_area.sum() / MM**2 == pytest.approx(peer.area, rel=1e-9)


def _ring() -> float:
    return 4 * np.pi**2 * parts.RING["ring_mm"] * parts.RING["wire_mm"]


def _bowl() -> float:
    outer, inner = parts.BOWL["outer_mm"], parts.BOWL["inner_mm"]
    return 2 * np.pi * (outer**2 + inner**2) + np.pi * (outer**2 - inner**2)


def _gear() -> float:
    outer, bore = (shapely.Polygon(one) for one in parts.gear_outlines())
    return 2 * (outer.area - bore.area) + (outer.length + bore.length) * parts.GEAR["thick_mm"]


def _lattice() -> float:
    cells, pitch, strut = parts.LATTICE["cells"], parts.LATTICE["pitch_mm"], parts.LATTICE["strut_mm"]
    nodes, struts = (cells + 1) ** 3, 3 * cells * (cells + 1) ** 2
    return struts * 4 * strut * (pitch - strut) + strut**2 * (6 * nodes - 2 * struts)


def _box() -> float:
    x, y, high, wall, lip = (parts.BOX[key] for key in ("long_mm", "wide_mm", "high_mm", "wall_mm", "lip_mm"))
    body = 2 * x * y + 2 * high * (x + y) + 2 * (high - wall) * (x + y - 4 * wall)
    return body + 2 * x * y + 2 * wall * (x + y) + 2 * lip * (x + y - 4 * (wall + 0.3))


@pytest.mark.parametrize(
    ("name", "area", "tolerance"),
    [
        ("ring", _ring, CHORD),
        ("bowl", _bowl, CHORD),
        ("gear", _gear, 1e-6),
        ("lattice", _lattice, 1e-6),
        ("box", _box, 1e-6),
    ],
)
def test_areas_by_closed_form(name, area, tolerance):
    """Torus 4 pi^2 R r; half balls and the rim between them; prisms by shapely's area and length; sides of blocks counted."""
    assert mesh(name).area == pytest.approx(area(), rel=tolerance)


def test_the_page_tells_the_areas_of_these_parts():
    page = (GALLERY.parent / "gallery.md").read_text(encoding="utf-8")
    told = dict(re.findall(r"^\| !\[.*?/(\w+)\.png\).*?\| ([\d.]+) cm² \|", page, re.MULTILINE))
    assert told.keys() == parts.ORDERS.keys()
    for name, area in told.items():
        assert float(area) == pytest.approx(mesh(name).area * MM**2 / CM2, rel=1e-3)
