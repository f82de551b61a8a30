"""A job's file: read, found in a folder, and the files that it reads itself."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from .. import inputs
from ..errors import InputError
from ..filled import filled, setting
from . import tables
from .job import Job, read_job
from .sections import FILE_KEYS, MODELS, placed


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
            raise InputError(filled('{path}: {part.file} is missing; add [part] with file = "model.stl"', path=file))
        key: str = setting("part.file", str(file))
    elif kind in MODELS:
        job, key = read_job({"part": {"file": str(file)}}, str(file)), str(file)
    else:
        raise InputError(
            filled("{path}: neither a job file (.toml) nor a model file ({label})", path=file, label=", ".join(MODELS))
        )
    _check_model(job.part.file, key)
    return job


def jobs_in(name: str) -> list[str]:
    """The jobs that a name stands for: itself, or of a folder its job files by name, or its models where it has none.
    A folder with neither is kept and reported in its turn, so that it does not stop other jobs."""
    if not os.path.isdir(name):
        return [name]
    files = sorted(path for path in Path(name).iterdir() if path.is_file() and not path.name.startswith("."))
    jobs = [path for path in files if path.suffix.lower() == ".toml"]
    jobs = jobs or [path for path in files if path.suffix.lower() in MODELS]
    return [str(path) for path in jobs] or [name]


def files_read(path: Path) -> list[Path]:
    """The files that a job reads, as far as known without validating it: the job file, and what any of its
    sections calls its file."""
    files = [path]
    if path.suffix.lower() == ".toml":
        try:
            table = tables.toml(path)
        except InputError:
            return files
        for content in table.values():
            for section in content if isinstance(content, list) else [content]:
                own = placed(section, str(path.parent)) if isinstance(section, Mapping) else {}
                for key, endings in FILE_KEYS.items():
                    if isinstance(name := own.get(key), str) and name.lower().endswith(endings):
                        files.append(Path(name))
    return files


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
