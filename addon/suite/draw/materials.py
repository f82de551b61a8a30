"""Ramp, metal and patina as node groups and materials for the user's own scene, marked as assets.

They read the part's attributes (see `paint`), so materials follow the calculation.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ...engine import color
from ...engine.field.result import Flag
from ...engine.settings.job import Job
from ...engine.settings.options import FINISHES
from ...engine.sheet import finish
from ...engine.units import UM
from .. import versions
from .paint import PREFIX

RAMP, PATINA, METAL = "Platewright Ramp", "Platewright Patina", "Platewright Metal"
STOPS = 32  # the most that Blender's color ramp takes
ROUGHNESS = {"bright": 0.15, "satin": 0.40, "patina": 0.35}  # common practice, no source
ROUGH, BURNT = 0.60, (0.03, 0.02, 0.02)  # what is dull, bare or burnt; linear color of what is burnt
LOWEST = -1e9  # below the value of any of our attributes
KNOWN_MARGIN = 0.5  # between the whole numbers that stand for finishes


@dataclass(frozen=True)
class Socket:
    """An input of a node group: name, description and default."""

    name: str
    doc: str
    value: float | tuple[float, ...]


class _Nodes:
    """Makes nodes and links them."""

    def __init__(self, tree: Any) -> None:
        self._tree = tree

    def new(self, kind: str, **options: Any) -> Any:
        """A node with its options set."""
        node = self._tree.nodes.new(kind)
        for name, value in options.items():
            setattr(node, name, value)
        return node

    def attribute(self, name: str) -> Any:
        """The number of an attribute of ours."""
        node = self.new("ShaderNodeAttribute", attribute_name=PREFIX + name)
        return node.outputs["Fac"]

    def math(self, operation: str, *values: Any) -> Any:
        """The result for linked sockets or plain numbers."""
        node = self.new("ShaderNodeMath", operation=operation)
        for socket, value in zip(node.inputs, values, strict=False):
            self.put(value, socket)
        return node.outputs[0]

    def mix(self, kind: str, share: Any, first: Any, second: Any) -> Any:
        """From the first to the second, of kind "RGBA" or "FLOAT"."""
        node = self.new("ShaderNodeMix", data_type=kind)
        suffix = {"RGBA": "Color", "FLOAT": "Float"}[kind]
        wanted = {"Factor_Float": share, f"A_{suffix}": first, f"B_{suffix}": second}
        for socket in node.inputs:
            if socket.identifier in wanted:
                self.put(wanted[socket.identifier], socket)
        return next(socket for socket in node.outputs if socket.identifier == f"Result_{suffix}")

    def put(self, value: Any, socket: Any) -> None:
        """Link a socket, or set it."""
        if isinstance(value, bpy.types.NodeSocket):
            self._tree.links.new(value, socket)
        else:
            socket.default_value = value


def add(metal: str, coat: str, low_um: float, high_um: float) -> list[bpy.types.ID]:
    """The groups and the materials of a metal on a coat; of those that are there already, the ramp's range and the coat
    follow the calculation, and the rest stays as it is. Returns all of them.

    low_um, high_um : thickness at the dark and at the light end of the ramp
    """
    groups = [_group(RAMP, _ramp), _group(PATINA, _patina), _group(METAL, _metal)]
    shown = _material("Platewright Thickness", _thickness, (low_um, high_um))
    _set(shown, RAMP, Low=low_um, High=high_um)
    blocks: list[bpy.types.ID] = [*groups, shown]
    for name in FINISHES:
        title = f"Platewright {metal.title()} {name.title()}"
        plated = _material(title, _plated, (metal, coat, name))
        _set(plated, METAL, **{"Coat Color": _linear(finish.coat_color(coat))})
        blocks.append(plated)
    return blocks


def library(path: Path) -> int:
    """Write a .blend for an asset library: each metal on the coat that is sprayed most, its ramp from 0 to twice the
    usual thickness. Returns how many assets it holds."""
    job = Job()
    materials = {
        material
        for metal in finish.METALS
        for material in add(metal, job.coat.name, 0.0, 2 * job.target.thickness / UM)
    }
    bpy.data.libraries.write(str(path), materials, fake_user=True, compress=True)
    return len(materials)


def _group(name: str, fill: Any) -> Any:
    group: Any = bpy.data.node_groups.get(name)
    if group is None:
        group = bpy.data.node_groups.new(name, "ShaderNodeTree")
        fill(group)
        _mark(group, (fill.__doc__ or "").strip())
    return group


def _material(name: str, fill: Any, values: tuple[Any, ...]) -> Any:
    material: Any = bpy.data.materials.get(name)
    if material is None:
        material = bpy.data.materials.new(name)
        versions.use_nodes(material)
        material.node_tree.nodes.clear()
        fill(material.node_tree, *values)
        _mark(material, (fill.__doc__ or "").strip())
    return material


def _set(material: Any, group: str, **values: Any) -> None:
    """Set inputs of one of our groups in a material, where nothing is linked to them."""
    for node in material.node_tree.nodes:
        if getattr(node, "node_tree", None) is not None and node.node_tree.name == group:
            for name, value in values.items():
                node.inputs[name].default_value = value


def _mark(block: Any, description: str) -> None:
    """An asset, with what it is for."""
    block.asset_mark()
    block.asset_data.description = " ".join(description.split())
    block.asset_data.tags.new("plating")


def _sockets(tree: Any, inputs: Iterable[Socket], output: str, kind: str) -> tuple[Any, Any]:
    """The group's own nodes for its inputs and its output, of kind "Color" or "Shader"."""
    for setting in inputs:
        plain = isinstance(setting.value, float)
        socket = tree.interface.new_socket(
            setting.name,
            description=setting.doc,
            in_out="INPUT",
            socket_type=f"NodeSocket{'Float' if plain else 'Color'}",
        )
        socket.default_value = setting.value
    tree.interface.new_socket(output, in_out="OUTPUT", socket_type=f"NodeSocket{kind}")
    return tree.nodes.new("NodeGroupInput"), tree.nodes.new("NodeGroupOutput")


