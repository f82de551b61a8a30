"""The bath at the bench: batch, anode, brightener."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.engine.chemistry import bath, cautions, solution
from addon.engine.settings import tables
from addon.engine.errors import InputError
from addon.engine.findings import Quantity
from addon.engine.reporting import finding_text
from addon.engine.settings.job import read_job
from addon.engine.units import AMPERE_HOUR, DM2, GRAM, LITER, MG, ML, UM

SALT = "copper sulfate pentahydrate"


def recipe(name):
    return bath.recipe(read_job({"bath": {"name": name}}).bath)


def test_the_half_liter_of_the_bench():
    """100 g of salt and 90 mL of 37 % acid for 200 g/L and 85 g/L: common practice, no source."""
    mix = bath.mix(recipe("acid copper, bench mix"), 0.5 * LITER, 0.37)
    assert mix.solids[SALT] / GRAM == pytest.approx(100)
    assert mix.acid_volume / ML == pytest.approx(90, rel=2e-3)
    assert mix.acid_mass * 0.37 / GRAM == pytest.approx(42.5, rel=2e-3)
    assert mix.density == pytest.approx(1174, abs=1)
    # 60 mg/L of chloride: 49 mg of table salt in half a liter
    assert mix.solids["sodium chloride (table salt)"] / MG == pytest.approx(49.5, abs=0.5)
    assert mix.water / GRAM == pytest.approx(372, abs=1)


@given(volume=st.floats(0.01, 1000), strength=st.floats(0.37, 0.98), name=st.sampled_from(tables.names("baths")))
def test_what_is_poured_weighs_what_the_bath_weighs(volume, strength, name):
    """Mass balance, and the contents come out as in the recipe whatever the acid's strength."""
    found = recipe(name)
    mix = bath.mix(found, volume * LITER, strength)
    poured = sum(mix.solids.values()) + mix.acid_mass + mix.water
    assert poured == pytest.approx(mix.density * volume * LITER)
    content = {item.name: item.content for item in found.ingredients}
    assert mix.acid_mass * strength == pytest.approx(content.get("sulfuric acid", 0) * volume * LITER)
    assert mix.water >= 0


def test_acid_too_weak_for_the_bath_says_how_strong():
    """190 g/L of acid in 1162 g/L of bath with 75 g/L of salt needs 190 / 1087 = 17.5 % at least."""
    with pytest.raises(InputError, match=r"at least 17 %|at least 18 %"):
        bath.mix(recipe("acid copper, high throw"), LITER, 0.15)


def test_a_bath_without_composition_points_to_its_maker(tmp_path):
    table = tmp_path / "own.toml"
    table.write_text(
        '["mine"]\nmetal = "zinc"\nconductivity_S_m = 20\ndensity_g_mL = 1.2\nwindow_A_dm2 = [1, 3]\n'
        "efficiency = 0.9\nlimiting_A_dm2 = 8\nanode_to_cathode = [1.5, 2.5]\n"
    )
    own = read_job({"bath": {"file": str(table)}}).bath
    assert own.name == "mine" and own.metal == "zinc"
    found = bath.recipe(own)
    assert found.anode_to_cathode == (1.5, 2.5) and found.anode == "zinc"
    with pytest.raises(InputError, match="data sheet"):
        bath.mix(found, LITER)


def test_a_user_table_with_a_bad_amount_is_named(tmp_path):
    table = tmp_path / "own.toml"
    table.write_text(
        '["mine"]\nmetal = "copper"\nconductivity_S_m = 20\ndensity_g_mL = 1.2\nwindow_A_dm2 = [1, 3]\n'
        'efficiency = 0.9\nlimiting_A_dm2 = 8\n["mine".composition]\n"sulfuric acid" = -60\n'
    )
    with pytest.raises(InputError, match=r"own.toml: 'mine'.composition.sulfuric acid: -60"):
        bath.recipe(read_job({"bath": {"file": str(table)}}).bath)


def test_batch_volume_is_what_the_tank_holds_unless_asked():
    """A box of 300 x 200 mm filled to 220 mm: 13.2 L; a cylinder of 100 mm to 150 mm: 1.178 L."""
    job = read_job({})
    assert bath.batch_volume(job.batch, job.tank) / LITER == pytest.approx(13.2)
    job = read_job({"tank": {"shape": "cylinder", "size_mm": [100, 200], "level_mm": 150}})
    assert bath.batch_volume(job.batch, job.tank) / LITER == pytest.approx(1.1781, rel=1e-4)
    job = read_job({"batch": {"volume_L": 0.5}})
    assert bath.batch_volume(job.batch, job.tank) / LITER == pytest.approx(0.5)


def test_anode_follows_the_ratio_and_its_own_limit():
    """1:1 to 2:1 (common practice); 3 A at 2 A/dm2 want 1.5 dm2."""
    job = read_job({})
    size = bath.anode_size(bath.recipe(job.bath), job.bath, 1 * DM2, 3.0)
    assert (size.low / DM2, size.high / DM2) == pytest.approx((1, 2))
    assert size.least / DM2 == pytest.approx(1.5)


