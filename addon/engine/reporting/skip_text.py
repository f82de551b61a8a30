"""What capture left out, in words: the name, the reason, and what helps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from ..findings import Finding, Quantity
from ..mesh.skipped import Skipped, Why
from .filled import filled

EDITABLE = ("curve", "surface", "font")  # types of objects that get faces by a setting


def text(skipped: Skipped) -> str:
    """One thing that was left out, its name in front."""
    return filled("{name}: {why}", name=skipped.name, why=TEMPLATES[skipped.why](skipped))


def texts(skipped: Iterable[Skipped]) -> list[str]:
    """Each thing that was left out, in order."""
    return [text(skip) for skip in skipped]


def of_finding(finding: Finding) -> str:
    """The sentence of the finding `object-skipped`."""
    names, quantities = finding.names, finding.quantities
    count, total = (int(quantities.get(quantity, 0)) for quantity in (Quantity.COUNT, Quantity.TOTAL))
    why, detail, owner = Why(names["why"]), names.get("detail", ""), names.get("owner", "")
    return text(Skipped(why, names["object"], detail, owner, count, total))


def _flat(skipped: Skipped) -> str:
    if not skipped.detail:
        return "is scaled to nothing along an axis; give it a scale other than zero"
    return filled(
        "is scaled to nothing along an axis; the driver of '{path}' of {name} does not run, where scripts are disabled"
        " or wrong; put its value in its place",
        path=skipped.detail,
        name=skipped.owner,
    )


def _driver(skipped: Skipped) -> str:
    return filled(
        "the driver of '{path}' of {name} does not run, where scripts are disabled or wrong; put its value in its"
        " place",
        path=skipped.detail,
        name=skipped.owner,
    )


def _no_faces(skipped: Skipped) -> str:
    if skipped.detail in EDITABLE:
        return filled(
            "this {kind} has no faces; give it a bevel, an extrusion or a fill, or leave it out", kind=skipped.detail
        )
    return filled("this {kind} has no faces; choose a mesh with a surface", kind=skipped.detail)


def _no_surface(skipped: Skipped) -> str:
    return filled("{kind} objects have no surface; it was left out", kind=skipped.detail)


def _no_attribute(skipped: Skipped) -> str:
    return filled("has no face attribute '{name}'; none of its faces is marked", name=skipped.detail)


def _wrong_attribute(skipped: Skipped) -> str:
    return filled(
        "attribute '{name}' is {label}, not BOOLEAN on FACE; it was not used", name=skipped.detail, label=skipped.owner
    )


def _faces(template: str) -> Callable[[Skipped], str]:
    return lambda skip: filled(template, count=skip.count, total=skip.total)


TEMPLATES: Mapping[Why, Callable[[Skipped], str]] = {
    Why.HIDDEN: lambda skip: "is hidden; show it in the viewport, or leave it out of the selection",
    Why.SCULPTED: lambda skip: "is being sculpted with dynamic topology; leave Sculpt mode first",
    Why.FLAT: _flat,
    Why.DRIVER: _driver,
    Why.NO_FACES: _no_faces,
    Why.NO_SURFACE: _no_surface,
    Why.NO_ATTRIBUTE: _no_attribute,
    Why.WRONG_ATTRIBUTE: _wrong_attribute,
    Why.DEGENERATE: _faces("{count} of {total} faces name a point twice and were left out"),
    Why.DOUBLED: _faces("{count} of {total} faces are doubled or name a point twice and were left out"),
}
