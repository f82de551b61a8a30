"""What capture left out, in words: the name, the reason, and what helps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from ..findings import Finding, Quantity
from ..mesh.skipped import Skipped, Why

EDITABLE = ("curve", "surface", "font")  # types of objects that get faces by a setting


def text(one: Skipped) -> str:
    """One thing that was left out, its name in front."""
    return f"{one.name}: {TEMPLATES[one.why](one)}"


def texts(skipped: Iterable[Skipped]) -> list[str]:
    """Each thing that was left out, in order."""
    return [text(one) for one in skipped]


def of_finding(finding: Finding) -> str:
    """What the finding `object-skipped` says."""
    names, quantities = finding.names, finding.quantities
    count, total = (int(quantities.get(one, 0)) for one in (Quantity.COUNT, Quantity.TOTAL))
    why, detail, owner = Why(names["why"]), names.get("detail", ""), names.get("owner", "")
    return text(Skipped(why, names["object"], detail, owner, count, total))


def _driver(one: Skipped) -> str:
    return (
        f"the driver of '{one.detail}' of {one.owner} does not run, where scripts are disabled or wrong; put its value"
        f" in its place"
    )


def _no_faces(one: Skipped) -> str:
    helps = "give it a bevel, an extrusion or a fill, or leave it out" if one.detail in EDITABLE else ""
    return f"this {one.detail} has no faces; {helps or 'choose a mesh with a surface'}"


TEMPLATES: Mapping[Why, Callable[[Skipped], str]] = {
    Why.HIDDEN: lambda one: "is hidden; show it in the viewport, or leave it out of the selection",
    Why.SCULPTED: lambda one: "is being sculpted with dynamic topology; leave Sculpt mode first",
    Why.FLAT: lambda one: (
        f"is scaled to nothing along an axis; {_driver(one) if one.detail else 'give it a scale other than zero'}"
    ),
    Why.DRIVER: _driver,
    Why.NO_FACES: _no_faces,
    Why.NO_SURFACE: lambda one: f"{one.detail} objects have no surface; it was left out",
    Why.NO_ATTRIBUTE: lambda one: f"has no face attribute '{one.detail}'; none of its faces is marked",
    Why.WRONG_ATTRIBUTE: lambda one: f"attribute '{one.detail}' is {one.owner}, not BOOLEAN on FACE; it was not used",
    Why.DEGENERATE: lambda one: f"{one.count} of {one.total} faces name a point twice and were left out",
    Why.DOUBLED: lambda one: f"{one.count} of {one.total} faces are doubled or name a point twice and were left out",
}
