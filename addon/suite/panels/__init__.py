"""The tab: what the user reads and sets, in the order of the job. A panel stands after the one that it is part of."""

from __future__ import annotations

from . import bath, coat, cut, field, hang, layouts, part, print, rack, tank, target

CLASSES = (
    *part.CLASSES,
    *print.CLASSES,
    *coat.CLASSES,
    *bath.CLASSES,
    *target.CLASSES,
    *field.CLASSES,
    *layouts.CLASSES,
    *tank.CLASSES,
    *rack.CLASSES,
    *cut.CLASSES,
    *hang.CLASSES,
)
