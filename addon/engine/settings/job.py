"""What is wanted: the sections of a job put together, from a job file or from the panels.

Both go through `read_job`, so both meet the same limits and the same sentences.
"""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from .. import inputs
from ..errors import InputError, nearest
from ..filled import filled
from ..units import in_mm
from . import conductivity, tables
from .bath import Batch, Bath, Kinetics, Measured, Supply
from .options import Cut, Effort, Hang, Hanger, Sheet
from .part import Coat, PartSection, Print, Wire
from .schema import MAX_ROUNDING, read, shown, specs, write
from .tank import Anode, Body, Place, Rack, Tank, Vector
from .target import Target

LAWS = ("kinetics", "anode_kinetics")  # tables within [bath]: of the part and of the anodes
MODELS = (".stl", ".obj", ".ply", ".glb", ".blend")
PICTURES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp")  # of a maker's mark
FILE_KEYS = {"file": (*MODELS, ".toml"), "logo": PICTURES}  # keys that name a file where it ends like one


@dataclass(frozen=True)
class Job:
    """Everything that a study reads, apart from the part itself.

    anodes : None where nothing is said of them, which means two plates; () means that there is none
    said : keys that were written ("target.thickness_um", "anode"); None where that is not known, as in the panels
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
    said: frozenset[str] | None = field(default=None, compare=False)

    @property
    def is_metal(self) -> bool:
        """Whether the part itself is of metal: its coat has no resistance, and no plastic is named for it."""
        return self.coat.sheet_resistance == 0 and "part.material" not in (self.said or ())

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


def load_job(path: str | os.PathLike[str]) -> Job:
    """A job from a job file (.toml), or the defaults for a bare model file.

    File names inside a job file start from its folder. Raises InputError, in one line, where the file cannot be
    read, is no TOML, names no part, or where a setting is not usable.
    """
    file = Path(path)
    kind = file.suffix.lower()
    if kind == ".toml":
        job = read_job(tables.toml(file), str(file), str(file.parent))
        if not job.part.file:
            raise InputError(filled('{path}: part.file is missing; add [part] with file = "model.stl"', path=file))
        key = f"{file}: part.file"
    elif kind in MODELS:
        job, key = read_job({"part": {"file": str(file)}}, str(file)), str(file)
    else:
        raise InputError(
            filled("{path}: neither a job file (.toml) nor a model file ({label})", path=file, label=", ".join(MODELS))
        )
    _check_model(job.part.file, key)
    return job


def jobs_in(name: str) -> list[str]:
    """The jobs that a name stands for: itself, or of a folder its job files by name, or its models where it has none. A
    folder with neither stays, to be told when its turn comes: it spoils no other job of a call."""
    if not os.path.isdir(name):
        return [name]
    there = sorted(path for path in Path(name).iterdir() if path.is_file() and not path.name.startswith("."))
    found = [path for path in there if path.suffix.lower() == ".toml"]
    found = found or [path for path in there if path.suffix.lower() in MODELS]
    return [str(path) for path in found] or [name]


def files_read(path: Path) -> list[Path]:
    """The files that a job reads, as far as it can be told without reading it right: the job file, and what any of its
    sections calls its file."""
    found = [path]
    if path.suffix.lower() == ".toml":
        try:
            table = tables.toml(path)
        except InputError:
            return found
        for content in table.values():
            for section in content if isinstance(content, list) else [content]:
                placed = _placed(section, str(path.parent)) if isinstance(section, Mapping) else {}
                for key, endings in FILE_KEYS.items():
                    if isinstance(name := placed.get(key), str) and name.lower().endswith(endings):
                        found.append(Path(name))
    return found


def _check_model(name: str, where: str) -> None:
    model = Path(name)
    if model.suffix.lower() not in MODELS:
        raise InputError(
            filled(
                "{path}: '{name}' is no model file; give one of {label}", path=where, name=name, label=", ".join(MODELS)
            )
        )
    if os.path.lexists(name):
        inputs.size(model, sys.maxsize, "")
    else:
        raise InputError(filled("{path}: there is no file '{name}'; check the name", path=where, name=name))


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
        where = f"{source}: {name}"
        if repeated:
            if content is None:
                continue
            if not isinstance(content, list | tuple):
                raise InputError(
                    filled("{path}: [{name}] can stand several times; write it as [[{name}]]", path=source, name=name)
                )
            values[attribute] = tuple(
                read(section, _placed(item, folder), f"{where}[{i}]") for i, item in enumerate(content)
            )
        else:
            if not isinstance(content, Mapping):
                raise InputError(
                    filled("{path}: [{name}] is one table of settings; write it as [{name}]", path=source, name=name)
                )
            values[attribute] = _reader(name, section)(_placed(content, folder), where)
    values.setdefault("bath", _read_bath({}, f"{source}: bath"))
    values.setdefault("coat", _read_coat({}, f"{source}: coat"))
    job = Job(**values, said=frozenset(_said(table)))
    _check(job, source)
    return job


def write_job(job: Job) -> dict[str, Any]:
    """The tables that `read_job` turns into this job, every default filled in."""
    out: dict[str, Any] = {}
    for name, (attribute, _, repeated) in SECTIONS.items():
        value = getattr(job, attribute)
        if repeated:
            out[name] = None if value is None else [write(item) for item in value]
        else:
            out[name] = write(value)
    out["bath"] |= {"kinetics": write(job.bath.kinetics), "anode_kinetics": write(job.bath.anode_kinetics)}
    out["bath"]["measured"] = None if job.bath.measured is None else write(job.bath.measured)
    return out


def _said(table: Mapping[str, Any]) -> Iterator[str]:
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
    """What to say of a name at the top of a job file that is no section."""
    owners = [section for section, (_, kind, _) in SECTIONS.items() if name in _keys(kind)]
    if owners and not isinstance(content, Mapping):
        return filled("{label} stands outside a section; put it under [{name}]", label=shown(name), name=owners[0])
    return filled("unknown section [{label}]; {help}", label=shown(name)[1:-1], help=nearest(name, SECTIONS))


def _keys(section: type) -> set[str]:
    return {spec.key for spec in specs(section).values()}


def _placed(content: Any, folder: str) -> Any:
    """A section with its relative file names put into the job file's folder."""
    if not folder or not isinstance(content, Mapping):
        return content
    moved = {
        key: os.path.normpath(os.path.join(folder, name))
        for key, endings in FILE_KEYS.items()
        if isinstance(name := content.get(key), str) and not os.path.isabs(name) and name.lower().endswith(endings)
    }  # what is no file may be the name of an object
    return {**content, **moved} if moved else content


