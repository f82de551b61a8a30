"""Settings of the part: how it is printed, coated and wired."""

from __future__ import annotations

from dataclasses import dataclass

from ..units import GRAM_PER_ML, HOUR, LENGTH, MM, UM
from .schema import number, text
from .tank import Vector


@dataclass(frozen=True)
class PartSection:
    """The model, and how it is printed."""

    file: str = text("file", "", "Model file: .stl, .obj, .ply, .glb or .blend", label="Model")
    object: str = text("object", "", "Name of the object in a .blend file", label="Object")
    unit: str = text(
        "unit",
        "mm",
        "What one unit of the file means; 'scene' is the unit scale of a .blend",
        label="Unit of the file",
        choices=(*LENGTH, "scene"),
    )
    up: Vector = number("up", (0.0, 0.0, 1.0), "Which way of the model points up in the bath", label="Up", size=3)
    hang: str = text(
        "hang",
        "auto",
        "Way up used for all calculations: as the search recommends, or as set here; auto: as"
        " recommended unless the job places something in the tank",
        label="Hanging",
        choices=("auto", "recommended", "as set"),
    )
    mask: str = text(
        "mask", "plating_mask", "Face attribute: true on faces that are not to be plated", label="Masked faces"
    )
    show: str = text(
        "show",
        "show_face",
        "Face attribute: true on visible faces; contacts are kept off them",
        label="Visible faces",
    )
    material: str = text(
        "material", "PLA", "Plastic of the print: its density and softening temperature", label="Plastic"
    )
    walls: float = number(
        "walls_mm",
        1.2 * MM,
        "Thickness of the printed shell",
        label="Walls",
        unit="mm",
        scale=MM,
        low=0.1,
        high=100,
    )
    infill: float = number(
        "infill",
        0.15,
        "Share of the inside that is filled with plastic; 1 is solid",
        label="Infill",
        low=0,
        high=1,
    )
    sheet_sides: int = number(
        "sheet_sides",
        1,
        "How many sides of an open sheet without thickness the liquid touches",
        label="Wetted sides of sheets",
        low=1,
        high=2,
    )


@dataclass(frozen=True)
class Coat:
    """The conductive coat. A sheet resistance of zero means a metal part."""

    name: str = text("name", "copper paint", "Coat preset", label="Coat")
    sheet_resistance: float = number(
        "sheet_resistance_ohm_sq",
        0.5,
        "Sheet resistance of the dry coat: measure it",
        label="Sheet resistance",
        unit="ohm/sq",
        low=0,
        high=1e6,
        least=1e-6,
    )
    thickness: float = number(
        "thickness_um",
        30 * UM,
        "Thickness of the dry coat",
        label="Coat thickness",
        unit="um",
        scale=UM,
        low=0,
        high=1000,
    )
    density: float = number(
        "density_g_mL",
        3000.0,
        "Density of the dry coat",
        label="Coat density",
        unit="g/mL",
        scale=GRAM_PER_ML,
        low=0.1,
        high=20,
    )
    bath_life: float = number(
        "bath_life_h",
        2 * HOUR,
        "Life of the bare coat in the bath: the coat is refused if metal has not covered half of the part by then",
        label="Life in bath",
        unit="h",
        scale=HOUR,
        low=0.01,
        high=10000,
    )


@dataclass(frozen=True)
class Wire:
    """A contact on the part, in model coordinates."""

    point: Vector | None = number(
        "point_mm", None, "Where the wire touches the part", label="Contact", unit="mm", scale=MM, size=3
    )
    pad: float = number(
        "pad_mm", 3 * MM, "Diameter of the contact", label="Contact size", unit="mm", scale=MM, low=0.1, high=100
    )
    name: str = text("name", "", "Name; default: wire and its number", label="Name")


@dataclass(frozen=True)
class Print:
    """How the part is printed."""

    layer: float = number(
        "layer_mm", 0.05 * MM, "Layer height", label="Layer height", unit="mm", scale=MM, low=0.001, high=5
    )
    filler: float = number(
        "filler_um",
        0.0,
        "Mean thickness of filler that is sprayed on the print and sanded flush before the coat: it fills layer steps",
        label="Filler",
        unit="um",
        scale=UM,
        low=0,
        high=2000,
    )
    up: Vector = number(
        "up", (0.0, 0.0, 1.0), "Which way of the model points up on the printer", label="Up on the printer", size=3
    )
