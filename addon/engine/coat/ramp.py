"""The current ramp: how the current may rise as metal grows over the coat.

The deposit lies beside the coat as a second conductor, 1/Rs = 1/Rs0 + t / resistivity. It grows first near the wire, so
the current spreads from there. The current allowed at any time is the one at which no place gets more than the bath's
highest sound density, the rim of the wires' pads included, and the plastic stays cool. Quasi-steady: each step solves
for the potential with the present films. Source of the effect: R. Alkire, J. Electrochem. Soc. 118 (1971) 1935.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..filled import filled
from ..linalg.sparse import Vector
from ..progress import Progress, Step
from ..units import MINUTE, UM
from .bathside import Bath
from .covering import COVERAGE_MILESTONES, Covering
from .current_limit import NEAR_TARGET_SHARE, Drive, RampModel
from .rim import Front
from .spread import Spread

MAX_GROWTH_PER_STEP_M = 0.15 * UM  # of film on the face that is plated fastest and not yet covered, in one step
MIN_RAISE_RATIO = 1.6  # factor of the allowed current at which it is raised
MIN_HOLD_S = 1 * MINUTE  # s, shortest time at one current
# of the voltage left everywhere: the coat then loses little, and the bath is not solved again
MIN_LOSSLESS_VOLTAGE_SHARE = 0.97
BATH_UPDATE_INTERVAL_S = 2 * MINUTE  # s, after which the bath is solved again below the full current
MAX_RAMP_STEPS = 800  # steps


@dataclass(frozen=True)
class Stage:
    """Hold a current (A) for so long (s); covered : share of the plated area that is closed over at its end
    voltage : V between wire and anodes at most meanwhile, 0 where nobody computed it
    spread : m from the nearest wire that metal has reached at its end, all but the last 5 % of what is covered
    """

    current: float
    seconds: float
    covered: float
    voltage: float = 0.0
    spread: float = 0.0


@dataclass(frozen=True, eq=False)
class Ramp:
    """stages : in order, the last at the full current until the wanted charge has passed
    limited : what holds the first current down: "target" (nothing does), "burn" or "warmth"
    held : the same of the last
    covered_after : s until everything that a wire reaches is covered; None if never
    film : (n,) meters on each patch when the charge has passed, 0 where no wire reaches
    milestones : s until each of COVERAGE_MILESTONES of the plated area is covered; None if never
    last : (3,) m, the middle of the patch that is covered last, or stays thinnest; None where nothing needs covering
    """

    stages: tuple[Stage, ...]
    limited: str
    covered_after: float | None
    film: Vector
    held: str = "target"
    milestones: tuple[float | None, ...] = (0.0,) * len(COVERAGE_MILESTONES)
    last: tuple[float, float, float] | None = None

    @property
    def half_covered(self) -> float:
        """s until half of the plated area is covered; inf if never."""
        return math.inf if self.milestones[0] is None else self.milestones[0]


def run(
    spread: Spread, bath: Bath, sheet_resistance: float, drive: Drive, *, film: float = 0.0, first: float | None = None
) -> Progress[Ramp]:
    """Step through the ramp on the aggregated network of a coat.

    spread : of the coat with its wires; sheet_resistance : ohm per square, above 0
    bath : solved at the start, whenever the current is raised, every few minutes below the full current, and whenever
    the time has doubled, until the coat loses little
    film : meters of metal that lie on the coat before the current is on
    first : A, a guess of the current to start with
    """
    walk = RampModel(spread, bath, drive, 1.0 / sheet_resistance)
    covering = Covering.of(spread, film)
    fronts = [Front.of(contact.radius, contact.away, film) for contact in spread.contacts]
    stages: list[Stage] = []
    since, now, passed, asked, highest = 0.0, 0.0, 0.0, 0.0, 0.0
    resistance, current = yield from walk.first(covering.thick, fronts, first or drive.target)
    limited, held, losing = "", "", True
    for count in range(MAX_RAMP_STEPS):
        whole = bool(covering.closed.all())
        state = walk.judged(covering.thick, fronts, resistance)
        highest = max(highest, current * state.share.voltage)
        held = "target" if current >= drive.target else "burn" if state.burn else "warmth"
        limited = limited or held
        rises = _rises(current, now - since, state.allowed, drive)
        stale = losing and (
            now > 2 * max(asked, MIN_HOLD_S) or (current < drive.target and now > asked + BATH_UPDATE_INTERVAL_S)
        )
        if rises or (stale and not whole):
            wanted = state.allowed if rises else current
            resistance = yield from bath.patch_resistance(spread, walk.conductance(covering.thick), wanted)
            asked = now
            state = walk.judged(covering.thick, fronts, resistance)
            losing = float((resistance * state.share.density).min()) < MIN_LOSSLESS_VOLTAGE_SHARE * state.share.voltage
            rises = _rises(current, now - since, state.allowed, drive)
        if rises:
            stages.append(Stage(current, now - since, covering.share, highest, covering.spread()))
            current, since, highest = drive.settable(state.allowed), now, 0.0
            held = "target" if current >= drive.target else held
        left = (drive.charge - passed) / current
        if left <= 0.0 or (whole and current >= drive.target):
            break
        density = current * state.share.density
        fastest = float(density[~covering.closed].max()) if not whole else 0.0
        step = min(MAX_GROWTH_PER_STEP_M / (drive.rate * fastest) if fastest > 0 else math.inf, left)
        step = min(step, max(MIN_HOLD_S / 4, 0.2 * now)) if current < drive.target else step
        covering.grow(drive.rate * density, now, step)
        fronts = walk.grown(fronts, state.share, current * step)
        now, passed = now + step, passed + current * step
        yield _progress(now, covering.share, count)
    remaining_time = max(drive.charge - passed, 0.0) / current
    covering.grow(drive.rate * current * state.share.density, now, remaining_time)
    stages.append(Stage(current, now - since + remaining_time, covering.share, highest, covering.spread()))
    return _ramp(covering, stages, limited, held)


def _ramp(covering: Covering, stages: list[Stage], limited: str, held: str) -> Ramp:
    """The finished ramp."""
    return Ramp(
        stages=tuple(stages),
        limited=limited,
        covered_after=covering.covered_after,
        film=covering.film,
        held=held,
        milestones=covering.milestones(),
        last=covering.last(),
    )


def _progress(now: float, share: float, count: int) -> Step:
    """Where the ramp is: s since the start, the share that is covered, the steps that were taken."""
    minutes = f"{now / MINUTE:.0f}"
    sentence = filled("Covering the coat: {time} minutes, {share} covered", time=minutes, share=f"{share:.0%}")
    return Step(max(share, count / MAX_RAMP_STEPS), sentence)


def _rises(current: float, held: float, allowed: float, drive: Drive) -> bool:
    """Whether a current (A), held for a time (s), is raised to an allowed current (A)."""
    return (
        current < drive.target
        and held >= MIN_HOLD_S
        and allowed >= min(MIN_RAISE_RATIO * current, NEAR_TARGET_SHARE * drive.target)
    )
