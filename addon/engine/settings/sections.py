"""How each section of a job is read from its table, with the checks that involve several of its keys."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ..errors import InputError
from ..filled import filled, inside
from ..units import in_mm
from . import conductivity, tables
from .bath import Bath, Kinetics, Measured
from .part import Coat, PartSection
from .schema import MAX_ROUNDING, read, shown
from .tank import Anode, Tank, Vector

LAWS = ("kinetics", "anode_kinetics")  # tables within [bath]: of the part and of the anodes
MODELS = (".stl", ".obj", ".ply", ".glb", ".blend")
PICTURES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp")  # of a maker's mark
FILE_KEYS = {"file": (*MODELS, ".toml"), "logo": PICTURES}  # keys that name a file where it ends like one


def placed(content: Any, folder: str) -> Any:
    """A section with its relative file names put into the job file's folder."""
    if not folder or not isinstance(content, Mapping):
        return content
    moved = {
        key: os.path.normpath(os.path.join(folder, name))
        for key, endings in FILE_KEYS.items()
        if isinstance(name := content.get(key), str) and not os.path.isabs(name) and name.lower().endswith(endings)
    }  # other values may be names of objects
    return {**content, **moved} if moved else content


def read_part(table: Mapping[str, Any], where: str) -> PartSection:
    """Only a .blend has a scene unit, used only if the job asks for it.

    Raises InputError where another file is to be in the unit of its scene.
    """
    part = read(PartSection, table, where)
    if part.unit == "scene" and not part.file.lower().endswith(".blend"):
        raise InputError(
            filled("{path}: only a .blend has a scene; give mm, cm, m or inch", path=inside(where, "unit"))
        )
    return part


def read_bath(table: Mapping[str, Any], where: str) -> Bath:
    """The values of the bath table, and over them those of the job.

    Raises InputError for an unknown bath, a law that is no table, or readings that contradict a given conductivity.
    """
    own = dict(table)
    readings = own.pop("measured", None)
    name, base = tables.bath(own.get("name"), own.get("file", ""), where)
    entry = f"{own.get('file') or 'data/baths.toml'}: {shown(name)}"
    laws = {}
    for key in LAWS:
        usual = _law(base.pop(key, {}), f"{entry}: {key}")
        laws[key] = {**usual, **_law(own.pop(key, {}), inside(where, key))}
    if not laws["anode_kinetics"]:
        laws["anode_kinetics"] = {"kind": "none"}
    read(Bath, base, entry)
    bath = read(Bath, {**base, **own, "name": name}, where)
    cathode, anode = (read(Kinetics, laws[key], inside(where, key)) for key in LAWS)
    bath = replace(bath, kinetics=cathode, anode_kinetics=anode)
    if readings is None:
        return bath
    measured = read(Measured, readings, inside(where, "measured"))
    measured_conductivity = conductivity.of(measured, inside(where, "measured")).value
    if own.get("conductivity_S_m") is not None and abs(bath.conductivity / measured_conductivity - 1.0) > MAX_ROUNDING:
        raise InputError(
            filled(
                "{path}: conductivity_S_m is {conductivity}, but the readings under measured give {found};"
                " leave one of them out",
                path=where,
                conductivity=f"{bath.conductivity:.4g}",
                found=f"{measured_conductivity:.4g}",
            )
        )
    return replace(bath, conductivity=measured_conductivity, measured=measured)


def _law(table: object, where: str) -> Mapping[str, Any]:
    if not isinstance(table, Mapping):
        raise InputError(
            filled('{path}: expected {{ kind = "tafel", ... }}, found {found}', path=where, found=shown(table))
        )
    return table


def read_coat(table: Mapping[str, Any], where: str) -> Coat:
    """The values of the coat table, and over them those of the job. Raises InputError as `schema.read`."""
    return read(Coat, {**tables.coat(table.get("name", Coat.name), where), **table}, where)


def read_tank(table: Mapping[str, Any], where: str) -> Tank:
    """A box has three sizes; a cylinder may leave the repeated diameter out. Raises InputError as `schema.read`."""
    own = dict(table)
    size = own.get("size_mm")
    if own.get("shape") == "cylinder" and isinstance(size, list | tuple) and len(size) == 2:
        own["size_mm"] = [size[0], *size]
    return read(Tank, own, where)


def check_direction(direction: Vector, where: str) -> None:
    """Raises InputError where a direction has no length."""
    if math.hypot(*direction) < 1e-6:
        raise InputError(
            filled(
                "{path}: {label} points nowhere; give a direction, e.g. [0, 0, 1]",
                path=where,
                label=list(direction),
            )
        )


def check_tank(tank: Tank, where: str) -> None:
    """Raises InputError where a tank has no mesh, a level over its rim, or a cylinder two diameters."""
    if tank.shape == "mesh" and not tank.file:
        raise InputError(
            filled("{path} is missing; a tank of shape 'mesh' needs the mesh of its inside", path=inside(where, "file"))
        )
    if tank.shape in ("box", "cylinder") and tank.level > tank.size[2]:
        depth = in_mm(tank.size[2])
        raise InputError(
            filled(
                "{path}: {level} would run over a tank {depth} deep; lower it",
                path=inside(where, "level_mm"),
                level=in_mm(tank.level),
                depth=depth,
            )
        )
    if tank.shape == "cylinder" and tank.size[0] != tank.size[1]:
        raise InputError(
            filled("{path}: a cylinder has one diameter; give [diameter, depth]", path=inside(where, "size_mm"))
        )


def check_anode(anode: Anode, where: str) -> None:
    """Raises InputError where a plate is not fully described."""
    if anode.file:
        return
    if anode.plate is None or anode.centre is None or anode.normal is None:
        raise InputError(
            filled(
                "{path}: a plate needs plate_mm, centre_mm and normal; add what is missing, or give a file", path=where
            )
        )
    check_direction(anode.normal, inside(where, "normal"))