def _linear(display: Sequence[float]) -> tuple[float, ...]:
    return (*(float(channel) for channel in color.decoded(display)), 1.0)


def _known(nodes: _Nodes, value: Any) -> Any:
    """1 where an attribute is a number, 0 where it is nan: nan is not greater than anything. The usual test, that nan
    differs from itself, would be optimized away by the shader compiler."""
    return nodes.math("GREATER_THAN", value, LOWEST)


def _ramp(tree: Any) -> None:
    """Maps a number to the maps' colors: dark blue is low, straw is high, gray is unknown."""
    nodes = _Nodes(tree)
    inputs, out = _sockets(
        tree,
        (
            Socket("Value", "What is shown: the Fac of an Attribute node", 0.0),
            Socket("Low", "Value at the dark end", 0.0),
            Socket("High", "Value at the light end", 1.0),
            Socket("Unknown Color", "Where the value is not a number", (*color.NEUTRAL, 1.0)),
        ),
        "Color",
        "Color",
    )
    share = nodes.new("ShaderNodeMapRange", clamp=True)
    for name, source in (("Value", "Value"), ("From Min", "Low"), ("From Max", "High")):
        nodes.put(inputs.outputs[source], share.inputs[name])
    band = nodes.new("ShaderNodeValToRGB")
    stops = band.color_ramp.elements
    places = np.linspace(0.0, 1.0, STOPS)
    for place, tint in zip(places, color.ramp(places), strict=True):
        stop = stops[0] if place == 0.0 else stops[-1] if place == 1.0 else stops.new(place)
        stop.color = (*(float(channel) for channel in tint), 1.0)
    nodes.put(share.outputs[0], band.inputs[0])
    known = _known(nodes, inputs.outputs["Value"])
    shown = nodes.mix("RGBA", known, inputs.outputs["Unknown Color"], band.outputs[0])
    nodes.put(shown, out.inputs[0])


def _patina(tree: Any) -> None:
    """Metal that is dark where it is sheltered, and rubbed back where a hand reaches. Reads platewright_openness."""
    nodes = _Nodes(tree)
    inputs, out = _sockets(
        tree,
        (
            Socket("Metal Color", "Where it is rubbed back", _linear(finish.metal_color("copper"))),
            Socket("Patina Color", "Where it is sheltered", _linear(finish.patina_color("copper"))),
            Socket("Strength", "0: bare metal, 1: as dark as the Patina Color in deep recesses", 1.0),
        ),
        "Color",
        "Color",
    )
    openness = nodes.attribute("openness")
    known = _known(nodes, openness)
    share = nodes.math("MAXIMUM", nodes.math("DIVIDE", openness, 100.0), 0.0)
    share = nodes.mix("FLOAT", known, 0.5, share)
    dark = nodes.math("SUBTRACT", 1.0, nodes.math("POWER", share, finish.PATINA_WEAR_EXPONENT))
    mixed = nodes.math("MULTIPLY", dark, inputs.outputs["Strength"])
    nodes.put(nodes.mix("RGBA", mixed, inputs.outputs["Metal Color"], inputs.outputs["Patina Color"]), out.inputs[0])


