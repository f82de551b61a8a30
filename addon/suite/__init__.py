"""What Blender sees. Each of MODULES has register() and unregister(); their order is that of need."""

from __future__ import annotations

from importlib import import_module
from types import ModuleType

MODULES = (
    "command",
    "scene.roles",
    "settings",
    "session",
    "draw.view",
    "scene.beside",
    "scene.follow",
    "operators.measure",
    "operators.view",
    "operators.hang",
    "operators.preview",
    "operators.turn",
    "operators.follow",
    "operators.output",
    "operators.print",
    "operators.holes",
    "operators.tank",
    "operators.rack",
    "operators.even",
    "operators.bath",
    "draw.overlay_tank",
    "draw.overlay_bodies",
    "operators.coat",
    "operators.wires",
    "operators.probe",
    "operators.cut",
    "draw.overlay_cut",
    "panels.part",
    "panels.print",
    "panels.coat",
    "panels.bath",
    "panels.target",
    "panels.field",
    "panels.even",
    "panels.tank",
    "panels.rack",
    "panels.cut",
    "panels.hang",
)


_registered: list[ModuleType] = []


def register() -> None:
    """Register every module; where one fails, those before it are taken back and the error goes on. A second time
    does nothing."""
    if _registered:
        return
    done: list[ModuleType] = []
    try:
        for name in MODULES:
            module = import_module(f".{name}", __package__)
            module.register()
            done.append(module)
    except BaseException:
        for module in reversed(done):
            module.unregister()
        raise
    _registered.extend(done)


def unregister() -> None:
    """Take every module back; a second time does nothing."""
    while _registered:
        _registered.pop().unregister()
