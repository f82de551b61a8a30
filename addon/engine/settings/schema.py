"""Settings as frozen dataclasses whose fields know their unit, their limits and what they mean.

One description serves the job file, the report's list of assumptions and the panels: a field's
metadata is a `Spec`, and `read` and `write` are the only code that goes from a table of trade units
to SI and back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar, Unpack

from ..errors import InputError, nearest
from ..filled import filled, inside, item

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

S = TypeVar("S", bound="DataclassInstance")

MAX_SETTING = 1e12  # no setting is meant to be larger; it also keeps products of settings finite
MAX_ROUNDING = 1e-4  # relative: two figures of the same thing may differ by this much through rounding
POINTS, NUMBERS = -1, -2  # sizes of a list of any length


@dataclass(frozen=True)
class Spec:
    """What a job file calls a field, and what it accepts.

    key : name in the job file, with the unit in it
    doc : what the setting does physically, for tooltips and docs
    label : short name for a panel
    scale : SI value of one unit of the key
    low, high : limits in the key's unit, inclusive; least : the smallest value that is usable beside zero
    size : 0 for one number, n for a list of n, POINTS or NUMBERS for a list of any length
    choices : allowed texts
    offset : added after scaling (degrees Celsius)
    unit : for people
    """

    key: str
    doc: str
    label: str = ""
    scale: float = 1.0
    low: float = -MAX_SETTING
    high: float = MAX_SETTING
    size: int = 0
    choices: tuple[str, ...] = ()
    offset: float = 0.0
    unit: str = ""
    least: float = 0.0

    @property
    def allowed(self) -> str:
        """The limits in words."""
        unit = f" {self.unit}" if self.unit else ""
        low, high = f"{self.low:g}", f"{self.high:g}{unit}"
        if self.least:
            return filled("0, or between {low} and {high}", low=f"{self.least:g}", high=high)
        if self.high < MAX_SETTING:
            return filled("between {low} and {high}", low=low, high=high)
        if self.low > -MAX_SETTING:
            return filled("at least {low}", low=f"{low}{unit}")
        return filled("a finite number of {unit}", unit=self.unit) if self.unit else "a finite number"


class Accepts(TypedDict, total=False):
    """What a number may be, and how it is shown: the fields of a `Spec` by their names."""

    label: str
    unit: str
    scale: float
    low: float
    high: float
    size: int
    offset: float
    least: float


def number(key: str, default: Any, doc: str, **accepts: Unpack[Accepts]) -> Any:
    """A number or a list of numbers; `default` is in SI already, an int asks for a whole number."""
    spec = Spec(key, doc, **accepts)
    return field(default=default, metadata={"spec": replace(spec, label=spec.label or key)})


def aside(entry: Any) -> Any:
    """A setting left out of its section's key: only analyses that name it become stale with it."""
    entry.repr = False
    return entry


def switch(key: str, default: bool, doc: str, *, label: str = "") -> Any:
    """A setting that is on or off."""
    return field(default=default, metadata={"spec": Spec(key, doc, label or key)})


def text(key: str, default: Any, doc: str, *, label: str = "", choices: tuple[str, ...] = ()) -> Any:
    """A setting that is a text: any, or one of a few choices."""
    return field(default=default, metadata={"spec": Spec(key, doc, label or key, choices=choices)})


def spec_of(entry: Field[Any]) -> Spec:
    """The `Spec` in a field's metadata: key, unit, limits, meaning."""
    return entry.metadata["spec"]


def specs(section: type) -> dict[str, Spec]:
    """Field name -> Spec, of the fields that a job file can set."""
    return {f.name: spec_of(f) for f in fields(section) if "spec" in f.metadata}


def shown(raw: object) -> str:
    """A value as it was written, on one line and short."""
    try:
        line = repr(raw)
    except ValueError:  # Python refuses to print an integer of thousands of digits
        line = "a number of thousands of digits"
    return line if len(line) <= 60 else f"{line[:57]}..."


