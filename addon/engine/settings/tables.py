"""The tables of baths, coats and plastics in addon/data, and the user's own.

A table is TOML: one `["name"]` an entry, each value either plain or
`{ value = ..., source = "...", sure = "high | medium | low" }` with the value in the unit of its key.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from .. import inputs
from ..errors import InputError, nearest
from ..filled import filled, inside, setting
from .schema import shown

DATA = Path(__file__).resolve().parent.parent.parent / "data"

# Keys of a bath entry beside those of a job's [bath] section: see `chemistry.bath`.
RECIPE_KEYS = frozenset(
    {
        *("composition", "temperature_window_C", "anode", "anode_to_cathode", "brightener_mL_Ah", "agitation"),
        *("additive", "additive_mL_L", "wetter", "wetter_g_L", "ph_window", "ph_lower", "ph_raise", "heating"),
        *("filtering", "filter_um", "anode_bag", "aeration", "anode_film_h", "anode_film_A_dm2"),
    }
)
# Keys that a user's own bath must have, because no default would be honest.
REQUIRED = ("metal", "conductivity_S_m", "density_g_mL", "window_A_dm2", "efficiency", "limiting_A_dm2")
COAT, MATERIAL = setting("coat"), setting("part.material")  # where a job names an entry
COAT_KEYS = ("sheet_resistance_ohm_sq", "thickness_um", "density_g_mL", "bath_life_h")


def toml(path: Path) -> dict[str, Any]:
    """The content of a TOML file. Raises InputError naming the line where it is no TOML."""
    try:
        return tomllib.loads(inputs.read(path).decode("utf-8-sig").replace("\r\n", "\n"))
    except UnicodeDecodeError as error:
        raise InputError(
            filled("{path}: byte {start} is not UTF-8 text; save the file as UTF-8", path=path, start=error.start)
        ) from None
    except tomllib.TOMLDecodeError as error:
        position = re.fullmatch(r"(.*) \(at (.*)\)", str(error))
        message, place = position.groups() if position else (str(error), "some line")
        raise InputError(
            filled("{path}: {place}: {message}; correct it there", path=path, place=place, message=message)
        ) from None
    except RecursionError:
        raise InputError(filled("{path}: brackets are nested too deeply; write plain tables", path=path)) from None
    except ValueError as error:  # a number of thousands of digits
        raise InputError(filled("{path}: cannot be read: {reason}", path=path, reason=error)) from None


def load(path: Path) -> Mapping[str, Mapping[str, Any]]:
    """Every entry of one table file, read again when the file has changed.

    Raises InputError where it cannot be read.
    """
    try:
        changed = path.stat().st_mtime_ns
    except (OSError, ValueError) as error:
        raise InputError(filled("{path}: {reason}; check the name", path=path, reason=inputs.reason(error))) from None
    return _load(path, changed)


@lru_cache(maxsize=16)
def _load(path: Path, changed: int) -> Mapping[str, Mapping[str, Any]]:
    table = toml(path)
    for name, entry in table.items():
        if not isinstance(entry, Mapping):
            raise InputError(
                filled("{path}: {label} stands outside an entry; begin with [name]", path=path, label=shown(name))
            )
    return table


def value(cell: Any) -> Any:
    """The bare value of a cell."""
    return cell["value"] if isinstance(cell, Mapping) and "value" in cell else cell


def entry(kind: str, name: object, where: str, path: Path | None = None) -> Mapping[str, Any]:
    """One entry with its sources. kind : "baths", "coats" or "plastics". Raises InputError where there is none."""
    if not isinstance(name, str):
        raise InputError(filled("{path}: expected a text in quotes, found {label}", path=where, label=shown(name)))
    table = load(path or DATA / f"{kind}.toml")
    if name not in table:
        raise InputError(
            filled(
                "{path}: {label} is not in the table of {kind}; {help}",
                path=where,
                label=shown(name),
                kind=kind,
                help=nearest(name, table),
            )
        )
    return table[name]


def entries(kind: str) -> Mapping[str, Mapping[str, Any]]:
    """All entries of one of our tables with their sources, in its own order."""
    return load(DATA / f"{kind}.toml")


def names(kind: str) -> list[str]:
    """The entries of a table, in its own order."""
    return list(entries(kind))


def bath(name: object, file: object, where: str) -> tuple[str, dict[str, Any]]:
    """Name and plain values of a bath, by the keys that a job file uses.

    name : None takes the first entry of the table; file : the user's own table, "" for ours.
    Keys that only mixing needs are left out.
    Raises InputError where there is no such bath, or a value is missing.
    """
    if not isinstance(file, str):
        raise InputError(
            filled("{path}: expected a text in quotes, found {label}", path=inside(where, "file"), label=shown(file))
        )
    path = Path(file) if file else DATA / "baths.toml"
    if name is None:
        table = load(path)
        if not table:
            raise InputError(filled("{path}: the table is empty; begin with [name]", path=path))
        name = next(iter(table))
    cells = entry("baths", name, inside(where, "name"), path)
    missing = [key for key in REQUIRED if key not in cells]
    if missing:
        raise InputError(
            filled("{path}: the bath '{name}' does not say {label}; add it", path=path, name=name, label=missing[0])
        )
    return str(name), {key: value(cell) for key, cell in cells.items() if key not in RECIPE_KEYS}


def coat(name: object, where: str = COAT) -> dict[str, Any]:
    """Plain values of a coat, by the keys that a job file uses."""
    cells = entry("coats", name, inside(where, "name"))
    return {key: value(cells[key]) for key in COAT_KEYS if key in cells}


def plastic(name: str, where: str = MATERIAL) -> dict[str, float]:
    """Plain values of a plastic: density_g_mL, softens_C, modulus_GPa, yield_MPa."""
    return {key: value(cell) for key, cell in entry("plastics", name, where).items()}
