"""What a panel draws, without a window: a layout that writes down labels, fields and buttons in place of drawing them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import bpy

HAS_DIGIT, HAS_LETTER = re.compile(r"\d"), re.compile(r"[^\W\d_]")


@dataclass
class Drawn:
    """What was drawn: texts in their order, buttons by operator, fields by property; numbers in fields.

    facts : the name on the left and what stands at the right edge, among the texts as well; dimmed : texts in gray
    """

    texts: list[str] = field(default_factory=list)
    dimmed: list[str] = field(default_factory=list)
    facts: list[tuple[str, str]] = field(default_factory=list)
    buttons: list[str] = field(default_factory=list)
    fields: list[str] = field(default_factory=list)
    field_numbers: int = 0

    @property
    def tokens(self) -> list[str]:
        return [token for text in self.texts for token in text.split()]

    @property
    def numbers(self) -> int:
        """Figures in texts, and in the fields that can be typed into."""
        return sum(bool(HAS_DIGIT.search(token)) for token in self.tokens) + self.field_numbers

    @property
    def words(self) -> int:
        """Everything else that is read, units as well."""
        return sum(bool(HAS_LETTER.search(token)) and not HAS_DIGIT.search(token) for token in self.tokens)


class Layout:
    """Stands in for bpy.types.UILayout."""

    def __init__(self, drawn: Drawn, beside: str = "", active: bool = True) -> None:
        self._drawn = drawn
        self._beside, self._label = beside, ""  # the label to the left of this layout; the latest in it
        self.scale_x = self.scale_y = 1.0
        self.alert = self.enabled = False
        self.active = active
        self.alignment = "EXPAND"

    def _inside(self, *_args: Any, **_kwargs: Any) -> Layout:
        return Layout(self._drawn, self._label, self.active)

    row = column = split = box = column_flow = grid_flow = _inside

    def label(self, text: str = "", icon: str = "NONE", **_rest: Any) -> None:
        self._drawn.texts.append(text)
        if not self.active:
            self._drawn.dimmed.append(text)
        self._label = text
        if self.alignment == "RIGHT":
            self._drawn.facts.append((self._beside, text))

    def separator(self, **_rest: Any) -> None:
        pass

    def progress(self, text: str = "", **_rest: Any) -> None:
        self._drawn.texts.append(text)

    def operator(self, name: str, text: str | None = None, **_rest: Any) -> SimpleNamespace:
        group, _, own = name.partition(".")
        shown = text if text is not None else getattr(getattr(bpy.ops, group), own).get_rna_type().name
        self._drawn.texts.append(shown)
        self._drawn.buttons.append(name)
        return SimpleNamespace()

    def prop(self, group: Any, name: str, text: str | None = None, toggle: bool = False, **_rest: Any) -> None:
        prop = group.bl_rna.properties[name]
        self._drawn.fields.append(name)
        self._drawn.texts.append(prop.name if text is None else text)
        if prop.type in ("FLOAT", "INT"):
            self._drawn.field_numbers += prop.array_length if prop.is_array else 1
        elif prop.type == "BOOLEAN":
            self._drawn.buttons.append(name)
        else:
            self._drawn.texts.append(str(getattr(group, name)))


def classes() -> list[type]:
    """The panels of the tab, in their order."""
    from addon.suite import panels

    return [cls for cls in panels.CLASSES if getattr(cls, "bl_category", "") == "Platewright"]


def draw(cls: Any, into: Drawn | None = None, body: bool = True) -> Drawn:
    """Draw a panel's header, and its body where it is open."""
    drawn = Drawn() if into is None else into
    panel = SimpleNamespace(layout=Layout(drawn), section=getattr(cls, "section", None))
    if "HIDE_HEADER" not in getattr(cls, "bl_options", ()):
        drawn.texts.append(cls.bl_label)
        if hasattr(cls, "draw_header"):
            cls.draw_header(panel, bpy.context)
    if body:
        cls.draw(panel, bpy.context)
    return drawn


def default_tab() -> Drawn:
    """What the tab shows as it opens: a closed panel is its header, and its sub-panels are not there."""
    drawn = Drawn()
    found = {cls.__name__: cls for cls in classes()}

    def is_open(cls: Any) -> bool:
        return "DEFAULT_CLOSED" not in getattr(cls, "bl_options", ())

    def is_there(cls: Any) -> bool:
        parent = found.get(getattr(cls, "bl_parent_id", ""))
        return parent is None or (is_open(parent) and is_there(parent))

    for cls in found.values():
        if is_there(cls):
            draw(cls, drawn, body=is_open(cls))
    return drawn
