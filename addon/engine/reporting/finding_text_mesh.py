"""The sentences of findings on the model: what happens, then what to do."""

from __future__ import annotations

from collections.abc import Mapping

from ..findings import Code, Finding
from ..findings import Quantity as Of
from . import skip_text
from .filled import filled, joined
from .finding_template import Template, counts, name, percent, says, shown, significant, two_digits
from .words import by_number

_CLOSE = (
    "Fill the holes (in Edit Mode: Mesh > Clean Up > Fill Holes), or give a sheet its thickness (modifier: Solidify)."
)


def _open(f: Finding) -> str:
    if f.shown(Of.SIDES) == 2:
        counted = by_number(
            f.shown(Of.COUNT),
            "The surface has {count} open edge (it is not watertight): its area is counted as it is, on"
            " both sides where it is a sheet, but it has no volume to weigh.",
            "The surface has {count} open edges (it is not watertight): its area is counted as it is, on"
            " both sides where it is a sheet, but it has no volume to weigh.",
        )
    else:
        counted = by_number(
            f.shown(Of.COUNT),
            "The surface has {count} open edge (it is not watertight): its area is counted as it is, on"
            " one side, but it has no volume to weigh.",
            "The surface has {count} open edges (it is not watertight): its area is counted as it is, on"
            " one side, but it has no volume to weigh.",
        )
    return joined([counted, _floating(f), _CLOSE])


def _floating(f: Finding) -> str:
    """What is known of floating for a part without volume: the bound of `hanging.suggest`, if computed."""
    if Of.MASS not in f.quantities:
        return "Weight and floating are unknown."
    if not f.shown(Of.MASS) > 0:
        return "It sinks all the same: its walls alone are heavier than the bath that it displaces, holes closed."
    return filled("It may float, by {mass} g at most.", mass=two_digits(f, Of.MASS))


def _non_manifold(f: Finding) -> str:
    crowded = by_number(
        f.shown(Of.COUNT),
        "{count} edge is shared by more than two faces (non-manifold): walls that end inside the part are counted as"
        " area although no liquid may reach them.",
        "{count} edges are shared by more than two faces (non-manifold): walls that end inside the part are counted as"
        " area although no liquid may reach them.",
    )
    join = "Join the bodies into one, or delete the inner walls."
    return joined([crowded, _floating(f), join] if f.names["encloses"] == "no volume" else [crowded, join])


def _turned(f: Finding) -> str:
    shells = f.shown(Of.SHELLS)
    if not shells:
        return by_number(
            f.shown(Of.COUNT),
            "{count} face looks the wrong way (normals): it is turned for the computation only."
            " Recalculate the normals outward to repair the model.",
            "{count} faces look the wrong way (normals): they are turned for the computation only."
            " Recalculate the normals outward to repair the model.",
        )
    closed = by_number(shells, "{count} closed shell", "{count} closed shells")
    return by_number(
        f.shown(Of.COUNT),
        "{count} face looks the wrong way (normals), among them {shells} inside out: they are turned"
        " for the computation only. Recalculate the normals outward to repair the model.",
        "{count} faces look the wrong way (normals), among them {shells} inside out: they are turned"
        " for the computation only. Recalculate the normals outward to repair the model.",
        shells=closed,
    )


TEMPLATES: Mapping[Code, Template] = {
    Code.WRONG_SCALE: says(
        "The part is {length} mm long: is that right? If it was made in {made_in} and read as"
        " {read_as}, it would be {likely_length} mm; then correct the unit of the file or the scale"
        " of the scene, because area and current are off by the square of it.",
        length=shown(Of.LENGTH, ".4g"),
        likely_length=significant(Of.LIKELY_LENGTH, 3),
        made_in=name("made_in"),
        read_as=name("read_as"),
    ),
    Code.OBJECT_SKIPPED: skip_text.of_finding,
    Code.MESH_OPEN: _open,
    Code.MESH_NON_MANIFOLD: _non_manifold,
    Code.FACES_TURNED: _turned,
    Code.ONE_SIDED: counts(
        Of.SHELLS,
        "{count} shell has no inside and outside (a one-sided surface): the area is counted, but not"
        " the volume, and gas and shielding there may be wrong. Cut and rejoin it.",
        "{count} shells have no inside and outside (one-sided surfaces): the area is counted, but not"
        " the volume, and gas and shielding there may be wrong. Cut and rejoin them.",
    ),
    Code.SHELLS_ENCLOSED: counts(
        Of.SHELLS,
        "{count} shell lies wholly inside another and is taken as sealed off: no liquid gets there, so that surface is"
        " not counted, and a hollow holds air. Give a hollow that should be plated an opening; delete the shell where"
        " the part should be solid.",
        "{count} shells lie wholly inside another and are taken as sealed off: no liquid gets there, so that surface is"
        " not counted, and a hollow holds air. Give a hollow that should be plated an opening; delete the shell where"
        " the part should be solid.",
    ),
    Code.SHELLS_OVERLAP: counts(
        Of.SHELLS,
        "{count} closed shell runs into itself: about {area} cm2 ({share} %) of the counted area lies inside the solid"
        " where no liquid touches it, so the current would be too high by as much, and the volume counts the overlap"
        " twice. Join the bodies into one (boolean union).",
        "{count} closed shells run into each other: about {area} cm2 ({share} %) of the counted area lies inside the"
        " solid where no liquid touches it, so the current would be too high by as much, and the volume counts the"
        " overlap twice. Join the bodies into one (boolean union).",
        area=significant(Of.AREA, 2),
        share=percent(Of.SHARE, digits=2),
    ),
    Code.BODIES_APART: says(
        "The part is {count} bodies that do not touch: floating and hanging are calculated as if they were one. Plan"
        " each alone, or give each a wire that holds it.",
        count=shown(Of.COUNT, ".0f"),
    ),
    Code.POINTS_WELDED: counts(
        Of.COUNT,
        "{count} point lies exactly where another does, so faces are not joined there; they are taken"
        " as one here and your model is unchanged. Merge by distance to repair it.",
        "{count} points lie exactly where another does, so faces are not joined there; they are taken"
        " as one here and your model is unchanged. Merge by distance to repair it.",
    ),
    Code.EDGES_CLOSED: counts(
        Of.COUNT,
        "{count} open edge is closed here by merging points that are equal in single precision; your"
        " model is unchanged. Merge by distance to repair it.",
        "{count} open edges are closed here by merging points that are equal in single precision;"
        " your model is unchanged. Merge by distance to repair it.",
    ),
    Code.FACES_REPEATED: counts(
        Of.COUNT,
        "{count} face lies on another with the same corners; each place is counted once. Delete the doubles (merge by"
        " distance).",
        "{count} faces lie on another with the same corners; each place is counted once. Delete the doubles (merge by"
        " distance).",
    ),
    Code.INNER_WALLS: counts(
        Of.COUNT,
        "{count} face lies where two bodies touch: no liquid gets there, so they are not counted. Join the bodies into"
        " one (boolean union).",
        "{count} faces lie where two bodies touch: no liquid gets there, so they are not counted. Join the bodies into"
        " one (boolean union).",
    ),
    Code.FACES_DEGENERATE: counts(
        Of.COUNT,
        "{count} face has no area: nothing plates there and no figure changes. Dissolve degenerate"
        " geometry to remove it.",
        "{count} faces have no area: nothing plates there and no figure changes. Dissolve degenerate"
        " geometry to remove them.",
    ),
}
