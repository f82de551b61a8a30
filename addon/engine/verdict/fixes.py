"""Fixes: changes that the tool can make against a finding, as data; the suite applies them and checks again."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..coat import wiring
from ..errors import InputError
from ..field.cautions import DULL_DENSITY_MARGIN
from ..field.trials import Trial
from ..findings import BARE, Code, Finding, Quantity, RemedyCode, spot
from ..geometry.attitude import turn_up
from ..geometry.frames import unit
from ..hanging.mass import Body
from ..helpers import plug
from ..mesh.few_rays import FewRays
from ..settings import tables
from ..settings.bath import SAFE_LIMITING_SHARE
from ..study import Study, findings
from ..study.findings import shut_off
from ..tank.vessel import roomy
from ..units import GRAM_PER_ML
from .judge import MIN_POCKET_VOLUME_M3

MAX_REMAINING_SHARE = 0.5  # of the gas or liquid that is there: a hanging position that leaves more of it is no fix
SAME_DIRECTION_COS = math.cos(math.radians(1.0))
INFILL_STEP_SHARE = 0.05  # infill steps of a slicer's slider
SINKING_MASS_FACTOR = 1.01  # of the missing mass: a print that barely sinks would not stay down
DENSITY_LIMIT_FACTOR = 0.95  # of a limit
FINE_PANEL_COUNT = 40_000


class FixCode(Enum):
    """The kinds of fixes."""

    SCALE_IMPORT = "scale-import"
    USE_HANGING = "use-hanging"
    MARK_HOLES = "mark-holes"
    MAKE_PLUGS = "make-plugs"
    SET_WIRES = "set-wires"
    SET_COAT = "set-coat"
    SET_DENSITY = "set-density"
    SET_INFILL = "set-infill"
    SET_PLASTIC = "set-plastic"
    SET_TEMPERATURE = "set-temperature"
    SET_PANELS = "set-panels"
    ENLARGE_TANK = "enlarge-tank"
    TRY_LAYOUTS = "try-layouts"


@dataclass(frozen=True)
class Fix:
    """One change.

    value : SI: the factor of the scale, A/m2, share of infill, K, or a count
    number : which of the hanging positions; up : its direction, in the part's axes; name : of a plastic or a coat
    """

    code: FixCode
    value: float = 0.0
    number: int = 0
    up: tuple[float, float, float] | None = None
    name: str = ""


def fix(finding: Finding, study: Study) -> Fix | None:
    """The change that removes a finding of a study; None where the user has to decide or to do it by hand."""
    find = _FIXES.get(finding.code)
    return None if find is None else find(finding, study)


def follow_up(applied: Fix, before: Study, study: Study) -> Fix | None:
    """A second change that a fix needs, so that it brings no other fault: a part in another position gets its current
    in other places, and may burn where it did not before. before, study : of the part before and with the fix"""
    if applied.code not in (FixCode.USE_HANGING, FixCode.TRY_LAYOUTS):
        return None
    was = {finding.code for finding in findings.of_study(before)}
    burnt = (finding for finding in findings.of_study(study) if finding.code == Code.BURNT and finding.code not in was)
    return next((change for finding in burnt if (change := fix(finding, study)) is not None), None)


def brightest(study: Study) -> tuple[Trial, float] | None:
    """Of the layouts that were tried the most even one with which little stays dull, nothing burns and no anode is
    overloaded, and the mean density (A/m2) for it; None where none is so, or none was tried. The trials are coarse, and
    know no loss in the coat: the field of the part, computed again with it, has the last word."""
    tried, job = study.results.layouts, study.job
    limit = DENSITY_LIMIT_FACTOR * min(job.bath.window[1], job.bath.limiting)
    most = min(SAFE_LIMITING_SHARE * job.bath.limiting, job.supply.current / _fed_area(study))
    for trial in tried.trials if tried is not None else ():
        if trial.own or not trial.bright > 0:
            continue
        factor = max(1.0, DULL_DENSITY_MARGIN * job.bath.window[0] / trial.bright)
        loaded = factor * trial.load > job.bath.anode_limit
        if factor * trial.peak <= limit and factor * trial.density <= most and not loaded:
            return trial, factor * trial.density
    return None


def infill_that_sinks(body: Body, lacking: float) -> float | None:
    """The least infill, in whole steps, that makes a print sink; None where even a solid one floats, or the weight is
    unknown. lacking : kg that it is too light with the infill that it has"""
    core = body.solid - body.wall
    air = body.air - body.void  # m3 of the infill that is not plastic
    if not core > 0 or not air > 0:
        return None
    infill = 1.0 - air / core
    density = body.plastic / (body.wall + infill * core)
    needed = infill + SINKING_MASS_FACTOR * lacking / (density * core)
    steps = math.ceil(needed / INFILL_STEP_SHARE - 1e-9) * INFILL_STEP_SHARE
    return round(steps, 6) if steps <= 1.0 else None


def _scale(finding: Finding, _study: Study) -> Fix:
    return Fix(FixCode.SCALE_IMPORT, finding.quantities[Quantity.FACTOR])


def _other_hanging(volume: str) -> Callable[[Finding, Study], Fix | None]:
    """The best hanging position that leaves little of this volume and no more gas than there is, so that two fixes
    cannot undo each other; else markers where a hole would empty it."""

    def find(finding: Finding, study: Study) -> Fix | None:
        hanging = study.results.hanging
        now = np.asarray(study.hung.part.up, dtype=float)
        limit = MAX_REMAINING_SHARE * finding.quantities.get(Quantity.VOLUME, math.inf)
        gas = study.gas_as_hung
        most_gas = math.inf if gas is None else gas.trapped_volume + MIN_POCKET_VOLUME_M3
        for number, suggestion in enumerate(hanging.suggestions if hanging is not None else ()):
            other = float(suggestion.up @ now) < SAME_DIRECTION_COS * float(np.linalg.norm(now))
            if not suggestion.fits or not other or suggestion.trapped > most_gas:
                continue
            if getattr(suggestion, volume) <= limit:
                return Fix(FixCode.USE_HANGING, number=number, up=spot(suggestion.up))
        return Fix(FixCode.MARK_HOLES) if finding.remedy is not None and finding.remedy.places else None

    return find


def _best_hanging(_finding: Finding, study: Study) -> Fix | None:
    hanging = study.results.hanging
    best = hanging.suggestions[:1] if hanging is not None else ()
    return Fix(FixCode.USE_HANGING, up=spot(best[0].up)) if best else None


def _floats(finding: Finding, study: Study) -> Fix | None:
    hanging = study.results.hanging
    if hanging is None or hanging.body is None:
        return None
    infill = infill_that_sinks(hanging.body, finding.quantities[Quantity.MASS])
    return None if infill is None else Fix(FixCode.SET_INFILL, infill)


def _wires(finding: Finding, _study: Study) -> Fix:
    return Fix(FixCode.SET_WIRES, finding.quantities[Quantity.NEEDED_WIRES])


def _wires_on_pieces(finding: Finding, study: Study) -> Fix | None:
    """Wires on the pieces of coat that lack one, as many as the coat needs; loose ones must be mended in the model."""
    remedy, coat = finding.remedy, study.results.coat
    if remedy is None or remedy.code != RemedyCode.ADD_WIRES:
        return None
    needed = coat.wires_needed if coat is not None else None
    return Fix(FixCode.SET_WIRES, float(needed or remedy.quantities[Quantity.WIRES]))


def _better_coat(_finding: Finding, study: Study) -> Fix | None:
    """A coat of the table that a number of wires is enough for."""
    contacts = study.results.contacts
    name = None if contacts is None else wiring.sufficient_coat(study.surface, study.job, contacts)
    return None if name is None else Fix(FixCode.SET_COAT, name=name)


def _plugs(finding: Finding, study: Study) -> Fix | None:
    """Plugs, where most of the bare area lies in holes that waste current."""
    fits = study.results.fits
    if fits is None or study.results.plugs is not None:
        return None
    try:
        plugs = plug.find(study.surface, FewRays(study.surface), study.job, study.results.field, fits.round_faces)
    except InputError:
        return None  # there is no such hole
    return Fix(FixCode.MAKE_PLUGS, float(len(plugs.plugs))) if shut_off(finding, study, plugs.faces) else None


def _remedied_density(finding: Finding, _study: Study) -> Fix | None:
    remedy = finding.remedy
    if remedy is None or remedy.code == RemedyCode.LARGER_SUPPLY:
        return None
    return Fix(FixCode.SET_DENSITY, remedy.quantities[Quantity.DENSITY])


def _supply_density(finding: Finding, study: Study) -> Fix | None:
    """The mean density (A/m2) that the supply can feed."""
    return _density(finding.quantities[Quantity.DENSITY], study)


def _drawn_density(finding: Finding, study: Study) -> Fix | None:
    quantities = finding.quantities
    share = DENSITY_LIMIT_FACTOR * quantities[Quantity.SUPPLY_CURRENT] / quantities[Quantity.CURRENT]
    return _density(share * study.job.target.density, study)


def _anode_density(finding: Finding, study: Study) -> Fix | None:
    quantities = finding.quantities
    share = DENSITY_LIMIT_FACTOR * quantities[Quantity.LIMIT_DENSITY] / quantities[Quantity.DENSITY]
    return _density(share * study.job.target.density, study)


def _burnt_density(_finding: Finding, study: Study) -> Fix | None:
    """The mean density (A/m2) at which the densest place stays below the bath's limit."""
    field, bath = study.results.field, study.job.bath
    if field is None:
        return None
    limit = min(bath.window[1], bath.limiting)
    return _density(DENSITY_LIMIT_FACTOR * study.job.target.density * limit / field.density_spread.max, study)


