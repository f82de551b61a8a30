"""`python -m addon ...`: the command line without Blender's window. It needs the bpy module from PyPI."""

import sys


def _run() -> int:
    from .quiet import quiet

    try:
        with quiet():
            import bpy  # noqa: F401
    except ImportError as error:
        print(f"platewright: error: this Python cannot load Blender's module: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    from .suite import command

    return command.main(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(_run())
