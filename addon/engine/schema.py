"""Settings as frozen dataclasses whose fields know their unit, their limits and what they mean.

One description serves the job file, the report's list of assumptions and the panels: a field's
metadata is a `Spec`, and `read` and `write` are the only code that goes from a table of trade units
to SI and back.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from typing import Any, TypeVar

from .errors import Fault

S = TypeVar("S")


@dataclass(frozen=True)
class Spec:
    """What a job file calls a field, and what it accepts.

    key : name in the job file, with the unit in it
    scale : SI value of one unit of the key
    low, high : limits in the key's unit, inclusive
    doc : what the setting does physically, for tooltips and docs
    label : short name for a panel
    size : 0 for one number, n for a list of n, -1 for a list of points
    choices : allowed texts
    offset : added after scaling (degrees Celsius)
    """

    key: str
    doc: str
    label: str = ""
    scale: float = 1.0
    low: float = -math.inf
    high: float = math.inf
    size: int = 0
    choices: tuple[str, ...] = ()
    offset: float = 0.0
    unit: str = ""


def number(
    key: str,
    default: Any,
    doc: str,
    *,
    label: str = "",
    unit: str = "",
    scale: float = 1.0,
    low: float = -math.inf,
    high: float = math.inf,
    size: int = 0,
    offset: float = 0.0,
) -> Any:
    """A number or a list of numbers; `default` is in SI already."""
    spec = Spec(key, doc, label or key, scale, low, high, size, (), offset, unit)
    return field(default=default, metadata={"spec": spec})


def text(key: str, default: Any, doc: str, *, label: str = "", choices: tuple[str, ...] = ()) -> Any:
    """A text, or one of a few."""
    return field(default=default, metadata={"spec": Spec(key, doc, label or key, choices=choices)})


def flag(key: str, default: bool, doc: str, *, label: str = "") -> Any:
    """Yes or no."""
    return field(default=default, metadata={"spec": Spec(key, doc, label or key)})


def spec_of(entry: Field[Any]) -> Spec:
    return entry.metadata["spec"]


def specs(section: type) -> dict[str, Spec]:
    """Field name -> Spec, of the fields that a job file can set."""
    return {f.name: spec_of(f) for f in fields(section) if "spec" in f.metadata}


def nearest(word: str, known: Any) -> str:
    """' (did you mean ...?)' for a word that is not known, or the list of those that are."""
    known = list(known)
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    return f"did you mean '{close[0]}'?" if close else f"known: {', '.join(known)}"


def read(section: type[S], table: Mapping[str, Any], where: str) -> S:
    """A section from a table of trade units. Raises Fault naming `where` and the key."""
    if not isinstance(table, Mapping):
        raise Fault(f"{where}: expected a table of settings, found {type(table).__name__}")
    entries = {spec_of(f).key: f for f in fields(section) if "spec" in f.metadata}  # type: ignore[arg-type]
    values: dict[str, Any] = {}
    for key, raw in table.items():
        if key not in entries:
            raise Fault(f"{where}: unknown key '{key}'; {nearest(key, entries)}")
        entry = entries[key]
        values[entry.name] = _value(raw, entry, f"{where}.{key}")
    return section(**values)


def _value(raw: Any, entry: Field[Any], where: str) -> Any:
    spec = spec_of(entry)
    if spec.size:
        return _numbers(raw, spec, where)
    default = entry.default
    if isinstance(default, bool):
        if not isinstance(raw, bool):
            raise Fault(f"{where}: expected true or false, found {raw!r}")
        return raw
    if isinstance(default, str):
        if not isinstance(raw, str):
            raise Fault(f"{where}: expected a text in quotes, found {raw!r}")
        if spec.choices and raw not in spec.choices:
            raise Fault(f"{where}: '{raw}' is not known; {nearest(raw, spec.choices)}")
        return raw
    value = _one(raw, spec, where)
    return int(value) if isinstance(default, int) else value


def _one(raw: Any, spec: Spec, where: str) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise Fault(f"{where}: expected a number, found {raw!r}")
    if not math.isfinite(raw) or not spec.low <= raw <= spec.high:
        unit = f" {spec.unit}" if spec.unit else ""
        if math.isinf(spec.high):
            allowed = f"at least {spec.low:g}{unit}" if math.isfinite(spec.low) else "a finite number"
        else:
            allowed = f"between {spec.low:g} and {spec.high:g}{unit}"
        raise Fault(f"{where}: {raw:g} is not usable; give {allowed}")
    return raw * spec.scale + spec.offset


def _numbers(raw: Any, spec: Spec, where: str) -> tuple[Any, ...]:
    if not isinstance(raw, list | tuple):
        raise Fault(f"{where}: expected a list of numbers, found {raw!r}")
    if spec.size == -1:  # a list of points
        point = Spec(spec.key, spec.doc, spec.label, spec.scale, spec.low, spec.high, 3, unit=spec.unit)
        return tuple(_numbers(item, point, f"{where}[{i}]") for i, item in enumerate(raw))
    if spec.size > 0 and len(raw) != spec.size:
        raise Fault(f"{where}: expected {spec.size} numbers, found {len(raw)}")
    return tuple(_one(item, spec, where) for item in raw)


def write(section: Any) -> dict[str, Any]:
    """The table in trade units that `read` would turn into this section; None where nothing is set."""
    table: dict[str, Any] = {}
    for entry in fields(section):
        if "spec" in entry.metadata:
            table[spec_of(entry).key] = _plain(getattr(section, entry.name), spec_of(entry))
    return table


def _plain(value: Any, spec: Spec) -> Any:
    if isinstance(value, tuple):
        return [_plain(item, spec) for item in value]
    if isinstance(value, bool | str | int) or value is None:
        return value
    return float(f"{(value - spec.offset) / spec.scale:.12g}")
