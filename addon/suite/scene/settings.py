"""The scene's settings: a group of properties for each section of a job, made from the job's own Specs.

Label, unit, limits and tooltip therefore have one source, and the panels meet the same `read_job`, with the
same sentences, as a job file does. Numbers are in the unit of the key: mm, um, A/dm2, degrees Celsius.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import fields, replace
from typing import Any

import bpy
import numpy as np
from numpy.typing import ArrayLike

from ...engine.errors import InputError
from ...engine.settings import conductivity, schema, tables
from ...engine.settings import job as jobs
from ...engine.settings.bath import Measured
from ...engine.settings.sections import LAWS
from .. import language
from ..figures import unit_text
from . import roles, scene_units

SECTIONS = (
    "part",
    "target",
    "bath",
    "batch",
    "tank",
    "coat",
    "supply",
    "hang",
    "hanger",
    "print",
    "cut",
    "sheet",
    "effort",
    "place",
    "rack",
)
# Keys answered by the scene itself: the part is an object, in the scene's unit.
ELSEWHERE = {
    "part": ("file", "object", "unit", "hang"),
    "target": ("time", "current"),
    "tank": ("file",),
    "place": ("centre",),
    "rack": ("positions", "turns"),
    "effort": ("also",),
}
CHOOSE = {"bath.name": "baths", "coat.name": "coats", "part.material": "plastics"}
DEFAULT = jobs.read_job({})
READINGS = 4  # pairs of current and voltage that are noted for the conductivity
RENAMED = {"name": "entry"}  # a PropertyGroup has a name of its own

_registered: list[type] = []


class PartObject(bpy.types.PropertyGroup):
    """One of the objects that make up the part."""

    object: bpy.props.PointerProperty(type=bpy.types.Object)


class NamedState(bpy.types.PropertyGroup):
    """The figures of a check of the part, under a name, to compare others with."""

    figures: bpy.props.StringProperty()  # JSON, as engine.verdict.compare.condensed gives it


class Readings(bpy.types.PropertyGroup):
    """Readings between two plates, for the conductivity."""

    area: bpy.props.FloatProperty(default=25.0)  # cm2
    gap: bpy.props.FloatProperty(default=30.0)  # mm
    currents: bpy.props.FloatVectorProperty(size=READINGS)  # A; 0 where none was read
    voltages: bpy.props.FloatVectorProperty(size=READINGS)  # V


def of(scene: bpy.types.Scene) -> Any:
    """The settings of a scene."""
    return scene.platewright


def job_of(scene: bpy.types.Scene) -> jobs.Job:
    """The job that the panels describe. Raises InputError, naming section and key, where a setting is not usable."""
    job = jobs.read_job(table(scene), f"scene '{scene.name}'", bpy.path.abspath("//"))
    return replace(job, specified=None)  # every setting is written, whether the user typed it or not


def table(scene: bpy.types.Scene) -> dict[str, Any]:
    """The settings as the tables of a job file."""
    settings, out = of(scene), {}
    for name in SECTIONS:
        out[name] = _written(getattr(settings, name), getattr(DEFAULT, name))
    for name in LAWS:
        out["bath"][name] = _written(getattr(settings, name), getattr(DEFAULT.bath, name))
    readings = _readings(settings)
    if readings is not None:
        out["bath"]["measured"] = readings
        del out["bath"]["conductivity_S_m"]
    if out["bath"]["file"]:
        out["bath"]["file"] = bpy.path.abspath(out["bath"]["file"])
    tank = roles.tank(scene)
    if tank is not None:
        out["tank"]["size_mm"] = roles.inside(tank, scene).size_mm()
        out["tank"]["file"] = tank.name if out["tank"]["shape"] == "mesh" else ""
    return out


def _readings(settings: Any) -> dict[str, Any] | None:
    """The readings behind the conductivity; None if it has been changed since."""
    noted = settings.readings
    read = [(_exact(i), _exact(u)) for i, u in zip(noted.currents, noted.voltages, strict=True) if i > 0]
    if len(read) < 2:
        return None
    table = {"area_cm2": _exact(noted.area), "gap_mm": _exact(noted.gap)}
    table |= {"current_A": [i for i, _ in read], "voltage_V": [u for _, u in read]}
    try:
        value = conductivity.of(schema.read(Measured, table, "readings")).value
    except InputError:
        return None
    return table if abs(settings.bath.conductivity / value - 1.0) < schema.MAX_ROUNDING else None


def fill(scene: bpy.types.Scene, job: jobs.Job) -> None:
    """Set the panels to a job."""
    settings = of(scene)
    for name in SECTIONS:
        _fill(getattr(settings, name), getattr(job, name))
    for name in LAWS:
        _fill(getattr(settings, name), getattr(job.bath, name))


def fill_from_table(scene: bpy.types.Scene, section: str) -> None:
    """Set bath or coat to the values of its table. Raises InputError where the name is not in it."""
    named = {key: value for key, value in table(scene)[section].items() if key in ("name", "file")}
    job = jobs.read_job({section: named}, f"scene '{scene.name}'", bpy.path.abspath("//"))
    _fill(getattr(of(scene), section), getattr(job, section), leave=("entry", "file"))
    if section == "bath":
        for name in LAWS:
            _fill(getattr(of(scene), name), getattr(job.bath, name))


def _written(group: Any, section: Any) -> dict[str, Any]:
    """The table of one section, without what is not set."""
    out = {}
    for entry in fields(section):
        name = RENAMED.get(entry.name, entry.name)
        if "spec" not in entry.metadata or not hasattr(group, name):
            continue
        value = getattr(group, name)
        if entry.default is None and not value:
            continue
        out[schema.spec_of(entry).key] = _exact(value)
    return out


def as_stored(values: ArrayLike) -> Any:
    """Numbers as they come back from a scene's settings."""
    return tuple(_exact(float(np.float32(value))) for value in np.asarray(values))


