"""The sentences of findings on the model, on gas and liquid, and on hanging: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ..findings import Code, Finding, RemedyCode
from ..findings import Quantity as Of
from ..trapping.bores import TRIFLE_VOLUME_M3
from ..units import MM, UM
from . import skip_text
from .filled import filled
from .plan_text import figure, point
from .words import listed

Template = Callable[[Finding], str]


def counted(number: float, noun: str) -> str:
    """ "1 face", "1,200 faces"."""
    return filled("{count} {noun}", count=f"{number:,.0f}", noun=noun if number == 1 else f"{noun}s")


def _is(number: float) -> str:
    return "is" if number == 1 else "are"


def _lies(number: float) -> str:
    return "lies" if number == 1 else "lie"


def _wrong_scale(f: Finding) -> str:
    length, likely = f.shown(Of.LENGTH), f.shown(Of.LIKELY_LENGTH)
    return (
        f"The part is {length:.4g} mm long: is that right? If it was made in {f.names['made_in']} and read as"
        f" {f.names['read_as']}, it would be {likely:.3g} mm; then correct the unit of the file or the scale of the"
        " scene, for area and current are off by the square of it."
    )


def _open(f: Finding) -> str:
    sides = "on both sides where it is a sheet" if f.shown(Of.SIDES) == 2 else "on one side"
    return (
        f"The surface has {counted(f.shown(Of.COUNT), 'open edge')} (it is not watertight): its area is counted as it"
        f" stands, {sides}, but it holds no volume, so weight and floating cannot be told. Fill the holes, or give a"
        " sheet its thickness."
    )


def _non_manifold(f: Finding) -> str:
    edges = f.shown(Of.COUNT)
    means = ", and weight and floating cannot be told" if f.names["encloses"] == "no volume" else ""
    return (
        f"{counted(edges, 'edge')} {_is(edges)} shared by more than two faces (non-manifold): walls that end inside"
        f" the part are counted as area although no liquid may reach them{means}. Join the bodies into one, or delete"
        " the inner walls."
    )


def _turned(f: Finding) -> str:
    faces, shells = f.shown(Of.COUNT), f.shown(Of.SHELLS)
    whole = f", among them {counted(shells, 'closed shell')} inside out" if shells else ""
    return (
        f"{counted(faces, 'face')} {'looks' if faces == 1 else 'look'} the wrong way (normals){whole}: they are turned"
        " for the computation only, for liquid is outside. Recalculate the normals outward to mend the model."
    )


def _one_sided(f: Finding) -> str:
    return (
        f"{counted(f.shown(Of.SHELLS), 'shell')} cannot be told inside from outside (a surface with one side): the area"
        " is counted, but not the volume, and gas and shelter there may be wrong. Cut and rejoin it."
    )


def _enclosed(f: Finding) -> str:
    shells = f.shown(Of.SHELLS)
    return (
        f"{counted(shells, 'shell')} {_lies(shells)} wholly inside another and {_is(shells)} taken as sealed off: no"
        " liquid gets there, so that surface is not counted, and a hollow holds air. Give a hollow that should be"
        " plated an opening; delete the shell where the part should be solid."
    )


def _overlap(f: Finding) -> str:
    shells = f.shown(Of.SHELLS)
    return (
        f"{counted(shells, 'closed shell')} {'runs into itself' if shells == 1 else 'run into each other'}: about"
        f" {f.shown(Of.AREA):.2g} cm2 ({100 * f.shown(Of.SHARE):.2g} %) of the counted area lies inside the solid where"
        " no liquid touches it, so the current would be too high by as much, and the volume counts the overlap twice."
        " Join the bodies into one (boolean union)."
    )


def _welded(f: Finding) -> str:
    places = f.shown(Of.COUNT)
    return (
        f"{counted(places, 'point')} {_lies(places)} exactly where another does, so that faces are not joined there;"
        " they are taken as one here and your model is unchanged. Merge by distance to mend it."
    )


def _closed(f: Finding) -> str:
    return (
        f"{counted(f.shown(Of.COUNT), 'open edge')} closed by taking as one the points that single precision cannot"
        " tell apart; your model is unchanged. Merge by distance to mend it."
    )


def _faces(one: str, more: str, effect: str) -> Template:
    """Faces that change nothing but want mending. one, more : the verb of one and of several"""

    def told(f: Finding) -> str:
        faces = f.shown(Of.COUNT)
        return f"{counted(faces, 'face')} {one if faces == 1 else more} {effect}"

    return told


def _gas(f: Finding) -> str:
    said = f"{figure(f.shown(Of.VOLUME), 2)} mL of gas stay under the part and leave {_area(f)} bare."
    if f.remedy is not None and f.remedy.code == RemedyCode.VENT:
        bore = figure(Of.DIAMETER.shown(f.remedy.quantities[Of.DIAMETER]), 2)
        more = len(f.remedy.places) - 1
        beside = f" and at {more} more" if more else ""
        pockets = " through the largest pocket" if f.shown(Of.COUNT) > 1 else ""
        at = point(f.remedy.places[0])
        left = f.remedy.quantities.get(Of.LEFT, 0.0)
        rest = f", which leaves {figure(Of.LEFT.shown(left), 2)} mL" if left >= TRIFLE_VOLUME_M3 else ""
        return f"{said} Dip it tilted, hang it another way, or cut a vent of {bore} mm{pockets} at {at}{beside}{rest}."
    return f"{said} Shake or tilt it out under the liquid, or hang the part another way."


def _held(f: Finding) -> str:
    said = f"The part carries {figure(f.shown(Of.VOLUME), 2)} mL of bath out when it is lifted."
    if f.remedy is not None and f.remedy.code == RemedyCode.DRAIN:
        bore = figure(Of.DIAMETER.shown(f.remedy.quantities[Of.DIAMETER]), 2)
        return f"{said} Cut a drain of {bore} mm at {point(f.remedy.places[0])}, or tip it empty over the tank."
    return f"{said} Tip it empty over the tank."


def _bubbles(f: Finding) -> str:
    return (
        f"Bubbles cling to {_area(f)} of nearly level undersides, which turn out matt or pitted. Shake it now and then."
    )


def _better(f: Finding) -> str:
    """What another way up would gain and cost."""
    gains: list[str] = []
    costs: list[str] = []
    for quantity, least, words in (
        (Of.GAS_GAIN, 0.05, "{} mL of gas"),
        (Of.AREA_GAIN, 0.1, "{} cm2 in gas or under bubbles"),
        (Of.HELD_GAIN, 0.05, "{} mL of bath carried out"),
    ):
        gain = f.shown(quantity)
        if abs(gain) >= least:
            (gains if gain > 0 else costs).append(words.format(figure(abs(gain), 2)))
    assert f.remedy is not None
    up = ", ".join(f"{round(f.remedy.quantities[axis], 2) + 0.0:g}" for axis in (Of.UP_X, Of.UP_Y, Of.UP_Z))
    more = f", at the price of {listed(costs)}" if costs else ""
    less = f" would save {listed(gains)}{more}" if gains else f" would be easier to hold{more}"
    return f"Another way up{less}: with the model's ({up}) up."


def _narrow(f: Finding) -> str:
    count = f.shown(Of.COUNT)
    which = f"{counted(count, 'opening')} {_is(count)} so narrow that bath may not enter"
    return (
        f"{which}, {figure(f.shown(Of.WIDTH), 2)} mm wide and {figure(f.shown(Of.DEPTH), 2)} mm deep at"
        f" {point(f.places[0])}: the inside will hardly plate. Widen or plug it."
    )


def _gap_closes(f: Finding) -> str:
    gap, layers = (figure(one, 2) for one in (f.shown(Of.GAP), f.shown(Of.THICKNESS) * UM / MM))
    return (
        f"A gap of {gap} mm at {point(f.places[0])} closes: coat and deposit of both sides are {layers} mm, on"
        f" {_area(f)}. Widen it in the model, or mask it."
    )


def _bore_closes(f: Finding) -> str:
    count = f.shown(Of.COUNT)
    which = f"{counted(count, 'bore')} {'closes' if count == 1 else 'close'}"
    return (
        f"{which}, the first of {figure(f.shown(Of.DIAMETER), 2)} mm at {point(f.places[0])}: coat and deposit are up"
        f" to {figure(f.shown(Of.THICKNESS), 2)} um all round. Model it wider, plug it, or drill it afterwards."
    )


def _wall_thin(f: Finding) -> str:
    wall, least = (figure(f.shown(one), 2) for one in (Of.WALLS, Of.WIDTH))
    left = f.shown(Of.WALLS) - f.shown(Of.THICKNESS) * UM / MM
    rest = f"{figure(left, 2)} mm are left" if left > 0 else "nothing is left"
    return (
        f"In a print-size copy walls get too thin to print on {_area(f)}: of {wall} mm at {point(f.places[0])} {rest},"
        f" less than one line of {least} mm. Thicken the model there, or print it as it is and let it grow."
    )


def _purpose_thin(f: Finding) -> str:
    now, then = (figure(f.shown(one), 2) for one in (Of.THICKNESS, Of.NEEDED_THICKNESS))
    return (
        f"For its purpose, {f.names['purpose']}, {now} um are too thin: set the thickness to {then} um (limited by"
        f" {f.names['limit']})."
    )


def _area(f: Finding) -> str:
    return f"{figure(f.shown(Of.AREA), 2)} cm2"


def _floats(f: Finding) -> str:
    end = "more than is wanted, so it floats to the end" if f.names["at_the_end"] == "floats" else "before the end"
    light, thick = (figure(f.shown(one), 2) for one in (Of.MASS, Of.THICKNESS))
    wire = f"Hold it on a rigid copper wire of {figure(f.shown(Of.DIAMETER), 2)} mm or more: no ballast then."
    ballast = figure(f.shown(Of.BALLAST), 2)
    flexible = f" On a flexible wire it wants {ballast} g of copper, lacquered." if f.shown(Of.BALLAST) > 0 else ""
    return f"The print floats: {light} g too light; it sinks once {thick} um are on it, {end}. {wire}{flexible}"


def _infill(f: Finding) -> str:
    return (
        f"The infill holds {f.shown(Of.VOLUME):.1f} mL of air. Where wall or coat leak, bath creeps in, up to"
        f" {f.shown(Of.MASS):.0f} g: seal the print, weigh it before and after."
    )


def _void(f: Finding) -> str:
    return (
        f"Sealed voids in the model hold {f.shown(Of.VOLUME):.1f} mL of air; flooded through a vent and a drain they"
        f" would pull {f.shown(Of.MASS):.1f} g more, and want rinsing out."
    )


def _walls(f: Finding) -> str:
    return (
        f"part.walls_mm: walls of {f.shown(Of.WALLS):g} mm meet everywhere inside, so the print counts as solid; check"
        " the value if it is not meant to be."
    )


def _off_part(f: Finding) -> str:
    at = point(f.places[0]).removesuffix(" mm").replace("(", "[").replace(")", "]")
    side = "inside the part" if f.names["side"] == "inside" else "off the part"
    return (
        f"wire.point_mm: {at} lies {f.shown(Of.DISTANCE):.1f} mm {side}, where no wire touches it; give a point on its"
        " surface, or leave it out and take a suggestion."
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.WRONG_SCALE: _wrong_scale,
    Code.OBJECT_SKIPPED: skip_text.of_finding,
    Code.MESH_OPEN: _open,
    Code.MESH_NON_MANIFOLD: _non_manifold,
    Code.FACES_TURNED: _turned,
    Code.ONE_SIDED: _one_sided,
    Code.SHELLS_ENCLOSED: _enclosed,
    Code.SHELLS_OVERLAP: _overlap,
    Code.POINTS_WELDED: _welded,
    Code.EDGES_CLOSED: _closed,
    Code.FACES_REPEATED: _faces(
        "lies",
        "lie",
        "on another with the same corners; each place is counted once. Delete the doubles (merge by distance).",
    ),
    Code.INNER_WALLS: _faces(
        "lies",
        "lie",
        "where two bodies touch: no liquid gets there, so they are not counted. Join the bodies into one (boolean"
        " union).",
    ),
    Code.FACES_DEGENERATE: _faces(
        "has",
        "have",
        "no area: nothing plates there and no figure changes. Dissolve degenerate geometry to be rid of them.",
    ),
    Code.GAP_CLOSES: _gap_closes,
    Code.BORE_CLOSES: _bore_closes,
    Code.WALL_THIN: _wall_thin,
    Code.PURPOSE_THIN: _purpose_thin,
    Code.GAS_TRAPPED: _gas,
    Code.LIQUID_HELD: _held,
    Code.BUBBLE_PRONE: _bubbles,
    Code.OPENINGS_NARROW: _narrow,
    Code.TRAPPING_OVERLAP: lambda f: (
        "Bodies touch or run into each other: gas and liquid that only several of them together hold are not seen."
        " Join the bodies into one (boolean union), then look again."
    ),
    Code.TRAPPING_PATCHED: lambda f: (
        "Gas and held liquid are computed as if each hole in the surface were closed by a flat patch, with the solid"
        " behind it."
    ),
    Code.BETTER_WAY_UP: _better,
    Code.FLOATS: _floats,
    Code.GAS_LIFTS: lambda f: (
        f"With its gas pockets full the part floats up, {f.shown(Of.MASS):.1f} g too light: vent it first."
    ),
    Code.GAS_SWINGS: lambda f: (
        f"Gas in its pockets swings the part by {f.shown(Of.SWING):.0f} degrees on its wire until it is vented."
    ),
    Code.INFILL_AIR: _infill,
    Code.VOID_AIR: _void,
    Code.WALLS_MEET: _walls,
    Code.WEIGHT_UNKNOWN: lambda f: f.names["reason"],
    Code.WIRE_OFF_PART: _off_part,
}
