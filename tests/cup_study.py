"""A made-up study of a cup whose figures are known, with every analysis that a plan reads."""

from __future__ import annotations

from functools import cache

import numpy as np

from addon.engine.findings import Code, Finding, Quantity, Severity
from addon.engine.chemistry import deposit
from addon.engine.trapping import gas
from addon.engine.printing import prepare
from addon.engine.coat.heat import WireAdvice
from addon.engine.coat.ramp import Stage
from addon.engine.coat.result import Bare, CoatResult, WirePlace
from addon.engine.field.result import Field, Spread
from addon.engine.geometry.location import locate
from addon.engine.hanging.balance import Balance
from addon.engine.hanging.mass import Body
from addon.engine.hanging.result import Hanging
from addon.engine.hanging.suggestion import Pair, Suggestion
from addon.engine.reasons import Reason, ReasonCode
from addon.engine.settings.job import read_job
from addon.engine.mesh.inspection import inspect
from addon.engine.trapping.narrow import NarrowOpenings, Opening
from addon.engine.progress import run_to_end
from addon.engine.study import Results, Study
from addon.engine.units import CM2, GRAM, ML, MM

import models

SETTINGS = {
    "part": {"file": "cup.stl"},
    "target": {"thickness_um": 30, "density_A_dm2": 2},
    "bath": {"name": "acid copper, bench mix"},
    "batch": {"volume_L": 0.5},
    "wire": [{"point_mm": [0, 11, -5]}],
}


def suggestion(up, **more):
    found = {
        "up": np.array(up, dtype=float),
        "euler": np.zeros(3),
        "trapped": 0.0,
        "dry": 0.0,
        "underside": 0.0,
        "held": 0.0,
        "fits": True,
        "slack": 0.05,
        "contact": None,
        "best": True,
        "reasons": (Reason(ReasonCode.TRAPS_NO_GAS),),
    }
    return Suggestion(**{**found, **more})


def hanging():
    body = Body(
        plastic=9 * GRAM,
        coat=1 * GRAM,
        centre=np.zeros(3),
        solid=8 * ML,
        wall=5 * ML,
        air=2 * ML,
        displaced=12 * ML,
        buoyancy=np.zeros(3),
    )
    pair = Pair(suggestion((1, 0, 0)), suggestion((-1, 0, 0)), 0.0, 6 * CM2, True)
    state = Balance(-4 * GRAM, np.zeros(3))
    return Hanging(
        body=body,
        start=state,
        end=state,
        deposit=0.01,
        ballast=5 * GRAM,
        rigid_wire=1.5 * MM,
        settles_up=None,
        suggestions=(suggestion((1, 0, 0), reasons=(Reason(ReasonCode.TRAPS_NO_GAS), Reason(ReasonCode.DRAINS))),),
        pair=pair,
        findings=(
            Finding(
                Code.FLOATS,
                Severity.SPOILS,
                {
                    Quantity.MASS: 4 * GRAM,
                    Quantity.BALLAST: 5 * GRAM,
                    Quantity.THICKNESS: 60e-6,
                    Quantity.DIAMETER: 1.5 * MM,
                },
                {"at_the_end": "floats"},
            ),
        ),
    )


BOUNDS = np.array([[-11, -11, -20], [11, 11, 1]]) * MM
WIRE = WirePlace(
    point=np.array((0, 11, 18)) * MM,
    normal=np.array((0, 1.0, 0)),
    pad=3 * MM,
    face=0,
    piece=0,
    current=0.69,
    place=locate(BOUNDS, (0, 0, 1), np.array((0, 11, 18)) * MM),
    suggested=True,
    second=np.array((0, -11, 18)) * MM,
    second_place=locate(BOUNDS, (0, 0, 1), np.array((0, -11, 18)) * MM),
)


