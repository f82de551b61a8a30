"""Differences between the supported Blender versions, and the versions for the report."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import bpy
import numpy as np

MANIFEST = "blender_manifest.toml"
EEVEE = "BLENDER_EEVEE" if bpy.app.version >= (5, 0, 0) else "BLENDER_EEVEE_NEXT"


def running() -> dict[str, str]:
    """Versions of the extension, of Blender and of numpy."""
    return {"platewright": _own_version(), "blender": bpy.app.version_string, "numpy": np.__version__}


def _own_version() -> str:
    """From the manifest: beside the package when installed, one folder up in the repository."""
    package = Path(__file__).resolve().parent.parent
    path = next(folder / MANIFEST for folder in (package, package.parent) if (folder / MANIFEST).exists())
    with open(path, "rb") as file:
        return tomllib.load(file)["version"]


def session_id(block: bpy.types.ID) -> int:
    """A number that stays with a data-block through renaming, for as long as the file is open."""
    return block.session_uid


def exact_attribute(node: Any) -> None:
    """Let a Raycast node answer with the attribute of the very face that was hit, not a blend."""
    if hasattr(node, "mapping"):
        node.mapping = "NEAREST"
    else:  # from 5.0 on it is a menu among the inputs
        next(s for s in node.inputs if s.identifier == "Interpolation").default_value = "Nearest"


def use_nodes(material: bpy.types.Material) -> None:
    """Give a material its nodes; from 5.0 on it has them from the start."""
    if bpy.app.version < (5, 0, 0):
        material.use_nodes = True


# in this order: a medium allows its formats, a format its channels and depths
PICTURE_SETTINGS = ("media_type", "file_format", "color_mode", "color_depth", "compression")
PNG = {"media_type": "IMAGE", "file_format": "PNG", "color_mode": "RGBA", "color_depth": "8", "compression": 15}


def picture_settings(settings: Any) -> dict[str, Any]:
    """How a scene writes its pictures; before 5.0 there is no choice of a medium."""
    return {name: getattr(settings, name) for name in PICTURE_SETTINGS if hasattr(settings, name)}


def set_picture_settings(settings: Any, wanted: dict[str, Any]) -> None:
    """Let a scene write its pictures as `picture_settings` has noted."""
    for name in PICTURE_SETTINGS:
        if name in wanted and hasattr(settings, name):
            setattr(settings, name, wanted[name])