def _exact(value: Any) -> Any:
    """Blender's single precision as the decimal that was typed."""
    if isinstance(value, float):
        return float(f"{value:.7g}")
    return value if isinstance(value, str | int) else [_exact(item) for item in value]


def _fill(group: Any, section: Any, leave: Collection[str] = ()) -> None:
    for name, value in _trade(section).items():
        if hasattr(group, name) and name not in leave:
            setattr(group, name, 0.0 if value is None else value)


def _trade(section: Any) -> dict[str, Any]:
    """Property -> value in trade units."""
    written = schema.write(section)
    return {RENAMED.get(name, name): written[spec.key] for name, spec in schema.specs(type(section)).items()}


def _from_table(section: str) -> Any:
    def update(group: Any, _context: bpy.types.Context) -> None:
        try:
            fill_from_table(group.id_data, section)
        except InputError:
            return  # the panel shows the same message, from job_of, while the name is wrong

    return update


def _search(kind: str) -> Any:
    def search(group: Any, _context: bpy.types.Context, _typed: str) -> list[str]:
        own = getattr(group, "file", "")
        try:
            return list(tables.load(tables.Path(bpy.path.abspath(own)))) if own else tables.names(kind)
        except InputError:
            return []

    return search


def _property(section: str, name: str, spec: schema.Spec, value: Any, typed: bool) -> Any:
    """One of Blender's properties for one field; `value` is its default in trade units."""
    unit = unit_text(spec.unit)
    common: dict[str, Any] = {
        "name": f"{language.title_case(spec.label)} ({unit})" if unit else language.title_case(spec.label),
        "description": spec.doc,
        "translation_context": language.OWN,
    }
    if value is not None:
        common["default"] = value
    if spec.choices:
        items = [(choice, _title(choice), spec.doc) for choice in spec.choices]
        return bpy.props.EnumProperty(items=items, **common)
    if isinstance(value, bool):
        return bpy.props.BoolProperty(**common)
    if isinstance(value, str):
        kind = CHOOSE.get(f"{section}.{name}")
        if kind and typed:
            common["search"] = _search(kind)
            if section in ("bath", "coat"):
                common["update"] = _from_table(section)
        return bpy.props.StringProperty(subtype="FILE_PATH" if name in ("file", "logo") else "NONE", **common)
    if value is None:
        common["description"] += ". Zero: not set"
    low = 0.0 if value is None else spec.low
    limits: dict[str, Any] = {"min": low} if low > -schema.MAX_SETTING else {}
    if spec.high < schema.MAX_SETTING:
        limits["max"] = spec.high
    if isinstance(value, int):
        common.update({key: int(limit) for key, limit in limits.items()})
        return bpy.props.IntProperty(**common)
    largest = max((abs(item) for item in value), default=0.0) if spec.size else abs(value or 0.0)
    numbers = {"precision": _decimals(largest), "step": 10 * 10 ** (1 - _decimals(largest)), **limits}
    if spec.size:
        return bpy.props.FloatVectorProperty(size=spec.size, **common, **numbers)
    return bpy.props.FloatProperty(**common, **numbers)


