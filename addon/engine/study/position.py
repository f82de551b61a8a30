"""Analyses of how the part hangs, and of a hanger that holds it so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..faraday import METALS
from ..hanging import hung as hung_way
from ..hanging import suggest as hanging
from ..hanging.fit import anode_directions
from ..hanging.hold import Spots
from ..hanging.mass import Printed
from ..hanging.weighed import Immersion
from ..helpers import cage, fingers, shade
from ..helpers.hanger import Hanger, NotHeldError
from ..helpers.placement import Placement, Places, check_room
from ..helpers.placement import rim as rim_of
from ..helpers.printed import USUAL_WIRE
from ..mesh.tracer import Tracer
from ..progress import Progress, subrange
from ..settings import tables
from ..tank import vessel
from ..tank.arrange import arrange
from ..units import GRAM_PER_ML
from .printed import losses
from .study import Study

LIGHTEST_METAL_KG_M3 = 2700.0  # kg/m3, aluminum (CRC Handbook, from memory): stands for a part of unknown metal
HEAVIEST_METAL_KG_M3 = 8960.0  # copper (CRC Handbook, from memory): heavier than steel, brass and nickel silver


def hung_of(study: Study, tracer: Tracer) -> Progress[hung_way.Hung | None]:
    """The recommended way up, where the job leaves it to the program; None where no way up can be recommended."""
    hanging = yield from _search(study, tracer, free=True)
    return hung_way.recommended(hanging)


def hanging_of(study: Study, tracer: Tracer) -> Progress[hanging.Hanging]:
    """Ways up, ranked, held by the wires that the part has."""
    contacts, field, hung = study.results.contacts, study.results.field, study.results.hung
    used = _used(study)
    if hung is not None:
        suggested = hung.hanging
    else:
        points = [*used.points, *(contact.point for contact in (contacts.ranked if contacts else ()))]
        suggested = yield from _search(study, tracer, contacts=points, density=field.density if field else None)
    return hanging.on_wires(suggested, study.surface, tracer, used, study.job.hang.hook, study.job.bath.density)


def _used(study: Study) -> Spots:
    """Where the wires touch the part: those of the coat, or the best contacts while the number of wires is unknown."""
    surface, coated, contacts = study.surface, study.results.coat, study.results.contacts
    wires = coated.wires if coated is not None else contacts.best if contacts is not None else ()
    faces = np.array([wire.face for wire in wires], dtype=np.intp)
    points = np.array([wire.point for wire in wires]).reshape(-1, 3)
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
    solid = tables.plastic(job.part.material)["density_g_mL"] * GRAM_PER_ML
    walls = study.bodies.get(job.tank.file) if job.tank.shape == "mesh" else None
    inside = None if walls is None else np.array([walls.points.min(axis=0), walls.points.max(axis=0)])
    if job.tank.assumed:  # it will be chosen for the way up that is taken, its plates along x
        inside = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]])
    suggested = yield from hanging.run(
        study.surface,
        tracer,
        Printed(
            walls=job.part.walls,
            infill=1.0 if job.is_metal else job.part.infill,
            plastic_density=LIGHTEST_METAL_KG_M3 if job.is_metal else solid,
            coat_thickness=job.coat.thickness,
            coat_density=job.coat.density,
        ),
        Immersion(metal.mass if metal else 0.0, job.bath.density, METALS[job.bath.metal].density),
        hanging.SearchRequest(
            directions=job.effort.directions,
            tank=job.fixed_tank,
            weights=job.hang,
            anodes=anode_directions(job, inside),
            contacts=np.array([*wires, *contacts]),
            wires=len(wires),
            density=density,
            own=job.part.up,
            free=free,
            bath_volume=vessel.bath_volume(job, study.surface) if job.tank.assumed else None,
        ),
    )
    if suggested.body is None or not job.is_metal:
        return suggested
    heavier = (HEAVIEST_METAL_KG_M3 / LIGHTEST_METAL_KG_M3 - 1.0) * suggested.body.plastic
    return replace(suggested, lifted=suggested.lifted + heavier)


def hanger_of(study: Study, tracer: Tracer) -> Progress[Hanger]:
    """A hanger for the best way up. Raises InputError where the part has none, or no hanger fits the tank."""
    hanging, contacts, coated = study.results.hanging, study.results.contacts, study.results.coat
    if hanging is None:
        raise InputError(study.reasons["hanging"])
    job, surface = study.in_tank, study.surface
    walls = study.bodies.get(job.tank.file) if job.tank.shape == "mesh" else None
    rim = rim_of(job, None if walls is None else float(walls.points[:, 2].max()))
    own = arrange(surface, job, study.bodies)
    check_room(surface, job, own, "hanger")
    ranked = [contact.point for contact in (contacts.ranked if contacts else ())]
    planned = [wire.point for wire in coated.wires] if coated else [w.point for w in job.wires if w.point is not None]
    held = [
        suggestion.hold.points
        for suggestion in hanging.suggestions[:1]
        if suggestion.hold is not None and not suggestion.hold.tether
    ]
    seen, hung_gas, drainage = study.results.openness, study.gas_as_hung, study.drainage_as_hung
    vented = [pocket.vent for pocket in (hung_gas.pockets if hung_gas else ())]
    vented += [pool.drain for pool in (drainage.pools if drainage else ())]
    places = Places(
        np.array(planned or ranked[:1]).reshape(-1, 3),
        np.concatenate([np.array(ranked).reshape(-1, 3), *held]),
        seen.openness if seen else None,
        np.array(vented).reshape(-1, 3),
        coated.wire.diameter if coated else USUAL_WIRE,
    )
    stands = Placement(surface, tracer, job, own.poses[0], hanging, places, rim, own.inside)
    try:
        made = fingers.run(stands)
    except NotHeldError as fault:
        made = cage.run(stands, fault.args[0])
    if hung_gas is None:
        return made
    return (yield from shade.with_gas(surface, made, hung_gas, job.bath.capillary_length))


def hanger_shade_of(study: Study, tracer: Tracer) -> Progress[shade.Shade]:
    """What the hanger takes from the deposit. Raises InputError where hanger or field are missing."""
    hanger, alone = study.results.hanger, study.results.field_at_target  # of the same current
    if hanger is None or alone is None:
        raise InputError(study.reasons.get("hanger") or study.reasons.get("field_at_target") or "left out")
    lost = yield from subrange(0.0, 0.05, losses(study))
    return (yield from subrange(0.05, 1.0, shade.run(study.surface, study.in_tank, hanger, alone, study.bodies, lost)))