def _brighter_density(finding: Finding, study: Study) -> Fix | None:
    """So high that most of the area is in the bath's range, where the supply gives that and nothing burns; else layouts
    to try, until none that was tried helps."""
    remedy, tried = finding.remedy, study.results.layouts is not None
    if remedy is not None and remedy.code == RemedyCode.MOVE_ANODE and study.job.supply.hold is None:
        return None if tried and brightest(study) is None else Fix(FixCode.TRY_LAYOUTS)
    if remedy is None or remedy.code != RemedyCode.RAISE_DENSITY:
        return None
    return _density(remedy.quantities[Quantity.DENSITY], study)


def _fed_area(study: Study) -> float:
    """m2 that the supply feeds: of all parts."""
    field = study.results.field
    copies = len(field.part_currents) if field is not None else 1
    return copies * float(study.surface.plated_area.sum())


def _density(density: float, study: Study) -> Fix | None:
    """A fix that sets a mean density; None where it is below the bath's range, or where a held voltage sets it."""
    low, held = study.job.bath.window[0], study.job.supply.hold is not None
    return Fix(FixCode.SET_DENSITY, density) if density >= low and not held else None


def _plastic(finding: Finding, study: Study) -> Fix | None:
    """One that stays hard, and that a solid print sinks in, where there is one."""
    named = [name for name in finding.names.get("plastics", "").split(", ") if name]
    sinking = study.job.bath.density / GRAM_PER_ML
    heavy = (name for name in named if float(tables.plastic(name)["density_g_mL"]) > sinking)
    chosen = next(heavy, named[0] if named else "")
    return Fix(FixCode.SET_PLASTIC, name=chosen) if chosen else None


