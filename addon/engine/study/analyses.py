"""Every question that a study answers: what it reads, which results it needs, and the room that knows.

This registry is the only place where a result and a section of the job are named by a string.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..chemistry import deposit
from ..coat import contact
from ..coat import study as coat
from ..coat.result import CoatResult
from ..errors import InputError
from ..faraday import METALS
from ..field import cut, layouts, rack, ranges
from ..field import solve as field_room
from ..field.problem import Control, NotSolvedError
from ..field.ranges import Ranges
from ..field.result import SAME_CURRENT, Field
from ..field.solved import Solved
from ..hanging import hung as hung_way
from ..hanging import suggest as hanging
from ..hanging.fit import anode_directions
from ..hanging.hold import Spots
from ..hanging.mass import Printed
from ..helpers import hanger as hangers
from ..helpers import plug, shade
from ..mesh.tracer import Tracer
from ..printing import fits, orientation, prepare
from ..progress import Progress, subrange
from ..purpose import propose
from ..settings import tables
from ..settings.job import Job
from ..tank import vessel
from ..tank.arrange import arrange
from ..trapping import gas, narrow, vents
from ..units import GRAM_PER_ML
from ..visibility import openness
from . import printed
from .printed import losses
from .study import LEFT_OUT, Study

LIGHTEST_METAL_KG_M3 = 2700.0  # aluminum (CRC Handbook, from memory): which metal a part is of, nobody says


@dataclass(frozen=True)
class Analysis:
    """One question.

    name : the field of `Results` that it fills
    sections : sections of the job that it reads, or single fields of them: "effort.rays"
    inputs : analyses whose results it reads, which are asked for with it; where one has no result it must do without
    run : (study so far, tracer) -> result, or a generator of steps that returns it
    weight : share of the progress bar
    optional_inputs : analyses whose results it reads where they are there; too dear to be asked for with it
    on_demand : whether it runs only where it is asked for by name
    """

    name: str
    sections: tuple[str, ...]
    inputs: tuple[str, ...]
    run: Callable[[Study, Tracer], object]
    weight: float = 1.0
    optional_inputs: tuple[str, ...] = ()
    on_demand: bool = False


def _deposit(study: Study, tracer: Tracer) -> deposit.Deposit:
    job = study.job
    return deposit.estimate(study.surface, job.target, job.bath, job.supply, copies(job))


def _gas(study: Study, tracer: Tracer) -> Progress[gas.Gas]:
    return gas.trapped(study.surface, study.job.part.up, capillary_length=study.job.bath.capillary_length)


def _drainage(study: Study, tracer: Tracer) -> Progress[gas.Drainage]:
    return gas.held(study.surface, study.job.part.up, capillary_length=study.job.bath.capillary_length)


def _gas_hung(study: Study, tracer: Tracer) -> gas.Gas | Progress[gas.Gas]:
    up = study.hung.part.up
    if study.results.gas is not None and not study.turned:
        return study.results.gas
    return gas.trapped(study.surface, up, capillary_length=study.job.bath.capillary_length)


def _drainage_hung(study: Study, tracer: Tracer) -> gas.Drainage | Progress[gas.Drainage]:
    up = study.hung.part.up
    if study.results.drainage is not None and not study.turned:
        return study.results.drainage
    return gas.held(study.surface, up, capillary_length=study.job.bath.capillary_length)


def _vents(study: Study, tracer: Tracer) -> Progress[vents.Vents]:
    gas_found, drainage, seen = study.gas_as_hung, study.drainage_as_hung, study.results.openness
    if gas_found is None or drainage is None:
        raise InputError(study.reasons.get("gas") or study.reasons.get("drainage") or "gas was not computed")
    return vents.holes(
        study.surface,
        tracer,
        gas_found,
        drainage,
        capillary_length=study.job.bath.capillary_length,
        sight=None if seen is None else seen.openness,
        contacts=study.contact_places,
    )


def _narrow(study: Study, tracer: Tracer) -> Progress[narrow.NarrowOpenings]:
    return narrow.openings(study.surface, tracer, capillary_length=study.job.bath.capillary_length)


def _openness(study: Study, tracer: Tracer) -> Progress[openness.Openness]:
    return openness.survey(study.surface, rays=study.job.effort.rays)


def _contacts(study: Study, tracer: Tracer) -> Progress[contact.Contacts]:
    job = study.hung
    seen, kept_dry = study.results.openness, study.gas_as_hung
    return contact.rank(
        study.surface,
        up=job.part.up,
        sheet_resistance=coat.at_start(job),
        density=job.target.density,
        openness=seen.openness if seen else None,
        dry=kept_dry.face if kept_dry else None,
    )


def _coat(study: Study, tracer: Tracer) -> Progress[CoatResult]:
    found = study.results.field_at_target
    contacts = study.results.contacts
    return coat.run(
        study.surface,
        study.in_tank,
        contacts=contacts,
        density=found.density if found else None,
        most=found.part_currents[0] if found and found.limited_by_voltage else None,
        meshes=study.bodies,
        level=found.level if found else None,
    )


def _field_at_target(study: Study, tracer: Tracer) -> Progress[Field]:
    lost = yield from subrange(0.0, 0.05, losses(study))
    run = field_room.run(study.surface, study.in_tank, meshes=study.bodies, wire_drop=lost)
    return (yield from subrange(0.05, 1.0, run))


def _field(study: Study, tracer: Tracer) -> Field | Progress[Field]:
    """That of the target, or of as much of it as the coat bears, with the wires that the coat was given."""
    wanted, coated, contacts = study.results.field_at_target, study.results.coat, study.results.contacts
    if wanted is None:
        raise NotSolvedError(study.reasons.get("field_at_target", LEFT_OUT), study.refusals.get("field_at_target", ()))
    if coated is None or contacts is None or study.job.supply.hold is not None:
        return wanted  # a voltage that is held is held from the start, whatever the coat
    most = (coated.full_current or np.inf) * len(wanted.part_currents)
    slower = most < (1.0 - SAME_CURRENT) * sum(wanted.part_currents)
    if not slower and not coated.retried:
        return wanted
    return _at_current(study, contacts, wanted, coated, min(most, sum(wanted.part_currents)))


def _at_current(
    study: Study, contacts: contact.Contacts, wanted: Field, coated: CoatResult, current: float
) -> Progress[Field]:
    surface, job = study.surface, study.in_tank
    lost = yield from subrange(0.0, 0.2, coat.half_grown(surface, job, contacts, coated.pads))
    again = field_room.at_current(surface, job, wanted, current, meshes=study.bodies, wire_drop=lost)
    return (yield from subrange(0.2, 1.0, again))


def _ranges(study: Study, tracer: Tracer) -> Progress[Ranges]:
    return ranges.run(study.surface, study.job, study.results.field)


def _potential(study: Study, tracer: Tracer) -> Progress[Solved]:
    lost = yield from subrange(0.0, 0.05, losses(study))
    job, field = study.in_tank, study.results.field
    if field is not None and field.control == Control.COAT:
        density = sum(field.part_currents) / len(field.part_currents) / float(study.surface.plated_area.sum())
        job = replace(job, target=replace(job.target, density=density))
    run = field_room.solved(study.surface, job, meshes=study.bodies, wire_drop=lost, level="preview")
    return (yield from subrange(0.05, 1.0, run))


def _cut(study: Study, tracer: Tracer) -> Progress[cut.Cut]:
    solution = study.results.potential
    if solution is None:
        raise InputError(study.reasons["potential"])
    return cut.run(study.surface, solution, study.job.cut)


def _layouts(study: Study, tracer: Tracer) -> Progress[layouts.Comparison]:
    return layouts.compare(study.surface, study.in_tank, study.bodies)


def _hung(study: Study, tracer: Tracer) -> Progress[hung_way.Hung | None]:
    found = yield from _search(study, tracer, free=True)
    return hung_way.taken(found)


def _hanging(study: Study, tracer: Tracer) -> Progress[hanging.Hanging]:
    contacts, field, hung = study.results.contacts, study.results.field, study.results.hung
    used = _used(study)
    if hung is not None:
        found = hung.hanging
    else:
        points = [*used.points, *(one.point for one in (contacts.ranked if contacts else ()))]
        found = yield from _search(study, tracer, contacts=points, density=field.density if field else None)
    return hanging.on_wires(found, study.surface, tracer, used, study.job.hang.hook, study.job.bath.density)


def _used(study: Study) -> Spots:
    """Where the wires touch the part: those of the coat, or the best contacts while nobody knows how many it needs."""
    surface, coated, contacts = study.surface, study.results.coat, study.results.contacts
    wires = coated.wires if coated is not None else contacts.best if contacts is not None else ()
    faces = np.array([one.face for one in wires], dtype=np.intp)
    points = np.array([one.point for one in wires]).reshape(-1, 3)
    return Spots(points, surface.normal[faces], surface.show[faces])


def _search(
    study: Study,
    tracer: Tracer,
    *,
    contacts: Sequence[NDArray[np.float64]] = (),
    density: NDArray[np.float64] | None = None,
    free: bool = False,
) -> Progress[hanging.Hanging]:
    job, metal = study.job, study.results.deposit
    wires = [wire.point for wire in job.wires if wire.point is not None]
    solid = tables.plastic(job.part.material, "part.material")["density_g_mL"] * GRAM_PER_ML
    walls = study.bodies.get(job.tank.file) if job.tank.shape == "mesh" else None
    inside = None if walls is None else np.array([walls.points.min(axis=0), walls.points.max(axis=0)])
    if job.tank.assumed:  # it will be chosen for the way up that is taken, its plates along x
        inside = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]])
    return hanging.run(
        study.surface,
        tracer,
        Printed(
            walls=job.part.walls,
            infill=1.0 if job.is_metal else job.part.infill,
            plastic_density=LIGHTEST_METAL_KG_M3 if job.is_metal else solid,
            coat_thickness=job.coat.thickness,
            coat_density=job.coat.density,
        ),
        hanging.Immersion(metal.mass if metal else 0.0, job.bath.density, METALS[job.bath.metal].density),
        hanging.Wanted(
            directions=job.effort.directions,
            tank=job.fixed_tank,
            weights=job.hang,
            anodes=anode_directions(job, inside),
            contacts=np.array([*wires, *contacts]),
            wires=len(wires),
            density=density,
            own=job.part.up,
            free=free,
            bath_volume=partial(vessel.bath_volume, job) if job.tank.assumed else None,
        ),
    )


def _rack(study: Study, tracer: Tracer) -> Progress[rack.RackPlan]:
    wanted = study.job.rack
    if wanted.suggest < 2:
        raise InputError("rack.suggest: say how many copies are to hang in the tank, two or more")
    return rack.suggest(study.surface, study.in_tank, wanted.suggest, wanted.tolerance, study.bodies)


def _hanger(study: Study, tracer: Tracer) -> Progress[hangers.Hanger]:
    hanging, contacts, coated = study.results.hanging, study.results.contacts, study.results.coat
    if hanging is None:
        raise InputError(study.reasons["hanging"])
    job, surface = study.in_tank, study.surface
    walls = study.bodies.get(job.tank.file) if job.tank.shape == "mesh" else None
    rim = hangers.rim(job, None if walls is None else float(walls.points[:, 2].max()))
    pose = arrange(surface, job, study.bodies).poses[0]
    ranked = [one.point for one in (contacts.ranked if contacts else ())]
    planned = [wire.point for wire in coated.wires] if coated else [w.point for w in job.wires if w.point is not None]
    held = [one.hold.points for one in hanging.suggestions[:1] if one.hold is not None and not one.hold.tether]
    seen, gas_found, drainage = study.results.openness, study.gas_as_hung, study.drainage_as_hung
    vented = [pocket.vent for pocket in (gas_found.pockets if gas_found else ())]
    vented += [pool.drain for pool in (drainage.pools if drainage else ())]
    places = hangers.Places(
        np.array(planned or ranked[:1]).reshape(-1, 3),
        np.concatenate([np.array(ranked).reshape(-1, 3), *held]),
        seen.openness if seen else None,
        np.array(vented).reshape(-1, 3),
        coated.wire.diameter if coated else hangers.USUAL_WIRE,
    )
    made = hangers.run(surface, tracer, job, pose, hanging, places, rim)
    if gas_found is None:
        return made
    return (yield from shade.with_gas(surface, made, gas_found, job.bath.capillary_length))


def _hanger_shade(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    made, alone = study.results.hanger, study.results.field_at_target  # of the same current
    if made is None or alone is None:
        raise InputError(study.reasons.get("hanger") or study.reasons.get("field_at_target") or "left out")
    lost = yield from subrange(0.0, 0.05, losses(study))
    return (yield from subrange(0.05, 1.0, shade.run(study.surface, study.in_tank, made, alone, study.bodies, lost)))


def _plugs(study: Study, tracer: Tracer) -> plug.Plugs:
    return plug.find(study.surface, tracer, study.job, study.results.field)


def _plugged(study: Study, tracer: Tracer) -> Progress[plug.Plugged]:
    made, alone = study.results.plugs, study.results.field
    if made is None or alone is None:
        raise InputError(study.reasons.get("plugs") or study.reasons.get("field") or "left out")
    lost = yield from subrange(0.0, 0.05, losses(study))
    return (yield from subrange(0.05, 1.0, plug.run(study.surface, study.in_tank, made, alone, study.bodies, lost)))


def _preparation(study: Study, tracer: Tracer) -> prepare.Preparation:
    return prepare.inspect(study.surface, study.job.print, study.job.target, study.job.coat)


def _fits(study: Study, tracer: Tracer) -> Progress[fits.Fits]:
    return fits.find(study.surface, tracer, study.layer())


def _orientation(study: Study, tracer: Tracer) -> Progress[orientation.Orientation]:
    up = np.array(study.hung.part.up, dtype=np.float64)
    return orientation.search(study.surface, tracer, study.job.print, study.layer().mean, up)


def _purpose(study: Study, tracer: Tracer) -> propose.Proposal | None:
    field, hung = study.results.field, study.results.hanging
    mass = None if hung is None or hung.body is None else hung.body.mass
    return propose.propose(study.surface, study.job, None if field is None else field.thickness, mass)


_CAPILLARY = ("bath.density", "bath.surface_tension")
_COPIES = ("rack.positions", "rack.turns")
_HANGING = (
    *("part.up", "part.walls", "part.infill", "part.material", "bath.density", "fixed_tank", "coat", "wires", "hang"),
    *("bath.metal", "anodes", "place.centre", "effort.directions"),
)
HUNG = ("hung", "gas_hung", "drainage_hung")  # run only where the part is to hang as recommended
_CELL = (
    *("part.up", "target", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES, "supply"),
    *("coat.name", "coat.sheet_resistance", "wires", "effort.panels"),
)
_STANDS = (
    *("part.up", "part.material", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES),
    "hanger",
)

ANALYSES: tuple[Analysis, ...] = (
    Analysis("deposit", ("target", "bath", "supply", "rack.positions"), (), _deposit, 0.1),
    Analysis("gas", ("part.up", *_CAPILLARY), (), _gas, 1.0),
    Analysis("drainage", ("part.up", *_CAPILLARY), (), _drainage, 1.0),
    Analysis("hung", _HANGING, ("deposit",), _hung, 10.0, on_demand=True),
    Analysis(
        "gas_hung",
        ("part.up", *_CAPILLARY),
        ("hung",),
        _gas_hung,
        1.0,
        optional_inputs=("gas",),
        on_demand=True,
    ),
    Analysis(
        "drainage_hung",
        ("part.up", *_CAPILLARY),
        ("hung",),
        _drainage_hung,
        1.0,
        optional_inputs=("drainage",),
        on_demand=True,
    ),
    Analysis("narrow", _CAPILLARY, (), _narrow, 2.0),
    Analysis("openness", ("effort.rays",), (), _openness, 5.0),
    Analysis(
        "contacts",
        ("part.up", "target.density", "coat.name", "coat.sheet_resistance", "bath.metal"),
        ("gas", "openness"),
        _contacts,
        5.0,
        optional_inputs=("hung", "gas_hung"),
    ),
    Analysis(
        "field_at_target",
        _CELL,
        (),
        _field_at_target,
        30.0,
        optional_inputs=("hung", "contacts"),
        on_demand=True,
    ),
    Analysis(
        "coat",
        (
            *("part.up", "part.material", "target", "bath", "tank", "anodes", "shields", "thieves", "place"),
            *_COPIES,
            *("coat", "wires", "supply", "effort.panels"),
        ),
        ("contacts",),
        _coat,
        8.0,
        optional_inputs=("hung", "field_at_target"),
    ),
    Analysis(
        "vents",
        (*_CAPILLARY, "wires"),
        ("gas", "drainage"),
        _vents,
        0.5,
        optional_inputs=("hung", "gas_hung", "drainage_hung", "openness", "contacts", "coat"),
    ),
    Analysis("field", ("supply.hold",), ("field_at_target",), _field, 3.0, optional_inputs=("contacts", "coat")),
    Analysis("ranges", ("target", "bath", "supply"), ("field",), _ranges, 6.0),
    Analysis(
        "hanging",
        _HANGING,
        ("deposit", "contacts"),
        _hanging,
        10.0,
        optional_inputs=("hung", "field", "coat"),
    ),
    Analysis("preparation", ("print", "target", "coat"), (), _preparation, 0.1),
    Analysis("fits", ("target.thickness", "coat.thickness"), (), _fits, 2.0, optional_inputs=("field", "ranges")),
    Analysis(
        "orientation",
        ("part.up", "print", "target.thickness", "coat.thickness"),
        (),
        _orientation,
        2.0,
        optional_inputs=("hung", "field"),
    ),
    Analysis(
        "purpose",
        (
            *("target.thickness", "target.purpose", "target.polish", "target.frequency", "target.shielding"),
            *("target.stiffness", "target.conductance", "target.mass", "bath.metal"),
            *("part.material", "part.walls", "part.infill"),
        ),
        (),
        _purpose,
        0.2,
        optional_inputs=("field", "hanging"),
        on_demand=True,
    ),
    Analysis(
        "layouts",
        ("part.up", "target", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES, "effort.panels"),
        (),
        _layouts,
        20.0,
        optional_inputs=("hung",),
        on_demand=True,
    ),
    Analysis(
        "rack",
        (
            "part.up",
            "target.density",
            "bath",
            "tank",
            "anodes",
            "shields",
            "thieves",
            "place",
            "supply.current",
            "rack.suggest",
            "rack.tolerance",
        ),
        (),
        _rack,
        25.0,
        optional_inputs=("hung",),
        on_demand=True,
    ),
    Analysis(
        "hanger",
        (
            *("part.up", "part.material", "target.density", "bath", "tank", "anodes", "shields", "thieves", "place"),
            *_COPIES,
            *("wires", "hanger"),
        ),
        ("hanging", "contacts"),
        _hanger,
        3.0,
        optional_inputs=("hung", "coat", "openness", "gas", "gas_hung", "drainage", "drainage_hung"),
        on_demand=True,
    ),
    Analysis(
        "hanger_shade",
        _CELL[1:],
        ("hanger", "field_at_target"),
        _hanger_shade,
        30.0,
        optional_inputs=("contacts",),  # the way up is that of the hanger
        on_demand=True,
    ),
    Analysis(
        "plugs",
        ("part.material", "bath.temperature", "coat.thickness"),
        (),
        _plugs,
        0.5,
        optional_inputs=("field",),
        on_demand=True,
    ),
    Analysis(
        "plugged",
        _CELL,
        ("plugs", "field"),
        _plugged,
        30.0,
        optional_inputs=("hung", "contacts"),
        on_demand=True,
    ),
    Analysis(
        "rack_holder",
        (*_STANDS, "rack.suggest", "supply.current", "target.density"),
        ("hanging", "contacts"),
        printed.rack_made,
        1.0,
        optional_inputs=("hung", "rack", "coat", "gas", "gas_hung"),
        on_demand=True,
    ),
    Analysis(
        "rack_shade",
        (*_CELL, "rack.suggest"),
        ("rack_holder", "field_at_target"),
        printed.rack_shade,
        60.0,
        optional_inputs=("hung", "rack", "contacts"),
        on_demand=True,
    ),
    Analysis(
        "anode_holder",
        (*_STANDS, "target.density", "wires"),
        (),
        printed.anode_holder_made,
        0.5,
        optional_inputs=("hung", "contacts", "coat", "gas", "gas_hung"),
        on_demand=True,
    ),
    Analysis(
        "anode_holder_shade",
        _CELL,
        ("anode_holder", "field_at_target"),
        printed.anode_holder_shade,
        30.0,
        optional_inputs=("hung", "contacts"),
        on_demand=True,
    ),
    Analysis(
        "shield",
        (*_STANDS, *_CELL, "hanger"),
        (),
        printed.shield_made,
        30.0,
        optional_inputs=("hung", "contacts", "coat", "gas", "gas_hung"),
        on_demand=True,
    ),
    Analysis(
        "shield_shade",
        _CELL,
        ("shield", "field_at_target"),
        printed.shield_shade,
        30.0,
        optional_inputs=("hung", "contacts"),
        on_demand=True,
    ),
    Analysis(
        "thief",
        (*_STANDS, *_CELL, "hanger"),
        (),
        printed.thief_made,
        20.0,
        optional_inputs=("hung", "contacts", "coat", "gas", "gas_hung"),
        on_demand=True,
    ),
    Analysis(
        "thief_shade",
        _CELL,
        ("thief", "field_at_target"),
        printed.thief_shade,
        30.0,
        optional_inputs=("hung", "contacts"),
        on_demand=True,
    ),
    Analysis("potential", _CELL, (), _potential, 8.0, optional_inputs=("hung", "contacts", "field"), on_demand=True),
    Analysis("cut", ("cut",), ("potential",), _cut, 6.0, on_demand=True),
)
NAMES = tuple(analysis.name for analysis in ANALYSES)
USUAL = tuple(analysis.name for analysis in ANALYSES if not analysis.on_demand)


def copies(job: Job) -> int:
    return max(len(job.rack.positions), 1)
