"""Whether a bath, or what it is mixed from, holds more sulfuric acid than a private person in the EU may have.

Regulation (EU) 2019/1148, Article 5 with Annex I: members of the public may not acquire, bring in, possess or use
sulfuric acid above 15 % by weight; up to 40 % with a license, where the member state grants one. Text read.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError
from ..filled import filled
from ..settings import tables
from ..settings.bath import Bath
from ..settings.job import read_job
from .bath import ACID, ROOM_TEMPERATURE_K, Recipe, recipe
from .solution import density

MAX_ACID_BY_WEIGHT = 0.15


@dataclass(frozen=True)
class AcidLaw:
    """Shares of sulfuric acid by weight. bought, finished : of the acid to buy and of the bath; 0 where there is none
    allowed_baths : names of the table whose finished bath stays below the limit, of the same metal
    """

    bought: float
    finished: float
    allowed_baths: tuple[str, ...]

    @property
    def restricted(self) -> bool:
        """Whether the acid that is bought, or the finished bath, is above the limit."""
        return max(self.bought, self.finished) > MAX_ACID_BY_WEIGHT


def acid_law(bath: Bath, acid_strength: float) -> AcidLaw | None:
    """None where the bath holds no sulfuric acid, or nobody knows what it is made of."""
    finished = acid_share(recipe(bath))
    if not finished:
        return None
    allowed = []
    for name in tables.names("baths"):
        other = read_job({"bath": {"name": name}}).bath
        if other.metal == bath.metal and acid_share(recipe(other)) <= MAX_ACID_BY_WEIGHT:
            allowed.append(name)
    return AcidLaw(acid_strength, finished, tuple(allowed))


def acid_share(recipe: Recipe) -> float:
    """kg of sulfuric acid in a kg of the finished bath at room temperature.

    Raises InputError where its density cannot be computed.
    """
    content = {item.name: item.content for item in recipe.ingredients}
    if ACID not in content:
        return 0.0
    try:
        return content[ACID] / density(content, ROOM_TEMPERATURE_K)
    except (ArithmeticError, ValueError) as error:
        raise InputError(
            filled("bath '{bath}': its composition has no density; check the amounts", bath=recipe.bath)
        ) from error
