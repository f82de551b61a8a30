"""Settings of the tank and everything in it: the tank itself, anodes, other bodies, and copies of the part."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

from ..units import MM
from .schema import NUMBERS, POINTS, number, switch, text

Vector: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True)
class Tank:
    """The vessel, in tank coordinates: x, y from the middle, z from the floor."""

    shape: str = text(
        "shape",
        "box",
        "Shape of the tank; 'open' is unbounded liquid",
        label="Tank",
        choices=("box", "cylinder", "mesh", "open"),
    )
    size: tuple[float, float, float] = number(
        "size_mm",
        (0.3, 0.2, 0.25),
        "Inside length, width, depth; a cylinder repeats its diameter",
        label="Tank inside",
        unit="mm",
        scale=MM,
        low=1,
        high=10000,
        size=3,
    )
    level: float = number(
        "level_mm", 0.22, "Depth of the liquid", label="Liquid level", unit="mm", scale=MM, low=1, high=10000
    )
    file: str = text("file", "", "Mesh of the inside of the tank", label="Mesh")
    plates: str = text(
        "plates_on",
        "long sides",
        "Sides of the tank on which the two anode plates stand where no anode is given",
        label="Anode plates on",
        choices=("long sides", "short sides"),
    )
    assumed: bool = False  # whether it was fitted to the part because none was specified


@dataclass(frozen=True)
class Anode:
    """A flat plate, or any surface from a file. Both sides of a plate are electrodes."""

    plate: tuple[float, float] | None = number(
        "plate_mm",
        None,
        "Width and height of a flat plate",
        label="Plate",
        unit="mm",
        scale=MM,
        low=0.1,
        high=10000,
        size=2,
    )
    centre: Vector | None = number(
        "centre_mm", None, "Middle of the plate", label="Middle", unit="mm", scale=MM, size=3
    )
    normal: Vector | None = number("normal", None, "Which way the plate faces", label="Facing", size=3)
    file: str = text("file", "", "Mesh of the anode, in tank coordinates and the part file's unit", label="Mesh")
    name: str = text("name", "", "Name; default: anode and its number", label="Name")


@dataclass(frozen=True)
class Body:
    """A shield (insulating) or a thief (conducting, on the cathode's potential)."""

    file: str = text("file", "", "Mesh of the body, in tank coordinates and the part file's unit", label="Mesh")
    name: str = text("name", "", "Name; default: its role and number", label="Name")


@dataclass(frozen=True)
class Place:
    """Where the middle of the part's bounding box hangs, in tank coordinates; None: the tank's middle."""

    centre: Vector | None = number("centre_mm", None, "Middle of the part", label="Middle", unit="mm", scale=MM, size=3)
    turn: float = number(
        "turn_deg",
        0.0,
        "Rotation of the part about the vertical in the tank; 0: as it is modeled, or stands in the scene",
        label="Rotation about vertical",
        unit="deg",
        scale=math.pi / 180,
    )
    half_turn: bool = switch(
        "half_turn",
        False,
        "Turn every part by 180 degrees about the vertical at half time, so that its back comes to the front",
        label="Rotate 180° at half time",
    )


@dataclass(frozen=True)
class Rack:
    """Copies of the part in the same tank, turned about the vertical."""

    positions: tuple[Vector, ...] = number(
        "positions_mm", (), "Middle of each copy", label="Positions", unit="mm", scale=MM, size=POINTS
    )
    turns: tuple[float, ...] = number(
        "turns_deg",
        (),
        "Turn of each copy about the vertical",
        label="Turns",
        unit="deg",
        scale=math.pi / 180,
        size=NUMBERS,
    )
    suggest: int = number(
        "suggest",
        0,
        "Number of copies to find a spacing for, from the current distribution; 0: none",
        label="Number of parts",
        low=0,
        high=60,
    )
    tolerance: float = number(
        "tolerance",
        0.1,
        "Largest deviation allowed of a copy's current, and of its deposit from that of a lone copy",
        label="Tolerance",
        low=0.005,
        high=0.9,
    )
