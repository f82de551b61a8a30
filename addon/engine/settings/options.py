"""Options of a study: ranking weights, printed helpers, effort, the cut, the client's sheet."""

from __future__ import annotations

from dataclasses import dataclass

from ..units import MM
from .schema import number, switch, text


@dataclass(frozen=True)
class Hang:
    """What holds the part, and how much each fault of a way up counts when they are ranked."""

    hook: str = text(
        "hook",
        "one wire",
        "What holds the part: on one wire it swings freely, on two it swings about the line between"
        " them, a rigid hook keeps it as set",
        label="Held by",
        choices=("one wire", "two wires", "rigid"),
    )
    gas: float = number(
        "gas",
        6.0,
        "Weight of the share of the plated surface that gas keeps dry",
        label="Trapped gas",
        low=0,
        high=1000,
    )
    underside: float = number(
        "underside",
        1.0,
        "Weight of the share that faces down nearly level, where bubbles cling",
        label="Bubble-prone undersides",
        low=0,
        high=1000,
    )
    held: float = number(
        "held",
        1.0,
        "Weight of the bath carried out on lifting, as a share of the part's own volume",
        label="Drag-out",
        low=0,
        high=1000,
    )
    visible: float = number(
        "visible",
        1.0,
        "How much more a face that gas or bubbles spoil counts where it shows",
        label="Spoiled where visible",
        low=0,
        high=1000,
    )
    thin: float = number(
        "thin",
        1.0,
        "How much more such a face counts where the current distribution, if it is known, leaves it without"
        " deposit; in proportion where the deposit is only thinner than its mean",
        label="Spoiled where thin",
        low=0,
        high=1000,
    )
    show: float = number(
        "show",
        0.3,
        "Weight of the share of the visible faces that looks away from the anodes",
        label="Visible faces",
        low=0,
        high=1000,
    )
    mark: float = number(
        "mark",
        0.3,
        "Weight of a contact that must be on a visible face and leaves its mark there",
        label="Contact marks",
        low=0,
        high=1000,
    )
    hold: float = number(
        "hold",
        0.1,
        "Weight of what the hook cannot hold: half where two wires would, whole where only a rigid hook does",
        label="Ease of hanging",
        low=0,
        high=1000,
    )


@dataclass(frozen=True)
class Hanger:
    """Dimensions that printed helpers are made to."""

    rod: float = number(
        "rod_mm",
        8 * MM,
        "Diameter of the rod that lies across the tank",
        label="Rod diameter",
        unit="mm",
        scale=MM,
        low=2,
        high=40,
    )
    clearance: float = number(
        "clearance_mm",
        0.4 * MM,
        "Clearance between hanger and part, except at the tips of its fingers",
        label="Clearance",
        unit="mm",
        scale=MM,
        low=0.1,
        high=5,
    )
    cap_clearance: float = number(
        "cap_clearance_mm",
        0.15 * MM,  # pushed on by hand, it stays: common practice, no source
        "Clearance all around between a cap and the masked end. Increase it if the cap does not go on,"
        " decrease it if it does not stay",
        label="Cap Clearance",
        unit="mm",
        scale=MM,
        low=0.05,
        high=0.5,
    )
    rim: float = number(
        "rim_mm",
        4 * MM,
        "Thickness of the tank's wall at the rim, on which anode holders sit",
        label="Rim",
        unit="mm",
        scale=MM,
        low=0.5,
        high=60,
    )
    anode: float = number(
        "anode_mm",
        2 * MM,
        "Thickness of the anode plates that are held",
        label="Anode Thickness",
        unit="mm",
        scale=MM,
        low=0.2,
        high=30,
    )
    on_rods: bool = switch(
        "on_rods",
        False,
        "Lay the hanger's rod on the two rods of rack, shields or thief instead of the rim",
        label="Rod on Two Rods",
    )


@dataclass(frozen=True)
class Effort:
    """Quality settings of the calculations."""

    rays: int = number("rays", 64, "Rays from each face, for shielded areas", label="Rays per face", low=16, high=4096)
    directions: int = number(
        "directions", 300, "Hanging directions that the search tries", label="Directions tried", low=50, high=20000
    )
    panels: int = number("panels", 12000, "Panels of the current distribution", label="Panels", low=500, high=400000)
    skip: str = text("skip", "", "Analyses to leave out, separated by commas", label="Leave out")
    also: str = text(
        "also",
        "",
        "Analyses to add that run only where they are asked for, separated by commas: layouts, cut",
        label="Add",
    )


@dataclass(frozen=True)
class Cut:
    """The plane in which potential and current are shown."""

    way: str = text(
        "way",
        "through anodes",
        "Vertical through the nearest anode, vertical across that, or horizontal",
        label="Plane",
        choices=("through anodes", "across", "level"),
    )
    offset: float = number(
        "offset_mm",
        0.0,
        "Distance of the plane from the middle of the part",
        label="Offset",
        unit="mm",
        scale=MM,
        low=-10000,
        high=10000,
    )


FINISHES = ("bright", "satin", "patina")


@dataclass(frozen=True)
class Sheet:
    """Texts of the client's sheet beside the computed figures. Empty: a line to write on, or an empty place."""

    title: str = text("title", "", "Title of the client's sheet; empty: the name of the part", label="Title")
    project: str = text("project", "", "Project or order that the client's sheet names", label="Project")
    revision: str = text("revision", "", "Revision of the model that the client's sheet names", label="Revision")
    date: str = text("date", "", "Date on the client's sheet; empty: the day on which it is written", label="Date")
    logo: str = text("logo", "", "Picture file of your logo, for the empty place on the sheet", label="Own Mark")
    finish: str = text(
        "finish",
        FINISHES[0],
        "Finish of the metal: bright, satin, or darkened in sheltered places",
        label="Finish",
        choices=FINISHES,
    )
    clear: bool = switch(
        "clear",
        False,
        "Make the paper of a .png transparent, to lay the sheet over your own background",
        label="Clear Paper",
    )
