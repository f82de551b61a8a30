"""The bath at the bench: what to weigh and pour for any volume, how much anode, when to add brightener."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .. import faraday
from ..errors import InputError
from ..filled import filled, setting
from ..settings import tables
from ..settings.bath import Batch, Bath
from ..settings.schema import MAX_SETTING, read, shown
from ..settings.tank import Tank
from ..units import GRAM_PER_LITER, ZERO_CELSIUS
from . import solution
from .upkeep import Upkeep

NAMED = setting("bath.name")  # where a job names its bath
ACID = "sulfuric acid"
CHLORIDE = "chloride"
TABLE_SALT_PER_CHLORIDE = 58.443 / 35.453  # kg of NaCl that carry 1 kg of chloride
ROOM_TEMPERATURE_K = 20 + ZERO_CELSIUS  # K, at which solutions are measured out


@dataclass(frozen=True)
class Ingredient:
    """A substance of a recipe: kg/m3 of finished bath (the same as g/L), and its usual range."""

    name: str
    content: float
    low: float
    high: float


@dataclass(frozen=True)
class Recipe:
    """What a bath is made of and how it is maintained.

    ingredients : in the order of the table; temperature_window : K; anode : its material;
    anode_to_cathode : usual range of the ratio of areas; brightener : m3/C, 0 for none; agitation : in words
    additive, wetter : what is added to the finished bath, m3/m3 and kg/m3, 0 for none, with their names
    ph_window : None where nobody watches it; ph_lower, ph_raise : what corrects it; heating, filtering, anode_bag,
    aeration : in words, "" for none; filter_mesh : m, 0 for none
    anode_film : (s, A/m2 of anode) for which new anodes are worked in on a dummy, None where they need not be
    """

    bath: str
    ingredients: tuple[Ingredient, ...]
    temperature_window: tuple[float, float] | None
    anode: str
    anode_to_cathode: tuple[float, float]
    brightener: float
    agitation: str
    additive: float = 0.0
    additive_name: str = ""
    wetter: float = 0.0
    wetter_name: str = ""
    ph_window: tuple[float, float] | None = None
    ph_lower: str = ""
    ph_raise: str = ""
    heating: str = ""
    filtering: str = ""
    filter_mesh: float = 0.0
    anode_bag: str = ""
    aeration: str = ""
    anode_film: tuple[float, float] | None = None
    made_for: str = ""


@dataclass(frozen=True)
class Addition:
    """An addition to the finished bath. amount : m3 of a liquid, kg of a solid"""

    substance: str
    amount: float
    liquid: bool


@dataclass(frozen=True)
class Mix:
    """What to measure out for one batch, in SI; measured at 20 C.

    volume : m3 of finished bath
    solids : name -> kg; chloride is given as table salt
    acid_volume, acid_mass : m3 and kg of the acid as bought (strength by weight); zero without acid
    water : kg in all, part of it kept back to fill up to the volume
    density : kg/m3 of the finished bath at 20 C
    """

    volume: float
    solids: Mapping[str, float]
    acid_strength: float
    acid_volume: float
    acid_mass: float
    water: float
    density: float


@dataclass(frozen=True)
class AnodeSize:
    """m2 of anode facing the part: by the bath's usual ratio, and the least that its own current limit allows."""

    low: float
    high: float
    least: float


_UNCHANGED = (
    *("temperature_window", "anode_to_cathode", "brightener", "agitation", "additive", "additive_name", "wetter"),
    *(
        "wetter_name",
        "ph_window",
        "ph_lower",
        "ph_raise",
        "heating",
        "filtering",
        "filter_mesh",
        "anode_bag",
        "aeration",
    ),
)


def recipe(bath: Bath) -> Recipe:
    """The recipe of a bath, from the built-in or the user's table. Raises InputError if the table is faulty."""
    path = Path(bath.file) if bath.file else None
    cells = tables.entry("baths", bath.name, NAMED, path)
    where = f"{bath.file or 'data/baths.toml'}: '{bath.name}'"
    made_for = tables.value(cells.get("metal", bath.metal))
    if made_for != bath.metal:  # nothing of the entry holds for another metal
        return _other_metal(bath, made_for)
    keys = tables.RECIPE_KEYS - {"composition"}
    upkeep = read(Upkeep, {key: tables.value(cells[key]) for key in cells if key in keys}, where)
    composition = cells.get("composition", {})
    if not isinstance(composition, Mapping):
        raise InputError(filled("{path}.composition: expected a table of ingredients in g/L", path=where))
    unchanged = {name: getattr(upkeep, name) for name in _UNCHANGED}
    return Recipe(
        bath=bath.name,
        ingredients=tuple(_ingredient(n, cell, f"{where}.composition.{n}") for n, cell in composition.items()),
        anode=upkeep.anode or bath.metal,
        anode_film=(upkeep.film_time, upkeep.film_density) if upkeep.film_time and upkeep.film_density else None,
        **unchanged,
    )


