"""Densities of acids and baths against an independent library and a published fit."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from thermo import electrochem

from addon.engine.chemistry import bath, solution
from addon.engine.settings import tables
from addon.engine.settings.job import read_job
from addon.engine.units import ZERO_CELSIUS

CAS = {
    "copper sulfate pentahydrate": ("7758-98-7", 159.609 / 249.685),
    "sulfuric acid": ("7664-93-9", 1.0),
    "nickel sulfate hexahydrate": ("7786-81-4", 154.756 / 262.848),
    "nickel chloride hexahydrate": ("7718-54-9", 129.599 / 237.691),
}


def library_density(content, temperature):
    """kg/m3 by the `thermo` library: its mass-fraction form, iterated to the contents in kg/m3."""
    salts = {CAS[name][0]: amount * CAS[name][1] for name, amount in content.items()}
    rho = 1000.0
    for _ in range(60):
        rho = electrochem.Laliberte_density(temperature, [s / rho for s in salts.values()], list(salts))
    return rho


@pytest.mark.slow
@settings(deadline=None, max_examples=40)  # the library loads its tables at the first call
@given(salt=st.floats(30, 280), acid=st.floats(10, 250), nickel=st.floats(0, 50), celsius=st.floats(15, 60))
def test_mixing_rule_is_that_of_the_library(salt, acid, nickel, celsius):
    """Laliberte and Cooper 2004, parameters 2009, as in `thermo`: to the rounding of the coefficients."""
    content = {
        "copper sulfate pentahydrate": salt,
        "sulfuric acid": acid,
        "nickel sulfate hexahydrate": nickel,
        "nickel chloride hexahydrate": nickel,
    }
    temperature = celsius + ZERO_CELSIUS
    ours = solution.density(content, temperature)
    assert ours == pytest.approx(library_density(content, temperature), rel=1e-6)


@pytest.mark.parametrize(
    ("salt", "acid", "at_20", "at_25", "at_30"),
    [
        (200, 60, 1.160, 1.158, 1.156),
        (220, 60, 1.172, 1.170, 1.168),
        (195, 30, 1.139, 1.137, 1.135),
        (248, 75, 1.196, 1.194, 1.192),
        (75, 190, 1.162, 1.160, 1.157),
        (200, 85.1, 1.174, 1.172, 1.170),
    ],
)
def test_acid_copper_baths(salt, acid, at_20, at_25, at_30):
    """Densities worked out beforehand with the library, to the three decimals printed."""
    content = {"copper sulfate pentahydrate": salt, "sulfuric acid": acid}
    for celsius, expected in ((20, at_20), (25, at_25), (30, at_30)):
        assert solution.density(content, celsius + ZERO_CELSIUS) / 1000 == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize(
    ("percent", "expected"),
    [(10, 1065.9), (20, 1139.5), (30, 1218.9), (37, 1277.3), (38, 1285.9), (50, 1395.9)],
)
def test_sulfuric_acid_alone(percent, expected):
    """Myhre and others 1998 at 20 C, within 0.1 %."""
    assert solution.acid_density(percent / 100) == pytest.approx(expected, rel=1e-3)


@settings(deadline=None, max_examples=40)
@given(strength=st.floats(0.05, 0.75))
def test_acid_table_is_near_the_mixing_rule(strength):
    """Laliberte for sulfuric acid alone; the two fits differ by at most 0.2 %."""
    library = electrochem.Laliberte_density(20 + ZERO_CELSIUS, [strength], ["7664-93-9"])
    assert solution.acid_density(strength) == pytest.approx(library, rel=2e-3)


@pytest.mark.parametrize("name", tables.names("baths"))
def test_table_density_follows_from_the_table_composition(name):
    """What the bath table prints, against the mixing rule at the table's temperature, within 0.5 %."""
    found = read_job({"bath": {"name": name}}).bath
    content = {item.name: item.content for item in bath.recipe(found).ingredients}
    assert solution.density(content, found.temperature) == pytest.approx(found.density, rel=5e-3)
