"""What a click does."""

from __future__ import annotations

from . import (
    bath,
    coat,
    cut,
    hang,
    holes,
    layouts,
    live,
    measure,
    output,
    preview,
    print,
    probe,
    quality,
    rack,
    tank,
    turn,
    view,
    wires,
)

CLASSES = (
    *bath.CLASSES,
    *coat.CLASSES,
    *cut.CLASSES,
    *hang.CLASSES,
    *holes.CLASSES,
    *layouts.CLASSES,
    *live.CLASSES,
    *measure.CLASSES,
    *output.CLASSES,
    *preview.CLASSES,
    *print.CLASSES,
    *probe.CLASSES,
    *quality.CLASSES,
    *rack.CLASSES,
    *tank.CLASSES,
    *turn.CLASSES,
    *view.CLASSES,
    *wires.CLASSES,
)
