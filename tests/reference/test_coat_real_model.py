"""The loss along the coat of a real, irregular model against a network put together and solved by scipy."""

from __future__ import annotations

import igl
import models
import numpy as np
import pytest
import scans
import scipy.sparse
from scipy.sparse.linalg import spsolve

from addon.engine.mesh import inspection
from addon.engine.coat import drop, proxy, rank, sheet
from addon.engine.progress import run_to_end

RS, J = 0.5, 100.0  # ohm per square, A/m2


def solved(weights: scipy.sparse.spmatrix, current: np.ndarray, wired: np.ndarray) -> np.ndarray:
    """(v,) V of a network whose points `wired` are held at zero; weights : off the diagonal, siemens a square."""
    weights = scipy.sparse.csc_matrix(weights)
    full = scipy.sparse.diags(np.asarray(weights.sum(axis=1)).ravel()) - weights
    free = np.flatnonzero(~wired)
    u = np.zeros(len(wired))
    u[free] = spsolve(scipy.sparse.csc_matrix(full)[free][:, free], RS * current[free])
    return u


def cotangents(points: np.ndarray, faces: np.ndarray) -> scipy.sparse.spmatrix:
    """Cotangent weights of the triangles as they are, by scipy, whatever meets at an edge."""
    rows, columns, values = [], [], []
    for k in range(3):
        a, b, c = (points[faces[:, (k + i) % 3]] for i in range(3))
        u, v = b - a, c - a
        rows.append(faces[:, (k + 1) % 3])
        columns.append(faces[:, (k + 2) % 3])
        values.append(0.5 * np.einsum("ij,ij->i", u, v) / np.linalg.norm(np.cross(u, v), axis=1))
    shape = (len(points), len(points))
    half = scipy.sparse.coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape)
    return (half + half.T).tocsc()


def coated(model: models.Model):
    """Our network of a model as it is, fed at its lowest points, and our loss along it."""
    part = run_to_end(inspection.inspect(models.part(model)))
    coat = run_to_end(sheet.build(part, triangles=1))
    height = coat.mesh.points[:, 2]
    wired = height < height.min() + 0.002
    fed = drop.WiredSheet.of(coat, [np.flatnonzero(wired)])
    u = run_to_end(run_to_end(drop.Loss.build(fed, RS)).at_points(J * coat.area))
    return coat, wired, u


@pytest.mark.slow
def test_scan_of_100000_triangles_with_holes():
    """The same Delaunay weights from libigl, solved by SuperLU: the same volts to 1e-5 of the greatest."""
    coat, wired, u = coated(scans.bunny())
    weights = igl.intrinsic_delaunay_cotmatrix(coat.mesh.points, coat.mesh.triangles.astype(np.int64))[0]
    weights.setdiag(0.0)
    reached = ~np.isnan(u)
    exact = solved(weights[reached][:, reached], J * coat.area[reached], wired[reached])
    assert np.abs(u[reached] - exact).max() < 1e-5 * exact.max()


def test_model_with_edges_of_three_triangles():
    """Plain cotangent weights differ by the discretization only: 3 % of the greatest loss."""
    coat, wired, u = coated(scans.coarse_bunny())
    reached = ~np.isnan(u)
    weights = cotangents(coat.mesh.points, coat.mesh.triangles)[reached][:, reached]
    exact = solved(weights, J * coat.area[reached], wired[reached])
    assert np.abs(u[reached] - exact).max() < 0.03 * exact.max()


@pytest.mark.slow
def test_coarse_copy_loses_what_the_coat_loses():
    """A thousand patches for a hundred thousand triangles: within 10 % where the wire holds any of some patches."""
    coat, _, u = coated(scans.bunny())
    patches = run_to_end(proxy.build(coat, 1500))
    main = np.flatnonzero(patches.piece == np.bincount(patches.piece).argmax())
    assert len(main) == len(patches.area), "the bunny is one piece"
    current = patches.collected(J * coat.area)
    held = 2 * np.sqrt(patches.area / np.pi)  # a disc of the patch's own area
    single = rank.Ranking.of(patches.graph, current, RS, area=patches.area, pad=held).single
    for patch in (17, 333, 500):
        fed = drop.WiredSheet.of(coat, [np.flatnonzero(patches.patch == patch)])
        u = run_to_end(run_to_end(drop.Loss.build(fed, RS)).at_points(J * coat.area))
        assert single[patch] == pytest.approx(np.nanmax(u), rel=0.10)