def _reader(name: str, section: type) -> Callable[[Mapping[str, Any], str], Any]:
    special = {"part": _read_part, "bath": _read_bath, "coat": _read_coat, "tank": _read_tank}
    return special.get(name, lambda table, where: read(section, table, where))


def _read_part(table: Mapping[str, Any], where: str) -> PartSection:
    """Only a .blend has a scene to take the unit from, and only where the job asks for it."""
    part = read(PartSection, table, where)
    if part.unit == "scene" and not part.file.lower().endswith(".blend"):
        raise InputError(filled("{path}.unit: only a .blend has a scene; give mm, cm, m or inch", path=where))
    return part


def _read_bath(table: Mapping[str, Any], where: str) -> Bath:
    """The values of the bath table, and over them those of the job."""
    own = dict(table)
    readings = own.pop("measured", None)
    name, base = tables.bath(own.get("name"), own.get("file", ""), where)
    entry = f"{own.get('file') or 'data/baths.toml'}: {shown(name)}"
    laws = {}
    for key in LAWS:
        law = own.pop(key, {})
        if not isinstance(law, Mapping):
            raise InputError(
                filled(
                    '{path}.{label}: expected {{ kind = "tafel", ... }}, found {label_2}',
                    path=where,
                    label=key,
                    label_2=shown(law),
                )
            )
        usual = base.pop(key, {})
        if not isinstance(usual, Mapping):
            raise InputError(
                filled(
                    '{path}: {label}: expected {{ kind = "tafel", ... }}, found {label_2}',
                    path=entry,
                    label=key,
                    label_2=shown(usual),
                )
            )
        laws[key] = {**usual, **law}
    if not laws["anode_kinetics"]:
        laws["anode_kinetics"] = {"kind": "none"}
    read(Bath, base, entry)
    bath = read(Bath, {**base, **own, "name": name}, where)
    cathode, anode = (read(Kinetics, laws[key], f"{where}.{key}") for key in LAWS)
    bath = replace(bath, kinetics=cathode, anode_kinetics=anode)
    if readings is None:
        return bath
    measured = read(Measured, readings, f"{where}.measured")
    found = conductivity.of(measured, f"{where}.measured").value
    if own.get("conductivity_S_m") is not None and abs(bath.conductivity / found - 1.0) > MAX_ROUNDING:
        raise InputError(
            filled(
                "{path}: conductivity_S_m is {conductivity}, but the readings under measured give {found};"
                " leave one of them out",
                path=where,
                conductivity=f"{bath.conductivity:.4g}",
                found=f"{found:.4g}",
            )
        )
    return replace(bath, conductivity=found, measured=measured)


