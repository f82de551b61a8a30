"""Studies that together make a plan say nearly everything that it can say: the cup, with what the others lack made up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np

from addon.engine.coat.contact import Contact
from addon.engine.field.rack import RackPlan, Spacing
from addon.engine.field.trials import Comparison, Layout, LayoutKind, Remark, RemarkCode, Trial
from addon.engine.findings import Quantity as Of
from addon.engine.hanging.suggestion import Pair
from addon.engine.printing.fits import Fit, FitKind
from addon.engine.printing.orientation import Direction, Orientation
from addon.engine.printing.steps import Region, Sanding
from addon.engine.purpose.propose import Limit, Proposal
from addon.engine.reasons import Reason, ReasonCode
from addon.engine.reporting.plan_purpose import WORTH
from addon.engine.study import Results, Study
from addon.engine.trapping import gas
from addon.engine.trapping.hole import Hole, HoleKind as HoleKind
from addon.engine.units import CM2, MINUTE, ML, MM

from cup_study import SETTINGS, WIRE, hanging, study, suggestion

NONE = np.zeros(0, dtype=np.intp)
CODES = tuple(ReasonCode)
EFFECTS = CODES[CODES.index(ReasonCode.JOB_AS_SET) :]  # what a layout does
AT = np.array((0, 11.5, -5)) * MM


def variants() -> Iterator[tuple[str, Study]]:
    """Name -> study."""
    yield "cup", study()
    yield from _other_jobs()
    yield from _coats()
    yield from _wires()
    yield from _hung()
    yield from _gas()
    yield from _field()
    yield from _asked_for()
    yield "nothing", replace(study(), results=Results(), reasons={})


def _job(**sections: Any) -> Study:
    return study({**SETTINGS, **sections})


def _other_jobs() -> Iterator[tuple[str, Study]]:
    for bath in ("acid copper, decorative", "acid copper, high throw", "nickel, Watts", "nickel, sulfamate"):
        yield bath, _job(bath={"name": bath}, part={"material": "ABS"})
    yield "stopped", _job(bath={"name": "nickel, Watts"})
    yield "weak", _job(bath={"name": "acid copper, high throw"}, batch={"acid_percent": 15})
    yield "held", _job(supply={"hold_V": 0.5})
    measured = {"area_cm2": 10, "gap_mm": 50, "current_A": [0.1, 0.5], "voltage_V": [0.2, 0.9]}
    yield "measured", _job(bath={"name": "acid copper, bench mix", "measured": measured})
    laws = {"kinetics": {"kind": "linear", "resistance_ohm_m2": 1e-3}, "anode_kinetics": {"kind": "butler-volmer"}}
    yield "laws", _job(bath={"name": "acid copper, bench mix", **laws})
    yield "copies", _job(rack={"positions_mm": [[-50, 0, 110], [50, 0, 110]]})
    yield "turned", _job(place={"half_turn": True})
    yield "cylinder", _job(tank={"shape": "cylinder", "size_mm": [200, 200, 200], "level_mm": 180})
    yield "open", _job(tank={"shape": "open"})


def _coats() -> Iterator[tuple[str, Study]]:
    for coat in ("none (metal part)", "graphite lacquer", "zinc-rich primer", "copper paint", "silver paint"):
        yield coat, _job(coat={"name": coat})
    whole = study()
    shown = np.zeros(len(whole.surface.triangles), dtype=bool)
    shown[::2] = True
    surface = replace(whole.surface, plated=whole.surface.plated & ~shown, show=whole.surface.plated & shown)
    yield "masked", replace(whole, surface=surface)


def _wires() -> Iterator[tuple[str, Study]]:
    whole = study()
    results = whole.results
    without = replace(results, coat=None, field=None)
    contact = Contact(AT, np.array((0, 1.0, 0)), 0, 0, 0.4, False, WIRE.place, (Reason(ReasonCode.IN_VIEW),))
    contacts = SimpleNamespace(ranked=(contact, contact), best=(contact, contact), pieces=2)
    bare = replace(whole, job=replace(whole.job, wires=()))
    yield "suggested wires", replace(bare, results=replace(without, contacts=contacts))
    yield "no wires known", replace(bare, results=without)
    yield "wires of the job", replace(whole, results=without)
    for name, count in (("two wires", 2), ("many wires", 5)):
        coat = replace(results.coat, wires=(WIRE,) * count, wires_needed=count, milestones=(180.0, 600.0))
        yield name, replace(whole, results=replace(results, coat=coat))
    left = replace(WIRE, second=None, second_place=None)
    timid = replace(results.coat, wires=(left,), steps=results.coat.steps[-1:], milestones=(None, 900.0))
    yield "a mark", replace(whole, results=replace(results, coat=timid))


def _hung() -> Iterator[tuple[str, Study]]:
    whole, found = study(), hanging()
    kept = SimpleNamespace(points=(AT, AT), tether=False, wires=2)
    second = suggestion((-1, 0, 0), hold=kept)
    pair = Pair(suggestion((0, 0, 1)), second, 1 * CM2, 6 * CM2, True)
    both = replace(found, pair=pair, suggestions=(suggestion((0, 0, 1)), suggestion((0.5, 0, -1))))
    yield "two ways", replace(whole, results=replace(whole.results, hanging=both))
    tied = replace(suggestion((1, 0, 0)), hold=SimpleNamespace(points=(AT,), tether=True, wires=1))
    flexible = replace(found, rigid_wire=None, suggestions=(tied,), pair=None, fill_up=np.array((0, 1.0, 0.2)))
    yield "ballast", replace(whole, results=replace(whole.results, hanging=flexible))
    light = replace(found, rigid_wire=None, ballast=0.0, pair=None)
    yield "heavy", replace(whole, results=replace(whole.results, hanging=light))


def _gas() -> Iterator[tuple[str, Study]]:
    whole = study(slots=9)
    results = whole.results
    pocket = results.gas.pockets[0]
    many = replace(results.gas, pockets=(pocket,) * 40, level_underside_area=3 * CM2)
    held = replace(results.drainage, pools=(gas.Pool.of(pocket),) * 40, held_volume=40 * ML)
    hole = Hole(HoleKind.VENT, AT, AT, AT * 1.1, AT * 1.2, 4 * MM, 1 * ML, True)
    vents = SimpleNamespace(holes=(hole,))
    yield "gas", replace(whole, results=replace(results, gas=many, drainage=held, vents=vents))
    for name in ("gas", "drainage", "deposit", "preparation", "narrow", "hanging"):
        yield f"no {name}", replace(whole, results=results.without(name), reasons={name: "left out"})
    preview = SimpleNamespace(hidden_area=3 * CM2)
    yield "preview", replace(whole, results=replace(results, field=None, openness=preview))
    preview = SimpleNamespace(hidden_area=0.0)
    yield "open preview", replace(whole, results=replace(results, field=None, coat=None, openness=preview))


def _field() -> Iterator[tuple[str, Study]]:
    whole = study()
    field = whole.results.field
    dead = replace(field, time_thinnest=10 * field.time, dull_area=0.0)
    even = replace(field, time_thinnest=field.time, burnt_area=0.0, thickness=field.thickness / 2)
    none = replace(field, thickness_spread=replace(field.thickness_spread, min=0.0, p5=0.0))
    for name, one in (("dead", dead), ("even", even), ("bare", none)):
        yield name, replace(whole, results=replace(whole.results, field=one))


def _asked_for() -> Iterator[tuple[str, Study]]:
    whole = study()

    def having(**results: Any) -> Study:
        return replace(whole, results=replace(whole.results, **results))

    kinds = ("look", "shielding", "stiffness", "heat", "mass", "wear", "strength", "look", "strength")
    for kind, limit in zip(kinds, Limit, strict=True):
        worth = dict.fromkeys(WORTH, 12.5)
        needed = None if kind == "mass" else 30e-6
        yield kind, having(purpose=Proposal(kind, needed, 45e-6, limit, worth, ()))
    for enough in (True, False):
        each = np.array((0.95, 1.05))
        best = Spacing(20 * MM, np.zeros((2, 3)), each, each * 0.9, 0.1, 1.4, 0.5)
        yield f"rack {enough}", having(rack=RackPlan(2, 0.1, (best,), best, enough, 3, 1, 0.7))
    alike = Spacing(20 * MM, np.zeros((2, 3)), np.ones(2), np.full(2, 0.9), 0.1, 1.4, 0.5)
    yield "rack alike", having(rack=RackPlan(2, 0.1, (alike,), alike, True, 3, 1, 0.7))
    yield "fits", having(fits=SimpleNamespace(**_fits()), orientation=_orientation())
    quantities = {Of.HIGH_DENSITY: 300.0, Of.LIMIT_DENSITY: 200.0, Of.SHARE: 0.2}
    effects = tuple(Reason(code, quantities) for code in EFFECTS)
    trial = Trial(Layout(LayoutKind.RING), effects, 0.4, 0.5, 200.0, 90 * MINUTE, 200 * MINUTE, 0.5)
    one_side = replace(trial, layout=Layout(LayoutKind.ONE_SIDE, gap=20 * MM, half_turn=True))
    gone = [
        replace(trial, layout=Layout(LayoutKind.WITHOUT_BODIES, without=names)) for names in (("hoop",), ("a", "b"))
    ]
    own = replace(trial, layout=Layout(LayoutKind.AS_SET), shares=(0.9, 1.1), uniformity=0.0)
    remarks = tuple(Remark(code) for code in RemarkCode)
    yield "layouts", having(layouts=Comparison((trial, one_side, *gone, own), remarks))
    kinds = [kind for kind in LayoutKind if kind not in (LayoutKind.AS_SET, LayoutKind.WITHOUT_BODIES)]
    for some in (kinds[:5], kinds[5:]):
        yield (
            f"layouts {some[0].value}",
            having(layouts=Comparison(tuple(replace(trial, layout=Layout(kind)) for kind in some), ())),
        )
    for lashed in (True, False):
        yield f"hanger {lashed}", having(**_helpers(lashed))
    caged = _helpers(False)
    caged["hanger"].cage = SimpleNamespace(bars=4, shift=1 * MM, play=0.5 * MM, turn=0.2)
    yield "hanger caged", having(**caged)
    yield "printed", having(**_printed())


def _fits() -> dict[str, Any]:
    fits = tuple(
        Fit(kind, AT, AT, (3 + n) * MM, 8 * MM, 3 * MM, (2.8 * MM, 2.9 * MM), 3.2 * MM, (1e-5, 5e-5), plated, pitch)
        for n, (kind, plated, pitch) in enumerate(
            zip(FitKind, (1.0, 1.0, 0.0, 1.0), (0, 0, 1 * MM, 1 * MM), strict=True)
        )
    )
    same = replace(fits[0], diameter=9 * MM, finished=(9 * MM, 9 * MM), model=9 * MM)
    sizes = [(fits[0], 1), (fits[1], 3), (fits[2], 1), (fits[3], 2), (same, 2), *[(same, 1)] * 10]
    return {"fits": fits, "local": True, "affected": fits, "sizes": lambda: sizes}


def _orientation() -> Orientation:
    def direction(effort: float) -> Direction:
        return Direction(np.array((0, 0.6, 0.8)), 1e-4, 2e-4, 3 * CM2, 2 * CM2, 1 * CM2, 0.0, 40 * MM, 0.0, effort)

    sanding = Sanding((Region(2 * CM2, 4e-5, 1e-9, AT, WIRE.place, NONE),), 2 * CM2, 1e-9, 2e-5, 5e-5)
    return Orientation((direction(1e-9),), direction(5e-9), sanding)


def _helpers(lashed: bool) -> dict[str, Any]:
    tips = np.zeros((3 if lashed else 2, 3))
    hanger = SimpleNamespace(
        plastic="PETG",
        own_wire=lashed,
        wire_diameter=0.5 * MM,
        wire=AT,
        tips=tips,
        pull=0.05,
        lashed=lashed,
        on_rods=lashed,
        rod=6 * MM,
        cage=None,
    )
    plug = SimpleNamespace(plastic="PETG", top=6 * MM, hole=5 * MM, mouth=AT)
    return {"hanger": hanger, "plugs": SimpleNamespace(plugs=(plug,) * (2 if lashed else 1))}


def _printed() -> dict[str, Any]:
    made = SimpleNamespace(plastic="PETG", bodies=2, floats=True)
    frame = {"printed": made, "rods": 80 * MM, "rod": 6 * MM}
    return {
        "rack_holder": SimpleNamespace(**frame),
        "anode_holder": SimpleNamespace(printed=made, plates=("left", "right")),
        "shield": SimpleNamespace(**frame, places=(15 * MM, 20 * MM)),
        "thief": SimpleNamespace(**frame, wire=1 * MM, length=0.3, share=0.1, times=1 / 0.9),
    }