def read(section: type[S], table: Any, where: str) -> S:
    """A section from a table of trade units. Raises InputError naming the key and the remedy.

    where : what the table is called in an error: a section as `filled.setting`, or any text
    """
    if not isinstance(table, Mapping):
        raise InputError(filled("{path}: expected a table of settings, found {label}", path=where, label=shown(table)))
    entries = {spec_of(f).key: f for f in fields(section) if "spec" in f.metadata}
    values: dict[str, Any] = {}
    for key, raw in table.items():
        if key not in entries:
            raise InputError(
                filled("{path}: unknown key {label}; {help}", path=where, label=shown(key), help=nearest(key, entries))
            )
        values[entries[key].name] = _value(raw, entries[key], inside(where, key))
    return section(**values)


def _value(raw: Any, entry: Field[Any], where: str) -> Any:
    spec, default = spec_of(entry), entry.default
    if raw is None and default is None:
        return None
    if spec.size:
        return _numbers(raw, spec, where)
    if isinstance(default, str):
        return _text(raw, spec, where)
    if isinstance(default, bool):
        return _yes_or_no(raw, where)
    if isinstance(default, int) and isinstance(raw, float) and not raw.is_integer():
        raise InputError(filled("{path}: expected a whole number, found {label}", path=where, label=shown(raw)))
    value = _single_number(raw, spec, where)
    return int(value) if isinstance(default, int) else value


def _text(raw: Any, spec: Spec, where: str) -> str:
    if not isinstance(raw, str):
        raise InputError(filled("{path}: expected a text in quotes, found {label}", path=where, label=shown(raw)))
    if spec.choices and raw not in spec.choices:
        raise InputError(
            filled(
                "{path}: {label} is not known; {help}", path=where, label=shown(raw), help=nearest(raw, spec.choices)
            )
        )
    return raw


def _yes_or_no(raw: Any, where: str) -> bool:
    if not isinstance(raw, bool):
        raise InputError(filled("{path}: expected true or false, found {label}", path=where, label=shown(raw)))
    return raw


def _single_number(raw: Any, spec: Spec, where: str) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        plain = (
            "{path}: expected a number without quotes, found {label}"
            if isinstance(raw, str)
            else "{path}: expected a number, found {label}"
        )
        raise InputError(filled(plain, path=where, label=shown(raw)))
    if not spec.low <= raw <= spec.high or 0 < raw < spec.least:  # the first is true for nan too
        raise InputError(
            filled("{path}: {label} is not usable; give {allowed}", path=where, label=shown(raw), allowed=spec.allowed)
        )
    return raw * spec.scale + spec.offset


def _numbers(raw: Any, spec: Spec, where: str) -> tuple[Any, ...]:
    if not isinstance(raw, list | tuple):
        raise InputError(
            filled("{path}: expected a list in square brackets, found {label}", path=where, label=shown(raw))
        )
    if spec.size == POINTS:
        point = Spec(spec.key, spec.doc, spec.label, spec.scale, spec.low, spec.high, 3, unit=spec.unit)
        return tuple(_numbers(number, point, item(where, i)) for i, number in enumerate(raw))
    if spec.size > 0 and len(raw) != spec.size:
        raise InputError(
            filled("{path}: expected {size} numbers, found {count}", path=where, size=spec.size, count=len(raw))
        )
    return tuple(_single_number(number, spec, where) for number in raw)


def write(section: Any) -> dict[str, Any]:
    """The table in trade units that `read` turns into this section; None where nothing is set."""
    table: dict[str, Any] = {}
    for entry in fields(section):
        if "spec" in entry.metadata:
            table[spec_of(entry).key] = _plain(getattr(section, entry.name), spec_of(entry))
    return table


def _plain(value: Any, spec: Spec) -> Any:
    if isinstance(value, tuple):
        return [_plain(item, spec) for item in value]
    if isinstance(value, str | int) or value is None:
        return value
    if spec.offset:
        return round((value - spec.offset) / spec.scale, 9)
    return float(f"{value / spec.scale:.12g}")
