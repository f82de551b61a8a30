"""Coat and bath solved together against a series, and the density at a wire's rim against Hankel's integral.

A coated sphere of radius R hangs in the middle of an anode sphere of radius b, kinetics linear; a current I leaves through a
wire at one pole. In Legendre polynomials of cos(theta), with u the volts lost along the coat and j the density,

    j_n = -u_n / (rho + z_n),   z_n = R / kappa (1 - q) / (n + 1 + n q),   q = (R / b)^(2 n + 1)
    n (n + 1) / (R^2 Rs) u_n = j_n - (2 n + 1) I / (4 pi R^2) P_n(cos a),   n >= 1,

where the current is taken out along the circle of the pad's rim, at the angle a. Own derivation: separation of variables,
z_n from the potentials r^-(n+1) and r^n.
"""

from __future__ import annotations

import math

import models
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import eval_legendre, j0

from addon.engine.mesh import inspection
from addon.engine.coat import contact, current_limit, drop, proxy, ramp, rim, sheet, study, wires
from addon.engine.coat.immersed import Immersed
from addon.engine.coat.spread import Spread
from addon.engine.field import solve
from addon.engine.field.bem.influence import Influence
from addon.engine.settings.job import read_job
from addon.engine.settings.part import Wire
from addon.engine.progress import run_to_end

R, B, KAPPA, RHO, PAD = 0.02, 0.06, 18.0, 3e-4, 0.006
MAX_TERMS = 400  # terms of the series


def series(sheet_resistance: float, current: float, angle: np.ndarray, rim_angle: float) -> np.ndarray:
    """j in A/m2 at angles from the wire."""
    j = np.full(len(angle), current / (4 * math.pi * R**2))
    for n in range(1, MAX_TERMS):
        q = (R / B) ** (2 * n + 1)
        bath = RHO + R / KAPPA * (1 - q) / (n + 1 + n * q)
        out = (2 * n + 1) * current / (4 * math.pi * R**2) * eval_legendre(n, math.cos(rim_angle))
        u = -out / (n * (n + 1) / (R**2 * sheet_resistance) + 1 / bath)
        j -= u / bath * eval_legendre(n, np.cos(angle))
    return j


@pytest.fixture(scope="module")
def ball() -> tuple[Spread, Immersed]:
    """The coat and its tank, the wire at the top."""
    surface = run_to_end(inspection.inspect(models.part(models.sphere(R, 4))))
    shell = models.part(models.inside_out(models.sphere(B, 3)))
    job = read_job(
        {
            "bath": {"conductivity_S_m": KAPPA, "kinetics": {"kind": "linear", "resistance_ohm_m2": RHO}},
            "tank": {"shape": "open"},
            "place": {"centre_mm": [0, 0, 0]},
            "anode": [{"file": "shell.stl"}],
            "effort": {"panels": 4000},
        }
    )
    pads = wires.specified_pads(surface, [Wire((0.0, 0.0, R), PAD)])
    fitted, covered = run_to_end(sheet.with_pads(surface, run_to_end(sheet.build(surface)), pads))
    bath = run_to_end(Immersed.build(surface, job, {"shell.stl": shell}))
    patches = run_to_end(proxy.build(fitted, 1000, covered))
    return Spread.of(drop.WiredSheet.of(fitted, covered), patches, pads, resolution=bath.resolution), bath


@pytest.mark.slow
@pytest.mark.parametrize("sheet_resistance", [0.5, 10.0])
def test_density_on_a_coated_sphere(ball, sheet_resistance):
    """On belts of 20 degrees, from three pad's radii to the far pole: within 2 % of the mean and half a percent of its own."""
    spread, bath = ball
    current = 0.3
    conductance = np.full(len(spread.own), 1 / sheet_resistance)
    seen = run_to_end(bath.patch_resistance(spread, conductance, current))
    found = current * spread.share(conductance, seen).density
    middle = spread.patches.middle[spread.own]
    angle = np.arccos(middle[:, 2] / np.linalg.norm(middle, axis=1))
    exact = series(sheet_resistance, current, angle, PAD / 2 / R)
    mean = current / (4 * math.pi * R**2)
    for low in range(26, 180, 20):
        belt = (angle >= math.radians(low)) & (angle < math.radians(low + 20))
        ours, theirs = (float(np.average(j[belt], weights=spread.area[belt])) for j in (found, exact))
        assert ours == pytest.approx(theirs, abs=0.02 * mean + 0.005 * theirs), low


