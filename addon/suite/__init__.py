"""What Blender sees. Each of `modules` has register() and unregister(); their order is that of need."""

from __future__ import annotations

from . import command

modules = [command]


def register() -> None:
    """Register every module; where one fails, those before it are taken back and the error goes on."""
    done = []
    try:
        for module in modules:
            module.register()
            done.append(module)
    except BaseException:
        for module in reversed(done):
            module.unregister()
        raise


def unregister() -> None:
    for module in reversed(modules):
        module.unregister()