def _title(choice: str) -> str:
    """With a capital, and two in a law that bears two names."""
    return "-".join(part[:1].upper() + part[1:] for part in choice.split("-"))


def _decimals(value: float) -> int:
    """Decimals that show three digits of a number of this size."""
    return 2 if not value else max(0, min(6, 2 - math.floor(math.log10(value))))


def _group(name: str, section: Any, typed: bool) -> type:
    """A PropertyGroup with a property for each field of a section that the panels set."""
    values = _trade(section)
    properties = {}
    for field, spec in schema.specs(type(section)).items():
        if field not in ELSEWHERE.get(name, ()):
            prop = RENAMED.get(field, field)
            properties[prop] = _property(name, field, spec, values[prop], typed)
            if typed and scene_units.has_twin(spec.unit) and spec.size >= 0:
                label = language.title_case(spec.label)
                properties[prop + scene_units.TWIN] = scene_units.twin(prop, spec.unit, spec.size, label, spec.doc)
    return type(f"PLATEWRIGHT_PG_{name}", (bpy.types.PropertyGroup,), {"__annotations__": properties})


def register(*, typed: bool = True) -> None:
    """typed : whether somebody types into them: only then they propose and follow names (Blender 4.2 as a module does
    not survive its end where such callbacks have been registered)
    """
    sections = {name: getattr(DEFAULT, name) for name in SECTIONS}
    sections |= {name: getattr(DEFAULT.bath, name) for name in LAWS}
    groups = {name: _group(name, section, typed) for name, section in sections.items()}
    properties: dict[str, Any] = {name: bpy.props.PointerProperty(type=group) for name, group in groups.items()}
    properties["objects"] = bpy.props.CollectionProperty(type=PartObject)
    properties["readings"] = bpy.props.PointerProperty(type=Readings)
    properties["fixed_time"] = bpy.props.FloatProperty(
        name="Time (h)", description="How long the part is to be plated. Zero: not fixed", min=0.0, max=1e4
    )
    properties["fixed_current"] = bpy.props.FloatProperty(
        name="Current (A)", description="The current of all parts together. Zero: not fixed", min=0.0, max=1e4
    )
    properties["size_is_right"] = bpy.props.BoolProperty()  # confirmed by the user, although unusual
    properties["states"] = bpy.props.CollectionProperty(type=NamedState)
    root = type("PLATEWRIGHT_PG_settings", (bpy.types.PropertyGroup,), {"__annotations__": properties})
    _registered.extend([PartObject, NamedState, Readings, *groups.values(), root])
    for made in _registered:
        bpy.utils.register_class(made)
    bpy.types.Scene.platewright = bpy.props.PointerProperty(type=root)


def unregister() -> None:
    del bpy.types.Scene.platewright
    while _registered:
        bpy.utils.unregister_class(_registered.pop())