def _temperature(finding: Finding, _study: Study) -> Fix:
    """The nearest temperature at which the bath works well."""
    quantities = finding.quantities
    low, high = quantities[Quantity.LOW_TEMPERATURE], quantities[Quantity.HIGH_TEMPERATURE]
    return Fix(FixCode.SET_TEMPERATURE, float(np.clip(quantities[Quantity.TEMPERATURE], low, high)))


def _panels(_finding: Finding, study: Study) -> Fix | None:
    return Fix(FixCode.SET_PANELS, FINE_PANEL_COUNT) if study.job.effort.panels < FINE_PANEL_COUNT else None


def _larger_tank(finding: Finding, study: Study) -> Fix | None:
    """A larger tank, where the thickness has no result and the part has no room."""
    surface, job = study.surface, study.job
    if finding.names["result"] != "field" or job.tank.shape != "box":
        return None
    extent = np.ptp(surface.points[np.unique(surface.triangles)] @ turn_up(unit(study.hung.part.up)).T, axis=0)
    return Fix(FixCode.ENLARGE_TANK) if roomy(extent, job.tank) != job.tank else None


_FIXES: Mapping[Code, Callable[[Finding, Study], Fix | None]] = {
    Code.WRONG_SCALE: _scale,
    Code.GAS_TRAPPED: _other_hanging("trapped"),
    Code.GAS_LIFTS: lambda f, s: Fix(FixCode.MARK_HOLES),
    Code.BETTER_WAY_UP: _best_hanging,
    Code.LIQUID_HELD: _other_hanging("held"),
    Code.FLOATS: _floats,
    Code.WIRES_TOO_FEW: _wires,
    Code.COAT_UNWIRED: _wires_on_pieces,
    Code.COAT_TOO_POOR: _better_coat,
    **dict.fromkeys(BARE, _plugs),
    Code.BELOW_WINDOW: _remedied_density,
    Code.ABOVE_WINDOW: _remedied_density,
    Code.NEAR_LIMITING: _remedied_density,
    Code.SUPPLY_TOO_SMALL: _supply_density,
    Code.DRAW_TOO_LARGE: _drawn_density,
    Code.COAT_LIMITS_CURRENT: lambda f, s: _density(f.quantities[Quantity.DENSITY], s),
    Code.ANODE_OVERLOADED: _anode_density,
    Code.DULL: _brighter_density,
    Code.BURNT: _burnt_density,
    Code.PLASTIC_SOFT: _plastic,
    Code.BATH_TEMPERATURE: _temperature,
    Code.FIELD_UNSURE: _panels,
    Code.NOT_COMPUTED: _larger_tank,
}
