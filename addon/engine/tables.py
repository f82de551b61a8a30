"""The tables of baths, coats and plastics in addon/data, and the user's own.

A table is TOML: one `["name"]` an entry, each value either plain text or
`{ value = ..., source = "...", sure = "high | medium | low" }` with the value in the unit of its key.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from .errors import Fault
from .schema import nearest

DATA = Path(__file__).resolve().parent.parent / "data"


@lru_cache
def load(path: Path) -> Mapping[str, Mapping[str, Any]]:
    """Every entry of one table file. Raises Fault where it cannot be read or is not such a table."""
    try:
        with open(path, "rb") as file:
            table = tomllib.load(file)
    except OSError as error:
        raise Fault(f"{path}: {error.strerror or error}; check the name") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise Fault(f"{path}: not a TOML file: {error}") from None
    for name, entry in table.items():
        if not isinstance(entry, Mapping):
            raise Fault(f'{path}: \'{name}\' stands outside an entry; begin with ["a name"]')
    return table


def value(cell: Any) -> Any:
    """The bare value of a cell."""
    return cell["value"] if isinstance(cell, Mapping) and "value" in cell else cell


def entry(kind: str, name: str, where: str, path: Path | None = None) -> Mapping[str, Any]:
    """One entry with its sources. kind : "baths", "coats" or "plastics"."""
    if not isinstance(name, str):
        raise Fault(f"{where}: expected a text in quotes, found {name!r}")
    table = load(path or DATA / f"{kind}.toml")
    if name not in table:
        raise Fault(f"{where}: '{name}' is not in the table of {kind}; {nearest(name, table)}")
    return table[name]


def names(kind: str) -> list[str]:
    """The entries of a table, in its own order."""
    return list(load(DATA / f"{kind}.toml"))


# What a bath entry may hold beside the keys of a job's [bath] section: see the room `bath`.
RECIPE_KEYS = frozenset(
    ("composition", "temperature_window_C", "anode", "anode_to_cathode", "brightener_mL_Ah", "agitation", "notes")
)


def bath(name: str, file: str, where: str, folder: str = "") -> dict[str, Any]:
    """Plain values of a bath, by the keys that a job file uses; what only the bench mix needs is left out."""
    path = Path(folder, file) if file else None
    cells = entry("baths", name, f"{where}.name", path)
    return {key: value(cell) for key, cell in cells.items() if key not in RECIPE_KEYS}


def coat(name: str, where: str) -> dict[str, Any]:
    """Plain values of a coat, by the keys that a job file uses."""
    keys = ("sheet_resistance_ohm_sq", "thickness_um", "density_g_mL")
    cells = entry("coats", name, f"{where}.name")
    return {key: value(cells[key]) for key in keys if key in cells}


def plastic(name: str, where: str) -> dict[str, Any]:
    """Plain values of a plastic: density_g_mL, softens_C, modulus_GPa."""
    return {key: value(cell) for key, cell in entry("plastics", name, where).items()}
