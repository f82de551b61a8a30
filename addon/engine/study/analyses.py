"""The registry of analyses: the settings each reads, the results it needs, and the function that computes it.

This registry is the only place where a result and a section of the job are named by a string.
"""

from __future__ import annotations

from collections.abc import Callable

from ..mesh.tracer import Tracer
from . import current, position, printed, shape, together, trapped
from .analysis import Analysis
from .study import Study

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
_BARE_CELL = tuple(name for name in _CELL if name not in ("coat.name", "coat.sheet_resistance"))  # no losses of it
_STANDS = ("part.up", "part.material", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES)
_ON_RODS = ("hanger.rod", "hanger.clearance", "hanger.rim")
_BEFORE = ("hung", "contacts", "coat", "gas", "gas_hung", "hanging", "rack", "rack_holder")  # what stands in the tank


def _shade(helper: str, run: Callable[[Study, Tracer], object]) -> Analysis:
    """The analysis of a printed helper's shading: a second solution of the field, with the helper."""
    return Analysis(
        f"{helper}_shade",
        _CELL,
        (helper, "field_at_target"),
        run,
        30.0,
        optional_inputs=("hung", "contacts", "rack", "rack_holder"),
        on_demand=True,
    )


ANALYSES: tuple[Analysis, ...] = (
    Analysis("deposit", ("target", "bath", "supply", "rack.positions", "rack.suggest"), (), current.deposit_of, 0.1),
    Analysis("gas", ("part.up", *_CAPILLARY), (), trapped.gas_of, 1.0),
    Analysis("drainage", ("part.up", *_CAPILLARY), (), trapped.drainage_of, 1.0),
    Analysis("hung", _HANGING, ("deposit",), position.hung_of, 10.0, on_demand=True),
    Analysis(
        "gas_hung",
        ("part.up", *_CAPILLARY),
        ("hung",),
        trapped.gas_hung_of,
        1.0,
        optional_inputs=("gas",),
        on_demand=True,
    ),
    Analysis(
        "drainage_hung",
        ("part.up", *_CAPILLARY),
        ("hung",),
        trapped.drainage_hung_of,
        1.0,
        optional_inputs=("drainage",),
        on_demand=True,
    ),
    Analysis("narrow", _CAPILLARY, (), trapped.narrow_of, 2.0),
    Analysis("openness", ("effort.rays",), (), trapped.openness_of, 5.0),
    Analysis(
        "contacts",
        ("part.up", "target.density", "coat.name", "coat.sheet_resistance", "bath.metal"),
        ("gas", "openness"),
        current.contacts_of,
        5.0,
        optional_inputs=("hung", "gas_hung"),
    ),
    Analysis(
        "rack",
        (
            *("part.up", "target.density", "bath", "tank", "anodes", "shields", "thieves", "place"),
            *("supply.current", "rack.suggest", "rack.tolerance"),
        ),
        (),
        current.rack_of,
        25.0,
        optional_inputs=("hung",),
        on_demand=True,
    ),
    Analysis(
        "field_at_target",
        _CELL,
        (),
        current.field_at_target_of,
        30.0,
        optional_inputs=("hung", "contacts", "rack"),
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
        current.coat_of,
        8.0,
        optional_inputs=("hung", "rack", "field_at_target"),
    ),
    Analysis(
        "vents",
        (*_CAPILLARY, "wires"),
        ("gas", "drainage"),
        trapped.vents_of,
        0.5,
        optional_inputs=("hung", "gas_hung", "drainage_hung", "openness", "contacts", "coat"),
    ),
    Analysis(
        "field", ("supply.hold",), ("field_at_target",), current.field_of, 3.0, optional_inputs=("contacts", "coat")
    ),
    Analysis("ranges", ("target", "bath", "supply"), ("field",), current.ranges_of, 6.0),
    Analysis(
        "hanging",
        _HANGING,
        ("deposit", "contacts"),
        position.hanging_of,
        10.0,
        optional_inputs=("hung", "field", "coat"),
    ),
    Analysis("preparation", ("print", "target", "coat"), (), shape.preparation_of, 0.1),
    Analysis(
        "fits", ("target.thickness", "coat.thickness"), (), shape.fits_of, 2.0, optional_inputs=("field", "ranges")
    ),
    Analysis(
        "orientation",
        ("part.up", "print", "target.thickness", "coat.thickness"),
        (),
        shape.orientation_of,
        2.0,
        optional_inputs=("hung", "field"),
    ),
    Analysis(
        "purpose",
        (
            *("target.thickness", "target.purpose", "target.polish", "target.frequency", "target.shielding"),
            *("target.stiffness", "target.conductance", "target.mass", "bath.metal"),
            *("target.pressure", "target.slide", "target.wear", "target.load"),
            *("part.material", "part.walls", "part.infill"),
        ),
        (),
        shape.purpose_of,
        0.2,
        optional_inputs=("field", "hanging"),
        on_demand=True,
    ),
    Analysis(
        "layouts",
        ("part.up", "target", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES, "effort.panels"),
        (),
        current.layouts_of,
        20.0,
        optional_inputs=("hung", "rack"),
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
        position.hanger_of,
        3.0,
        optional_inputs=("hung", "rack", "coat", "openness", "gas", "gas_hung", "drainage", "drainage_hung"),
        on_demand=True,
    ),
    Analysis(
        "hanger_shade",
        _CELL[1:],
        ("hanger", "field_at_target"),
        position.hanger_shade_of,
        30.0,
        optional_inputs=("contacts", "rack"),  # the way up is that of the hanger
        on_demand=True,
    ),
    Analysis(
        "plugs",
        ("part.material", "bath.temperature", "coat.thickness"),
        (),
        shape.plugs_of,
        0.5,
        optional_inputs=("field",),
        on_demand=True,
    ),
    Analysis(
        "plugged",
        _CELL,
        ("plugs", "field"),
        shape.plugged_of,
        30.0,
        optional_inputs=("hung", "contacts", "rack"),
        on_demand=True,
    ),
    Analysis(
        "masks",
        ("part.material", "bath", "hanger.cap_clearance"),
        (),
        shape.masks_of,
        0.5,
        optional_inputs=("hung", "gas", "gas_hung"),
        on_demand=True,
    ),
    Analysis(
        "masks_shade",
        _CELL,
        ("masks", "field_at_target"),
        shape.masks_shade_of,
        30.0,
        optional_inputs=("hung", "contacts", "rack"),
        on_demand=True,
    ),
    Analysis(
        "rack_holder",
        (*_STANDS, *_ON_RODS, "target.density"),
        ("hanging", "contacts"),
        printed.rack_made,
        1.0,
        optional_inputs=("hung", "rack", "coat", "gas", "gas_hung"),
        on_demand=True,
    ),
    Analysis(
        "rack_shade",
        _CELL,
        ("rack_holder", "field_at_target"),
        printed.rack_shade,
        60.0,
        optional_inputs=("hung", "rack", "contacts"),
        on_demand=True,
    ),
    Analysis(
        "anode_holder",
        (*_STANDS, "hanger.clearance", "hanger.rim", "hanger.anode", "target.density", "wires"),
        (),
        printed.anode_holder_made,
        0.5,
        optional_inputs=_BEFORE,
        on_demand=True,
    ),
    _shade("anode_holder", printed.anode_holder_shade),
    Analysis(
        "thief",
        (*_STANDS, *_ON_RODS, *_BARE_CELL),
        (),
        printed.thief_made,
        20.0,
        optional_inputs=(*_BEFORE, "hanger", "anode_holder"),
        on_demand=True,
    ),
    _shade("thief", printed.thief_shade),
    Analysis(
        "shield",
        (*_STANDS, *_ON_RODS, *_BARE_CELL),
        (),
        printed.shield_made,
        30.0,
        optional_inputs=(*_BEFORE, "hanger", "anode_holder", "thief"),
        on_demand=True,
    ),
    _shade("shield", printed.shield_shade),
    Analysis(
        "helpers_field",
        (*_CELL, "hanger.clearance", "hanger.rim"),
        ("field_at_target",),
        together.helpers_field,
        30.0,
        optional_inputs=(
            *("hung", "contacts", "rack", "hanger", "plugs", "masks"),
            *("rack_holder", "anode_holder", "thief", "shield"),
        ),
        on_demand=True,
    ),
    Analysis(
        "potential",
        _CELL,
        (),
        current.potential_of,
        8.0,
        optional_inputs=("hung", "contacts", "rack", "field"),
        on_demand=True,
    ),
    Analysis("cut", ("cut",), ("potential",), current.cut_of, 6.0, on_demand=True),
)
NAMES = tuple(analysis.name for analysis in ANALYSES)
USUAL = tuple(analysis.name for analysis in ANALYSES if not analysis.on_demand)