def _read_coat(table: Mapping[str, Any], where: str) -> Coat:
    return read(Coat, {**tables.coat(table.get("name", Coat.name), where), **table}, where)


def _read_tank(table: Mapping[str, Any], where: str) -> Tank:
    """A box has three sizes; a cylinder may leave the repeated diameter out."""
    own = dict(table)
    size = own.get("size_mm")
    if own.get("shape") == "cylinder" and isinstance(size, list | tuple) and len(size) == 2:
        own["size_mm"] = [size[0], *size]
    return read(Tank, own, where)


def _check(job: Job, source: str) -> None:
    """What no single key can tell."""
    _check_direction(job.part.up, f"{source}: part.up")
    _check_direction(job.print.up, f"{source}: print.up")
    low, high = job.bath.window
    if not low < high:
        raise InputError(filled("{path}: bath.window_A_dm2: the lower limit must be below the upper one", path=source))
    if job.rack.turns and len(job.rack.turns) != len(job.rack.positions):
        raise InputError(
            filled(
                "{path}: rack.turns_deg: {turns} turns for {positions} positions; give one a position",
                path=source,
                turns=len(job.rack.turns),
                positions=len(job.rack.positions),
            )
        )
    tables.plastic(job.part.material, f"{source}: part.material")
    _check_tank(job.tank, f"{source}: tank")
    for i, anode in enumerate(job.anodes or ()):
        _check_anode(anode, f"{source}: anode[{i}]")
    for kind, bodies in (("shield", job.shields), ("thief", job.thieves)):
        for i, body in enumerate(bodies):
            if not body.file:
                raise InputError(
                    filled("{path}: {label}.file is missing; name the body's mesh", path=source, label=f"{kind}[{i}]")
                )


def _check_direction(direction: Vector, where: str) -> None:
    if math.hypot(*direction) < 1e-6:
        raise InputError(
            filled(
                "{path}: {label} points nowhere; give a direction, e.g. [0, 0, 1]",
                path=where,
                label=list(direction),
            )
        )


def _check_tank(tank: Tank, where: str) -> None:
    if tank.shape == "mesh" and not tank.file:
        raise InputError(
            filled("{path}.file is missing; a tank of shape 'mesh' needs the mesh of its inside", path=where)
        )
    if tank.shape in ("box", "cylinder") and tank.level > tank.size[2]:
        depth = in_mm(tank.size[2])
        raise InputError(
            filled(
                "{path}.level_mm: {level} would run over a tank {depth} deep; lower it",
                path=where,
                level=in_mm(tank.level),
                depth=depth,
            )
        )
    if tank.shape == "cylinder" and tank.size[0] != tank.size[1]:
        raise InputError(filled("{path}.size_mm: a cylinder has one diameter; give [diameter, depth]", path=where))


def _check_anode(anode: Anode, where: str) -> None:
    if anode.file:
        return
    if anode.plate is None or anode.centre is None or anode.normal is None:
        raise InputError(
            filled(
                "{path}: a plate needs plate_mm, centre_mm and normal; add what is missing, or give a file", path=where
            )
        )
    _check_direction(anode.normal, f"{where}.normal")
