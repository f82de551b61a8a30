"""What capture left out of a part, as data; `reporting.skip_text` words it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Why(Enum):
    """Why an object, an attribute or some faces were left out."""

    HIDDEN = "hidden"
    SCULPTED = "sculpted"
    FLAT = "flat"  # scaled to nothing; detail: data path of a driver that does not run, owner: of what
    DRIVER = "driver"  # detail: data path of the driver that does not run, owner: of what
    NO_FACES = "no-faces"  # detail: type of an object that could have faces
    NO_SURFACE = "no-surface"  # detail: type of an object that has no surface
    NO_ATTRIBUTE = "no-attribute"  # detail: its name
    WRONG_ATTRIBUTE = "wrong-attribute"  # detail: its name, owner: what it is
    DEGENERATE = "degenerate"  # count of total faces
    DOUBLED = "doubled"  # count of total faces, or degenerate


@dataclass(frozen=True)
class Skipped:
    """name : of the object or file that it is about; detail, owner, count, total : as of its `Why`"""

    why: Why
    name: str
    detail: str = ""
    owner: str = ""
    count: int = 0
    total: int = 0
