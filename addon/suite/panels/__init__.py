"""The tab: the verdict, and the six steps of the job. A panel stands after the one that it is part of."""

from __future__ import annotations

from . import (
    bath,
    coat,
    cut,
    field,
    gas,
    hang,
    header,
    layouts,
    menus,
    output,
    part,
    presets,
    print,
    purpose,
    rack,
    tank,
    target,
    verdict,
)

CLASSES = (
    *presets.CLASSES,
    *verdict.CLASSES,
    *part.CLASSES,
    *print.CLASSES,
    *hang.CLASSES,
    *gas.CLASSES,
    *coat.CLASSES,
    *bath.CLASSES,
    *field.CLASSES,
    *tank.CLASSES,
    *layouts.CLASSES,
    *rack.CLASSES,
    *cut.CLASSES,
    *bath.LATER,
    *target.CLASSES,
    *purpose.CLASSES,
    *output.CLASSES,
    *header.CLASSES,
    *menus.CLASSES,
)
