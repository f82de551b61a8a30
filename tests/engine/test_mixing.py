"""Mixing a bath step by step: what is in the vessel dissolves, nothing overflows, and the batch comes out as its recipe."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.chemistry import bath, mixing, solubility
from addon.engine.chemistry.mixing import Action
from addon.engine.settings import tables
from addon.engine.settings.job import read_job
from addon.engine.units import GRAM, LITER, ML, ZERO_CELSIUS

BATHS = [name for name in tables.names("baths") if "composition" in tables.entry("baths", name, "bath.name", None)]
ACIDS = (0.148, 0.25, 0.30, 0.37, 0.96)
SALT = "copper sulfate pentahydrate"


def mixed(name: str, acid: float, volume: float = 1 * LITER):
    job = read_job({"bath": {"name": name}})
    batch = bath.mix(bath.recipe(job.bath), volume, acid)
    return batch, mixing.procedure(batch, job.bath.temperature)


# 190 g/L of acid need 17.5 % acid at least
MIXABLE = [(name, acid) for name in BATHS for acid in ACIDS if not (name == "acid copper, high throw" and acid < 0.175)]


@pytest.mark.parametrize(("name", "acid"), MIXABLE)
def test_every_step_dissolves_and_fits(name, acid):
    """Dissolved over soluble stays under 0.95 at each step's own warmth, and the vessel never holds more than the batch."""
    batch, found = mixed(name, acid)
    assert max(one.saturation for one in found.steps) <= 0.95
    assert max(one.volume for one in found.steps) <= 1.02 * batch.volume  # warm liquid is a little larger
    assert batch.volume < found.vessel
    assert found.steps[-1].volume == pytest.approx(batch.volume, rel=0.02)


@pytest.mark.parametrize("name", BATHS)
@pytest.mark.parametrize("acid", ACIDS[1:])
def test_what_is_poured_is_the_recipe(name, acid):
    """Independent sum: water, salts and acid of the steps are the recipe's contents, and weigh what the bath weighs."""
    batch, found = mixed(name, acid, 2 * LITER)
    content = {item.name: item.content for item in bath.recipe(read_job({"bath": {"name": name}}).bath).ingredients}
    poured = {one.substance: one.amount for one in found.steps if one.action == Action.DISSOLVE}
    for substance, amount in content.items():
        if substance not in ("sulfuric acid", "chloride"):
            assert poured[substance] == pytest.approx(2 * LITER * amount)
    water = sum(one.amount for one in found.steps if one.substance == "water") * 998.2  # kg/m3 at 20 C, handbook
    weighed = water + sum(poured.values()) + batch.acid_mass
    assert weighed == pytest.approx(batch.density * batch.volume, rel=1e-3)


def test_saturation_of_copper_sulfate_is_the_handbook_s():
    """359 g of pentahydrate saturate a kilogram of water at 20 C: 20.3 g without crystal water in 100 g (handbook,
    from memory; published pages agree). By hand: 359 * 0.6392 / (1000 + 359 * 0.3608) = 0.2031."""
    full = solubility.saturation({SALT: 0.359}, 1.0, 20 + ZERO_CELSIUS)
    assert full == pytest.approx(1.0, abs=0.005)


def test_acid_salts_copper_sulfate_out():
    """Refining electrolytes, from memory: some 40 g/L of copper dissolve beside 200 g/L of acid at 25 C, 90 g/L without."""
    salt = 40 / 63.546 * 249.685 * GRAM  # for one liter
    water = 1.24 - 0.2 - salt  # kg; density from memory
    assert 0.8 < solubility.saturation({SALT: salt, "sulfuric acid": 0.2}, water, 25 + ZERO_CELSIUS) < 1.2


def test_a_saturated_start_would_be_seen():
    """The salt of the bench mix in three quarters of its water at 20 C is past what dissolves easily: the water is warmed."""
    batch, found = mixed("acid copper, bench mix", 0.37)
    cold = solubility.saturation(dict(batch.solids), 0.75 * batch.water, 20 + ZERO_CELSIUS)
    assert cold > 0.95
    assert found.steps[0].temperature >= 35 + ZERO_CELSIUS


def test_weak_acid_takes_the_salt_after_it():
    """Where acid of 14.8 % brings most of the water, too little is left for the salt alone: acid goes first."""
    _, found = mixed("acid copper, bench mix", 0.148)
    actions = [one.action for one in found.steps]
    assert actions.index(Action.ADD_ACID) < actions.index(Action.DISSOLVE)


def test_watts_is_mixed_hot_and_warns_of_boric_acid():
    """Boric acid, about 47 g/kg of water at 20 C (handbook, from memory): 40 g/L fall out as the bath cools."""
    _, found = mixed("nickel, Watts", 0.37)
    assert found.steps[0].temperature >= 55 + ZERO_CELSIUS
    assert not any(one.action == Action.ADD_ACID for one in found.steps)
    assert found.crystallizes_below is not None and found.crystallizes_below - ZERO_CELSIUS == pytest.approx(
        17.5, abs=5
    )


@pytest.mark.parametrize("substance", sorted(solubility.SOLUBILITIES))
def test_solubilities_rise_with_warmth(substance):
    table = solubility.SOLUBILITIES[substance]
    assert (np.diff(table.content) > 0).all() and (np.diff(table.celsius) > 0).all()


def test_amounts_scale_with_the_batch():
    _, small = mixed("acid copper, decorative", 0.37, 500 * ML)
    _, large = mixed("acid copper, decorative", 0.37, 5 * LITER)
    for one, ten in zip(small.steps, large.steps, strict=True):
        assert ten.amount == pytest.approx(10 * one.amount)
        assert ten.saturation == pytest.approx(one.saturation)