def test_brightener_goes_by_charge():
    """0.2 mL/Ah (common practice 0.1 to 0.3): 5 Ah use 1 mL; the bench mix has none."""
    assert bath.brightener(recipe("acid copper, decorative"), 5 * AMPERE_HOUR) / ML == pytest.approx(1)
    assert bath.brightener(recipe("acid copper, bench mix"), 5 * AMPERE_HOUR) == 0


@pytest.mark.parametrize("kind", ["baths", "coats", "plastics"])
def test_every_number_of_the_tables_has_a_source_and_a_sureness(kind):
    def cells(entry):
        for key, cell in entry.items():
            if key == "composition":
                yield from cells(cell)
            elif key != "metal":
                yield key, cell

    for name in tables.names(kind):
        for key, cell in cells(tables.entry(kind, name, "test")):
            assert cell["source"] and cell["sure"] in ("high", "medium", "low"), (name, key)


def test_recipes_lie_within_their_own_ranges():
    for name in tables.names("baths"):
        for item in recipe(name).ingredients:
            assert item.low <= item.content <= item.high, (name, item)


def test_coats_and_plastics_read_in_si():
    """Copper paint: 0.1 to 1 ohm/sq (trade data, from memory); PLA 1.24 g/mL."""
    coat = read_job({"coat": {"name": "copper paint"}}).coat
    assert 0.1 <= coat.sheet_resistance <= 1 and coat.thickness == pytest.approx(40 * UM)
    assert read_job({"coat": {"name": "none (metal part)"}}).coat.sheet_resistance == 0
    assert tables.plastic("PLA", "test")["density_g_mL"] == pytest.approx(1.24)


@pytest.mark.parametrize("name", tables.names("baths"))
def test_what_the_model_assumes_is_in_the_bath(name):
    """A surface tension below water's (0.073 N/m) wants a wetting agent, brightener by charge wants it at make-up, a bath
    warmer than the room a heater; whoever watches the pH has what corrects it."""
    job = read_job({"bath": {"name": name}})
    kept = bath.recipe(job.bath)
    assert (job.bath.surface_tension < 0.06) == (kept.wetter > 0)
    assert kept.brightener == 0 or kept.additive > 0
    assert (job.bath.temperature > 303.0) == bool(kept.heating)
    assert (kept.ph_window is None) == (not kept.ph_lower) == (not kept.ph_raise)
    assert kept.anode_bag and kept.filtering
    assert (kept.anode_film is None) or "phosphorized" in kept.anode
    made = bath.additions(kept, 2e-3)
    assert sum(one.amount for one in made if one.liquid) == pytest.approx(2e-3 * kept.additive)


@pytest.mark.parametrize("name", tables.names("baths"))
def test_every_value_of_a_bath_has_its_source(name):
    for key, cell in bath.sources(read_job({"bath": {"name": name}}).bath).items():
        assert key == "metal" or (cell["source"] and cell["sure"] in ("high", "medium", "low")), key


def test_sulfamate_weighs_what_its_concentrate_does():
    """180 g/L of nickel as sulfamate: 1.54 g/mL (trade data, from memory). Nickel of 400 g/L of the salt: 73 g/L."""
    salt = 180 / 58.6934 * 322.93
    assert solution.density({"nickel sulfamate tetrahydrate": salt}, 293.15) == pytest.approx(1540, rel=0.01)


def test_bought_acid_above_the_limit_is_more_than_a_note():
    """Regulation (EU) 2019/1148: 37 % is above 15 %; acid of 14.8 % in a bath of 5 % is not."""
    strong = cautions.acid(read_job({}))
    assert [one.severity.value for one in strong] == ["costs"]
    assert not cautions.acid(read_job({"batch": {"acid_percent": 14.8}}))
    nickel = {
        "bath": {"name": "nickel, sulfamate"}
    }  # no acid in the bath: what the dip is made of is bought all the same
    (dip,) = cautions.acid(read_job(nickel))
    assert dip.quantities[Quantity.SHARE] == 0 and "dip" in finding_text.text(dip) and dip.remedy is None
    assert not cautions.acid(read_job({**nickel, "batch": {"acid_percent": 14.8}}))
    for undipped in ("zinc-rich primer", "graphite lacquer"):
        assert not cautions.acid(read_job({**nickel, "coat": {"name": undipped}}))


def test_a_warm_bath_names_plastics_and_baths_that_would_do():
    """PLA at 55 C in a bath of 50: polycarbonate and ABS stand it; no nickel bath of the table is cool enough."""
    (soft,) = cautions.plastic(read_job({"bath": {"name": "nickel, sulfamate"}}))
    assert soft.severity.value == "stops"
    assert {"ABS", "polycarbonate"} <= set(soft.remedy.names["plastics"].split(", ")) and not soft.remedy.names["baths"]
    edge = {"bath": {"temperature_C": 45}}
    assert cautions.plastic(read_job(edge)) and not cautions.plastic(read_job({"bath": {"temperature_C": 44.9}}))
    named = cautions.plastic(read_job(edge))[0].remedy.names["baths"]
    assert "acid copper, decorative" in named
