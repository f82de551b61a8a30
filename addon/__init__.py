"""Platewright: plan the electroplating of a printed part before it is printed."""


def register() -> None:
    from . import suite

    suite.register()


def unregister() -> None:
    from . import suite

    suite.unregister()