def coated(surface):
    """A coat that loses much: one wire, two wanted, three steps to the full current."""
    none = np.zeros(len(surface.triangles))
    return CoatResult(
        wires=(WIRE,),
        pieces=1,
        unserved=0,
        drop=none,
        worst_drop=0.42,
        drop_at=np.zeros(3),
        coupled_drop=0.42,
        share=none,
        reach=0.02,
        drop_limit=0.05,
        wires_needed=2,
        safe_start=0.1,
        safe_reason=Reason(ReasonCode.WOULD_WARM),
        steps=(Stage(0.1, 120.0, 0.3, 0.52), Stage(0.35, 180.0, 1.0), Stage(0.69, 4000.0, 1.0)),
        covered_after=290.0,
        never_covered=np.array([0, 1]),
        heating=None,
        heating_full=None,
        wire=WireAdvice(current=0.69, diameter=0.5 * MM, gauge=24, rise=3.0, lost=0.03, wetted=0.02, takes=0.04),
        findings=(),
        never=(Bare(0.5 * CM2, locate(BOUNDS, (0, 0, 1), (0.0, 0.0, 0.0)), (0.0, 0.0, 0.0)),),
    )


def spread(surface):
    """A field that gives 12 um at the floor of the cup and 75 um at its rim; 0.44 V."""
    height = surface.centroid[:, 2]
    thickness = np.interp(height, [height.min(), height.max()], [75e-6, 12e-6])
    none = Spread(0, 0, 0, 0, 0)
    return Field(
        density=thickness,
        thickness=thickness,
        flag=np.zeros(len(height), dtype=np.int8),
        density_spread=none,
        thickness_spread=Spread(12e-6, 15e-6, 28e-6, 60e-6, 75e-6),
        bare_area=0.0,
        dull_area=2 * CM2,
        burnt_area=1 * CM2,
        uniformity=0.4,
        voltage=0.44,
        ohmic=0.1,
        polarization=0.3,
        coat=0.04,
        resistance=0.2,
        current=0.69,
        anode_current=0.69,
        thief_current=0.0,
        part_currents=(0.69,),
        anodes=(),
        anode_limit=200.0,
        wagner=0.5,
        time=4080.0,
        time_thinnest=10200.0,
        panels=1000,
        error=0.01,
        residual=1e-7,
    )


CUP = models.moved(models.cup(10, 20, 1), turn=np.diag([1, -1, -1]), scale=MM)


_inspected = {}  # of this process: id of a model -> the model, its part and surface


def inspected(model):
    """Part and surface of a model, made once."""
    if id(model) not in _inspected:
        part = models.part(model, name="cup")
        _inspected[id(model)] = model, part, run_to_end(inspect(part))
    return _inspected[id(model)][1:]


@cache
def trapped_and_held(surface, up, length):
    """Gas and liquid that stay, which many baths and coats have in common."""
    return tuple(run_to_end(find(surface, up, capillary_length=length)) for find in (gas.trapped, gas.held))


def study(settings=SETTINGS, slots=1, model=CUP, **results):
    """A cup 10 mm wide and 20 mm deep inside, its mouth down, with all analyses of these rooms."""
    job = read_job(settings)
    part, surface = inspected(model)
    trapped, held = trapped_and_held(surface, tuple(job.part.up), job.bath.capillary_length)
    slot = Opening("slot", 2 * MM, 6 * MM, 1 * CM2, np.zeros(3), np.array((0, -11, -5)) * MM, np.array([0]))
    found = {
        "deposit": deposit.estimate(surface, job.target, job.bath, job.supply, max(len(job.rack.positions), 1)),
        "gas": trapped,
        "drainage": held,
        "preparation": prepare.inspect(surface, job.print, job.target, job.coat),
        "hanging": hanging(),
        "coat": coated(surface),
        "field": spread(surface),
        "narrow": NarrowOpenings(4.6 * MM, 0.7 * MM, (slot,) * slots),
    }
    return Study(part, job, surface, Results(**{**found, **results}))
