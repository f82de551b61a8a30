"""The steps for mixing a batch. Each step is checked: everything dissolves, and the vessel holds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from ..errors import InputError
from ..filled import filled
from ..units import ZERO_CELSIUS
from . import solution
from .bath import ACID, ROOM_TEMPERATURE_K, Mix
from .solubility import saturation

RINSE_WATER_SHARE = 0.1  # share of the water, to rinse vessels with and to fill up at the end
MAX_SATURATION = 0.95  # saturation of a step: above it the last crystals take hours, or return on cooling
TARGET_SATURATION = 0.6  # saturation that the water is warmed for: crystals then dissolve within minutes
MAX_WATER_K = 60 + ZERO_CELSIUS  # K: warmer water steams, and household vessels soften
TEMPERATURE_STEP_K = 5.0  # K, resolution of a household thermometer
MAX_ACID_ADDITION_K = 30 + ZERO_CELSIUS  # K: acid goes into a solution no warmer than this, if the salt stays dissolved
VESSEL_PER_BATCH = 1.3  # m3 of mixing vessel per m3 of batch: room to stir, and for the warmth of the acid
MIN_CRYSTALLIZING_SATURATION = 1.0  # saturation from which crystals fall out on standing


class Action(Enum):
    """What is done in one step of mixing."""

    POUR_WATER = "pour-water"
    DISSOLVE = "dissolve"
    COOL = "cool"
    ADD_ACID = "add-acid"
    FILL_UP = "fill-up"
    WARM = "warm"


@dataclass(frozen=True)
class MixStep:
    """One step. substance : "" where nothing is added; amount : m3 of a liquid, kg of a solid, 0 for none

    liquid : whether the amount is a volume; temperature : K, of the vessel after the step
    saturation : 0..1, dissolved over soluble after it; volume : m3 in the vessel after it, approximately
    """

    action: Action
    substance: str
    amount: float
    liquid: bool
    temperature: float
    saturation: float
    volume: float


@dataclass(frozen=True)
class Procedure:
    """A batch, step by step.

    volume : m3 of finished bath; vessel : m3, the least that the mixing vessel holds
    crystallizes_below : K, below which the finished bath crystallizes; None where it does not above freezing
    """

    volume: float
    vessel: float
    steps: tuple[MixStep, ...]
    crystallizes_below: float | None


def procedure(mix: Mix, temperature: float) -> Procedure:
    """The steps for a batch that is then used at `temperature` K.

    Salt goes into warm water, the acid into the cooled solution, the rest of the water on top. If much salt and weak
    acid leave too little water to dissolve the salt first, it goes into the acidified water instead. Raises
    InputError if even warm water does not dissolve it.
    """
    return _Mixing(mix, temperature).run()


class _Mixing:
    """What is in the vessel so far."""

    def __init__(self, mix: Mix, temperature: float) -> None:
        self.mix, self.use = mix, temperature
        self.acid = mix.acid_mass * mix.acid_strength
        self.acid_water = mix.acid_mass - self.acid
        self.water, self.masses = 0.0, dict[str, float]()
        self.steps: list[MixStep] = []

    def run(self) -> Procedure:
        start = (1.0 - RINSE_WATER_SHARE) * self.mix.water
        salted = dict(self.mix.solids)
        alone = saturation(salted, start, MAX_ACID_ADDITION_K)
        acid_first = bool(self.acid) and alone > MAX_SATURATION
        if acid_first:
            self._pour(start, ROOM_TEMPERATURE_K)
            self._add_acid(MAX_ACID_ADDITION_K)
            warm = self._warmth(self.masses | salted, self.water)
        else:
            warm = self._warmth(salted, start)
            self._pour(start, warm)
        if acid_first and warm > MAX_ACID_ADDITION_K:
            self._step(Action.WARM, "", 0.0, True, warm)
        for name, mass in salted.items():
            self.masses[name] = self.masses.get(name, 0.0) + mass
            self._step(Action.DISSOLVE, name, mass, False, warm)
        if self.acid and not acid_first:
            if warm > MAX_ACID_ADDITION_K:
                self._step(Action.COOL, "", 0.0, True, MAX_ACID_ADDITION_K)
            self._add_acid(MAX_ACID_ADDITION_K)
        remaining_water = self.mix.water - start
        self.water += remaining_water
        self._step(
            Action.FILL_UP, "water", remaining_water / solution.water_density(ROOM_TEMPERATURE_K), True, self.use
        )
        return Procedure(self.mix.volume, VESSEL_PER_BATCH * self.mix.volume, tuple(self.steps), self._crystallizes())

    def _warmth(self, masses: Mapping[str, float], water: float) -> float:
        """K, rounded to steps: water temperature at which the salts dissolve easily."""
        warm = ROOM_TEMPERATURE_K
        while saturation(masses, water, warm) > TARGET_SATURATION and warm < MAX_WATER_K:
            warm += TEMPERATURE_STEP_K
        if saturation(masses, water, warm) > MAX_SATURATION:
            raise InputError(
                filled(
                    "bath: its salts do not dissolve in its water even at {temperature} C; check the composition, or"
                    " {batch.acid_percent}",
                    temperature=f"{MAX_WATER_K - ZERO_CELSIUS:.0f}",
                )
            )
        return max(warm, self.use) if not self.acid else warm

    def _pour(self, water: float, temperature: float) -> None:
        self.water += water
        self._step(Action.POUR_WATER, "water", water / solution.water_density(ROOM_TEMPERATURE_K), True, temperature)

    def _add_acid(self, temperature: float) -> None:
        self.masses[ACID] = self.acid
        self.water += self.acid_water
        self._step(Action.ADD_ACID, ACID, self.mix.acid_volume, True, temperature)

    def _step(self, action: Action, substance: str, amount: float, liquid: bool, temperature: float) -> None:
        held = self.water + sum(self.masses.values())
        content = {name: 1.0 * mass / held for name, mass in self.masses.items()}
        full = saturation(self.masses, self.water, temperature) if self.masses else 0.0
        self.steps.append(
            MixStep(action, substance, amount, liquid, temperature, full, held / _density(content, temperature))
        )

    def _crystallizes(self) -> float | None:
        """K, rounded to steps, below which the finished bath is oversaturated."""
        for celsius in range(5, 100, int(TEMPERATURE_STEP_K)):
            if saturation(self.masses, self.water, celsius + ZERO_CELSIUS) < MIN_CRYSTALLIZING_SATURATION:
                return None if celsius == 5 else celsius + ZERO_CELSIUS
        return None


def _density(shares: Mapping[str, float], temperature: float) -> float:
    """kg/m3 of a solution from the mass fractions of its substances as weighed."""
    rho = 1000.0
    for _ in range(40):  # fixed point: contents by volume depend on the density sought
        rho = solution.density({name: share * rho for name, share in shares.items()}, temperature)
    return rho
