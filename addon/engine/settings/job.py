"""The job: all sections together, from a job file or from the panels.

Both go through `read_job`, so both meet the same limits and the same sentences.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from ..errors import InputError, nearest
from ..filled import filled, inside, item, setting
from . import tables
from .bath import Batch, Bath, Supply
from .options import Cut, Effort, Hang, Hanger, Sheet
from .part import Coat, PartSection, Print, Wire
from .schema import read, shown, specs, write
from .sections import check_anode, check_direction, check_tank, placed, read_bath, read_coat, read_part, read_tank
from .tank import Anode, Body, Place, Rack, Tank
from .target import Target


@dataclass(frozen=True)
class Job:
    """Everything that a study reads, apart from the part itself.

    anodes : None if unspecified, which means two plates; () means none
    given : keys that were written ("target.thickness_um", "anode"); None where that is not known, as in the panels
    """

    part: PartSection = field(default_factory=PartSection)
    target: Target = field(default_factory=Target)
    bath: Bath = field(default_factory=Bath)
    batch: Batch = field(default_factory=Batch)
    tank: Tank = field(default_factory=Tank)
    anodes: tuple[Anode, ...] | None = None
    shields: tuple[Body, ...] = ()
    thieves: tuple[Body, ...] = ()
    place: Place = field(default_factory=Place)
    rack: Rack = field(default_factory=Rack)
    coat: Coat = field(default_factory=Coat)
    wires: tuple[Wire, ...] = ()
    supply: Supply = field(default_factory=Supply)
    hang: Hang = field(default_factory=Hang)
    hanger: Hanger = field(default_factory=Hanger)
    print: Print = field(default_factory=Print)
    cut: Cut = field(default_factory=Cut)
    sheet: Sheet = field(default_factory=Sheet)
    effort: Effort = field(default_factory=Effort)
    specified: frozenset[str] | None = field(default=None, compare=False)

    @property
    def is_metal(self) -> bool:
        """Whether the part itself is of metal: its coat has no resistance, and no plastic is named for it."""
        return self.coat.sheet_resistance == 0 and "part.material" not in (self.specified or ())

    @property
    def fixed_tank(self) -> Tank:
        """The tank, where it is given; liquid without end where it will be chosen to fit the part."""
        return Tank(shape="open") if self.tank.assumed else self.tank


# Section of the job file -> (field of Job, class, repeated)
SECTIONS: dict[str, tuple[str, type, bool]] = {
    "part": ("part", PartSection, False),
    "target": ("target", Target, False),
    "bath": ("bath", Bath, False),
    "batch": ("batch", Batch, False),
    "tank": ("tank", Tank, False),
    "anode": ("anodes", Anode, True),
    "shield": ("shields", Body, True),
    "thief": ("thieves", Body, True),
    "place": ("place", Place, False),
    "rack": ("rack", Rack, False),
    "coat": ("coat", Coat, False),
    "wire": ("wires", Wire, True),
    "supply": ("supply", Supply, False),
    "hang": ("hang", Hang, False),
    "hanger": ("hanger", Hanger, False),
    "print": ("print", Print, False),
    "cut": ("cut", Cut, False),
    "sheet": ("sheet", Sheet, False),
    "effort": ("effort", Effort, False),
}


def read_job(table: Mapping[str, Any], source: str = "job", folder: str = "") -> Job:
    """A job from the tables of a job file.

    source : what to call the file in a fault; folder : where relative file names start.
    Raises InputError naming the file, the key, and what is known or allowed.
    """
    values: dict[str, Any] = {}
    for name, content in table.items():
        if name not in SECTIONS:
            raise InputError(filled("{path}: {fault}", path=source, fault=_unknown(name, content)))
        attribute, section, repeated = SECTIONS[name]
        where = setting(name, source)
        if repeated:
            if content is None:
                continue
            if not isinstance(content, list | tuple):
                raise InputError(
                    filled("{path}: [{name}] can stand several times; write it as [[{name}]]", path=source, name=name)
                )
            values[attribute] = tuple(
                read(section, placed(entry, folder), item(where, i)) for i, entry in enumerate(content)
            )
        else:
            if not isinstance(content, Mapping):
                raise InputError(
                    filled("{path}: [{name}] is one table of settings; write it as [{name}]", path=source, name=name)
                )
            values[attribute] = _reader(name, section)(placed(content, folder), where)
    values.setdefault("bath", read_bath({}, setting("bath", source)))
    values.setdefault("coat", read_coat({}, setting("coat", source)))
    job = Job(**values, specified=frozenset(_keys_of(table)))
    _check(job, source)
    return job


def write_job(job: Job) -> dict[str, Any]:
    """The tables that `read_job` turns into this job, every default filled in."""
    out: dict[str, Any] = {}
    for name, (attribute, _, repeated) in SECTIONS.items():
        value = getattr(job, attribute)
        if repeated:
            out[name] = None if value is None else [write(entry) for entry in value]
        else:
            out[name] = write(value)
    out["bath"] |= {"kinetics": write(job.bath.kinetics), "anode_kinetics": write(job.bath.anode_kinetics)}
    out["bath"]["measured"] = None if job.bath.measured is None else write(job.bath.measured)
    return out


def _keys_of(table: Mapping[str, Any]) -> Iterator[str]:
    """The keys that a job file writes, each with its section: those of [bath.kinetics] with both."""
    for name, content in table.items():
        if not isinstance(content, Mapping):
            yield from [name] * (content is not None)
            continue
        for key, value in content.items():
            if isinstance(value, Mapping):
                yield from (f"{name}.{key}.{inner}" for inner in value)
            if value is not None:
                yield f"{name}.{key}"


def _unknown(name: str, content: Any) -> str:
    """The error for an unknown section of a job file."""
    owners = [section for section, (_, kind, _) in SECTIONS.items() if name in _keys(kind)]
    if owners and not isinstance(content, Mapping):
        return filled("{label} stands outside a section; put it under [{name}]", label=shown(name), name=owners[0])
    return filled("unknown section [{label}]; {help}", label=shown(name)[1:-1], help=nearest(name, SECTIONS))


def _keys(section: type) -> set[str]:
    return {spec.key for spec in specs(section).values()}


def _reader(name: str, section: type) -> Callable[[Mapping[str, Any], str], Any]:
    special = {"part": read_part, "bath": read_bath, "coat": read_coat, "tank": read_tank}
    return special.get(name, lambda table, where: read(section, table, where))


def _check(job: Job, source: str) -> None:
    """Raises InputError where settings contradict each other, though each by itself is allowed."""
    check_direction(job.part.up, setting("part.up", source))
    check_direction(job.print.up, setting("print.up", source))
    low, high = job.bath.window
    if not low < high:
        raise InputError(
            filled("{path}: {bath.window_A_dm2}: the lower limit must be below the upper one", path=source)
        )
    if job.rack.turns and len(job.rack.turns) != len(job.rack.positions):
        raise InputError(
            filled(
                "{path}: {rack.turns_deg}: {turns} turns for {positions} positions; give one a position",
                path=source,
                turns=len(job.rack.turns),
                positions=len(job.rack.positions),
            )
        )
    tables.plastic(job.part.material, setting("part.material", source))
    check_tank(job.tank, setting("tank", source))
    for i, anode in enumerate(job.anodes or ()):
        check_anode(anode, item(setting("anode", source), i))
    for kind, bodies in (("shield", job.shields), ("thief", job.thieves)):
        for i, body in enumerate(bodies):
            if not body.file:
                raise InputError(
                    filled(
                        "{path} is missing; name the body's mesh", path=inside(item(setting(kind, source), i), "file")
                    )
                )
