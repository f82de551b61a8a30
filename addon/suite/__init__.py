"""What Blender sees. Each of MODULES has register() and unregister(); their order is that of need."""

from __future__ import annotations

from importlib import import_module

MODULES = (
    "command",
    "roles",
    "settings",
    "session",
    "view",
    "beside",
    "follow",
    "operators",
    "operators_view",
    "operators_hang",
    "operators_preview",
    "operators_turn",
    "operators_follow",
    "operators_output",
    "operators_print",
    "operators_holes",
    "operators_tank",
    "operators_rack",
    "operators_even",
    "operators_bath",
    "overlay_tank",
    "overlay_bodies",
    "operators_coat",
    "operators_wires",
    "operators_probe",
    "operators_cut",
    "overlay_cut",
    "panels",
    "panels_print",
    "panels_coat",
    "panels_bath",
    "panels_target",
    "panels_field",
    "panels_even",
    "panels_tank",
    "panels_rack",
    "panels_cut",
    "panels_hang",
)


def register() -> None:
    """Register every module; where one fails, those before it are taken back and the error goes on."""
    done = []
    try:
        for name in MODULES:
            module = import_module(f".{name}", __package__)
            module.register()
            done.append(module)
    except BaseException:
        for module in reversed(done):
            module.unregister()
        raise


def unregister() -> None:
    for name in reversed(MODULES):
        import_module(f".{name}", __package__).unregister()