@pytest.mark.slow
@pytest.mark.parametrize(("sheet_resistance", "low"), [(0.5, 0.92), (10.0, 0.73)])
def test_first_current_brings_the_rim_to_the_bath_s_limit(ball, sheet_resistance, low):
    """The current at which the series has 600 A/m2 at the rim: never above, and below by rounding down to two digits and
    by what the flat sheet of the rim's formula overrates on a sphere where the pad is a third of the coat's reach."""
    spread, bath = ball
    exact = 600.0 / float(series(sheet_resistance, 1.0, np.array([PAD / 2 / R]), PAD / 2 / R)[0])
    drive = current_limit.Drive(
        target=3.0,
        charge=1.0,
        top=600.0,
        conductivity=KAPPA,
        polarization=RHO,
        heat=math.inf,
        flux=math.inf,
        rate=3.7e-11,
        resistivity=1.7241e-8,
    )
    first = run_to_end(ramp.run(spread, bath, sheet_resistance, drive)).stages[0].current
    assert low * exact <= first <= exact


@pytest.mark.parametrize(("length", "off"), [(0.05, 0.005), (0.3, 0.005), (1.0, 0.035), (4.0, 0.055), (40.0, 0.07)])
def test_rim_against_hankel_s_integral(length, off):
    """kappa c times the integral of J0(k a)^2 - J0(k r) J0(k a) over 1 + l k, at r = 4 a: within half a percent where the coat
    conducts poorly, within 7 % where it conducts well.

    Integrated by scipy between the zeros of the slower wave; the tail of J0^2 is 1 / (pi k) on average.
    """
    away, far = 4.0, 2000.0

    def both(k: float) -> float:
        return (j0(k) - j0(away * k)) * j0(k) / (1 + length * k)

    whole = sum(quad(both, a, a + math.pi, limit=200)[0] for a in np.arange(0.0, far, math.pi))
    whole += math.log1p(1 / (length * far)) / math.pi
    assert rim.excess(length, 1.0, away) == pytest.approx(whole, rel=off)
    assert rim.excess(length * 0.002, 0.002, away * 0.002) == pytest.approx(500 * rim.excess(length, 1.0, away))


@pytest.mark.slow
def test_a_coat_is_solved_on_the_level_that_the_field_left(monkeypatch):
    """In a tube of 8 by 30 mm: a field with the half-plated coat leaves its coarse level of 1,500 panels; the bare coat
    on it gets the density that 9,000 panels find, and nothing is integrated again."""
    tube = run_to_end(inspection.inspect(models.part(models.moved(models.cup(4, 30, 2, 32, 8), scale=1e-3))))
    job = read_job({"effort": {"panels": 6000}})
    contacts = run_to_end(contact.rank(tube, up=(0, 0, 1), sheet_resistance=0.5, density=200.0))
    half = run_to_end(study.half_grown(tube, job, contacts))
    level = run_to_end(solve.run(tube, job, wire_drop=half)).level
    assert level is not None and level.cell.influence.n < 2000
    spread = half.spread
    bare = np.full(len(spread.own), 1.0 / 0.5)
    fine = read_job({"effort": {"panels": 9000}})  # 6,000 find 1.3 % less than 12,000 at the bottom
    exact = run_to_end(solve.run(tube, fine, wire_drop=spread.loss(bare)))
    monkeypatch.setattr(Influence, "build", None)
    bath = run_to_end(Immersed.build(tube, job, None, level))
    current = job.target.density * float(tube.plated_area.sum())
    density = current * spread.share(bare, run_to_end(bath.patch_resistance(spread, bare, current))).density
    finer = spread.collected(exact.density) / spread.area
    middle = spread.patches.middle[spread.own]
    inside = (np.hypot(middle[:, 0], middle[:, 1]) < 4.2e-3) & (middle[:, 2] > -1e-4)
    for low in np.arange(0.0, 0.03, 0.006):
        belt = inside & (middle[:, 2] >= low) & (middle[:, 2] < low + 0.006)
        ours, theirs = (float(np.average(j[belt], weights=spread.area[belt])) for j in (density, finer))
        assert ours == pytest.approx(theirs, rel=0.02), low