def _metal(tree: Any) -> None:
    """Metal as it is expected to come out: the coat where it stays bare, rough where it is dull, dark where it burns,
    plastic where it is not plated. Reads platewright_window."""
    nodes = _Nodes(tree)
    inputs, out = _sockets(
        tree,
        (
            Socket("Metal Color", "Of the sound deposit; link the Patina here", _linear(finish.metal_color("copper"))),
            Socket("Roughness", "Of the sound deposit: 0.15 is bright, 0.4 satin", ROUGHNESS["bright"]),
            Socket("Coat Color", "Where no metal comes", _linear(finish.coat_color("copper"))),
            Socket("Plastic Color", "Where nothing is plated", _linear(finish.PLASTIC)),
        ),
        "Shader",
        "Shader",
    )
    window = nodes.attribute("window")
    plated = nodes.math("GREATER_THAN", window, Flag.BARE - KNOWN_MARGIN)  # nan is never greater
    bare, dull, burnt = (
        nodes.math("COMPARE", window, float(flag), KNOWN_MARGIN) for flag in (Flag.BARE, Flag.DULL, Flag.BURNT)
    )
    tint = nodes.mix("RGBA", burnt, inputs.outputs["Metal Color"], (*BURNT, 1.0))
    tint = nodes.mix("RGBA", bare, tint, inputs.outputs["Coat Color"])
    tint = nodes.mix("RGBA", plated, inputs.outputs["Plastic Color"], tint)
    spoilt = nodes.math("MAXIMUM", nodes.math("MAXIMUM", bare, dull), burnt)
    rough = nodes.mix("FLOAT", spoilt, inputs.outputs["Roughness"], ROUGH)
    surface = nodes.new("ShaderNodeBsdfPrincipled")
    nodes.put(tint, surface.inputs["Base Color"])
    nodes.put(nodes.mix("FLOAT", plated, ROUGH, rough), surface.inputs["Roughness"])
    nodes.put(nodes.math("SUBTRACT", plated, bare), surface.inputs["Metallic"])
    nodes.put(surface.outputs[0], out.inputs[0])


def _thickness(tree: Any, low_um: float, high_um: float) -> None:
    """The thickness of the deposit in the colors of its map, without light. Reads platewright_thickness."""
    nodes = _Nodes(tree)
    ramp = nodes.new("ShaderNodeGroup", node_tree=bpy.data.node_groups[RAMP])
    for name, value in (("Value", nodes.attribute("thickness")), ("Low", low_um), ("High", high_um)):
        nodes.put(value, ramp.inputs[name])
    shining = nodes.new("ShaderNodeEmission")
    nodes.put(ramp.outputs[0], shining.inputs["Color"])
    nodes.put(shining.outputs[0], nodes.new("ShaderNodeOutputMaterial").inputs["Surface"])


def _plated(tree: Any, metal: str, coat: str, name: str) -> None:
    """Metal that follows the calculation. Store Results on Mesh writes the attributes it reads."""
    nodes = _Nodes(tree)
    group = nodes.new("ShaderNodeGroup", node_tree=bpy.data.node_groups[METAL])
    tint: Any = _linear(finish.metal_color(metal))
    if name == "patina":
        patina = nodes.new("ShaderNodeGroup", node_tree=bpy.data.node_groups[PATINA])
        nodes.put(tint, patina.inputs["Metal Color"])
        nodes.put(_linear(finish.patina_color(metal)), patina.inputs["Patina Color"])
        tint = patina.outputs[0]
    for socket, value in (
        ("Metal Color", tint),
        ("Roughness", ROUGHNESS[name]),
        ("Coat Color", _linear(finish.coat_color(coat))),
    ):
        nodes.put(value, group.inputs[socket])
    nodes.put(group.outputs[0], nodes.new("ShaderNodeOutputMaterial").inputs["Surface"])