def _other_metal(bath: Bath, made_for: str) -> Recipe:
    """What is known of a bath whose metal the job sets to another than its entry is made for: nothing but that."""
    usual = read(Upkeep, {}, "")
    return Recipe(
        bath=bath.name,
        ingredients=(),
        anode=bath.metal,
        made_for=made_for,
        **{name: getattr(usual, name) for name in _UNCHANGED},
    )


def sources(bath: Bath) -> Mapping[str, Mapping[str, Any]]:
    """Every value of a bath's table entry: key -> value, with its source and certainty where given."""
    cells = tables.entry("baths", bath.name, NAMED, Path(bath.file) if bath.file else None)
    return {key: cell if isinstance(cell, Mapping) else {"value": cell} for key, cell in _flat(cells)}


def _flat(cells: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, cell in cells.items():
        if key == "composition" and isinstance(cell, Mapping):
            yield from ((f"composition.{name}", inner) for name, inner in cell.items())
        else:
            yield key, cell


def additions(recipe: Recipe, volume: float) -> tuple[Addition, ...]:
    """The additions to `volume` m3 of finished bath before it is used."""
    additions = []
    if recipe.wetter > 0:
        additions.append(Addition(recipe.wetter_name or "wetting agent", recipe.wetter * volume, False))
    if recipe.additive > 0:
        additions.append(Addition(recipe.additive_name or "additive", recipe.additive * volume, True))
    return tuple(additions)


def _ingredient(name: str, cell: Any, where: str) -> Ingredient:
    content = tables.value(cell)
    low, high = cell.get("range", (content, content)) if isinstance(cell, Mapping) else (content, content)
    for amount in (content, low, high):
        if isinstance(amount, bool) or not isinstance(amount, int | float) or not 0 < amount < MAX_SETTING:
            raise InputError(
                filled("{path}: {label} is not usable; give g/L above zero", path=where, label=shown(amount))
            )
    return Ingredient(name, content * GRAM_PER_LITER, low * GRAM_PER_LITER, high * GRAM_PER_LITER)


def mix(recipe: Recipe, volume: float, acid_strength: float = 0.37) -> Mix:
    """What to measure out for `volume` m3 of bath, from acid of a strength by weight.

    Water by mass balance, from the density of the finished bath. Raises InputError where the bath has no
    composition, or where the acid is too weak to reach the recipe.
    """
    if recipe.made_for:
        raise InputError(
            filled(
                "bath '{bath}' is made for {metal}, not for {anode}; mix the other by its maker's data sheet",
                bath=recipe.bath,
                metal=recipe.made_for,
                anode=recipe.anode,
            )
        )
    if not recipe.ingredients:
        raise InputError(
            filled("bath '{bath}' has no composition in its table; mix it by its maker's data sheet", bath=recipe.bath)
        )
    content = {item.name: item.content for item in recipe.ingredients}
    if CHLORIDE in content:
        content["sodium chloride (table salt)"] = content.pop(CHLORIDE) * TABLE_SALT_PER_CHLORIDE
    density = solution.density(content, ROOM_TEMPERATURE_K)
    acid = content.pop(ACID, 0.0) / acid_strength
    solids = {name: amount * volume for name, amount in content.items()}
    water = density - acid - sum(content.values())
    if water < 0:
        least = 100 * acid * acid_strength / (density - sum(content.values()))
        raise InputError(
            filled(
                "{batch.acid_percent}: {share} % acid is too weak for the bath '{bath}'; use at least"
                " {least} %, or a bath with less acid",
                share=f"{100 * acid_strength:.0f}",
                bath=recipe.bath,
                least=f"{least:.0f}",
            )
        )
    return Mix(
        volume=volume,
        solids=solids,
        acid_strength=acid_strength,
        acid_volume=volume * acid / solution.acid_density(acid_strength),
        acid_mass=volume * acid,
        water=volume * water,
        density=density,
    )


def batch_volume(batch: Batch, tank: Tank) -> float:
    """m3 to mix: as asked for, or what a box or cylinder holds to its level; half a liter for other tanks."""
    if batch.volume is not None:
        return batch.volume
    length, width, _ = tank.size
    if tank.shape == "box":
        return length * width * tank.level
    if tank.shape == "cylinder":
        return 0.25 * math.pi * length * width * tank.level
    return 0.5e-3


def anode_size(recipe: Recipe, bath: Bath, area: float, current: float) -> AnodeSize:
    """Anode for `area` m2 of cathode at `current` A."""
    low, high = recipe.anode_to_cathode
    return AnodeSize(low * area, high * area, current / bath.anode_limit)


def anode_thickness(bath: Bath, charge: float, area: float) -> float:
    """m that plates of `area` m2, one side of each, must be thick at least for a charge in C: twice what dissolves, for
    they dissolve unevenly and must hold together to the end (common practice, no source)."""
    metal = faraday.metal(bath.metal)
    return 2.0 * faraday.mass(metal, charge, 1.0) / (metal.density * area)


def brightener(recipe: Recipe, charge: float) -> float:
    """m3 of brightener that a charge in C uses up."""
    return recipe.brightener * charge
