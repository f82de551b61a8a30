"""Operators for bath and target: conductivity from two plates, target from a fixed time or current."""

from __future__ import annotations

import bpy

from ...engine.errors import InputError
from ...engine.reporting.filled import filled
from ...engine.reporting.finding_text import texts
from ...engine.settings import conductivity
from ...engine.settings.bath import Bath
from ...engine.settings.conductivity import Conductivity
from ...engine.settings.schema import specs
from ...engine.units import CM2, MM
from ..draw.rows import inputs
from ..figures import figure
from ..language import localized
from ..scene import scene_units, settings
from .popup import Popup

MAX_CONDUCTIVITY = specs(Bath)["conductivity"].high


class PLATEWRIGHT_OT_conductivity(Popup, bpy.types.Operator):
    """Enter current and voltage that you read between two plates in the bath, to get its conductivity"""

    bl_idname = "platewright.conductivity"
    bl_label = "Enter Conductivity Readings..."
    bl_options = {"REGISTER", "UNDO"}
    how = (
        "Hang two clean plates of the anode's metal face to face,",
        "a known gap apart, from wall to wall if you can.",
        "Set two currents or more, well apart. Read each voltage.",
    )
    waiting = "Type two pairs of readings or more"

    area: bpy.props.FloatProperty(
        name="Plate Area (cm²)",
        description="Area of the side of one plate that faces the other",
        default=25.0,
        min=0.01,
        max=1e5,
        precision=1,
    )
    gap: bpy.props.FloatProperty(
        name="Gap (mm)", description="Distance between the plates", default=30.0, min=0.1, max=1e4, precision=1
    )
    gap_in_scene_units: scene_units.twin("gap", "mm", 0, "Gap", "Distance between the plates")
    currents: bpy.props.FloatVectorProperty(
        name="Current (A)",
        description="Current that you set. Zero: not read",
        size=settings.READINGS,
        min=0.0,
        max=1e4,
        precision=3,
    )
    voltages: bpy.props.FloatVectorProperty(
        name="Voltage (V)",
        description="Voltage between the plates at this current",
        size=settings.READINGS,
        min=0.0,
        max=1e3,
        precision=3,
    )

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        before = settings.of(context.scene).readings
        self.area, self.gap = before.area, before.gap
        self.currents, self.voltages = before.currents, before.voltages
        return super().invoke(context, event)

    def fields(self, layout: bpy.types.UILayout) -> None:
        """Draw area, distance and a row for each pair of readings."""
        inputs(layout, self.properties, "area", "gap")
        head = layout.row()
        head.label(text="Current (A)")
        head.label(text="Voltage (V)")
        for k in range(settings.READINGS):
            row = layout.row()
            row.prop(self, "currents", index=k, text="")
            row.prop(self, "voltages", index=k, text="")

    def typed(self) -> bool:
        """Whether there is a current."""
        return any(self.currents)

    def evaluated(self) -> Conductivity:
        """Of the readings with a current. Raises InputError where they give none, or more than any bath has."""
        pairs = [(i, u) for i, u in zip(self.currents, self.voltages, strict=True) if i > 0]
        measured = conductivity.measured(self.area * CM2, self.gap * MM, [i for i, _ in pairs], [u for _, u in pairs])
        if measured.value > MAX_CONDUCTIVITY:
            raise InputError(
                filled("{value} S/m is more than any bath has; check area and gap", value=figure(measured.value))
            )
        return measured

    def outcome(self, measured: Conductivity) -> str:
        """The conductivity with its uncertainty, S/m."""
        return filled(
            "Conductivity {value} ± {uncertainty} S/m",
            value=figure(measured.value, digits=3),
            uncertainty=f"{measured.uncertainty:.2g}",
        )

    def doubts(self, measured: Conductivity) -> tuple[str, ...]:
        return texts(measured.findings)

    def write(self, context: bpy.types.Context, measured: Conductivity) -> None:
        """Keep the readings, and set the bath's conductivity to what they give."""
        chosen = settings.of(context.scene)
        noted = chosen.readings
        noted.area, noted.gap, noted.currents, noted.voltages = self.area, self.gap, self.currents, self.voltages
        chosen.bath.conductivity = measured.value


class PLATEWRIGHT_OT_take_target(bpy.types.Operator):
    """Apply this thickness and this current density to the target"""

    bl_idname = "platewright.take_target"
    bl_label = "Apply to Settings"
    bl_options = {"REGISTER", "UNDO"}

    thickness: bpy.props.FloatProperty(name="Thickness (µm)", description="Average thickness of the deposit", min=0.01)
    density: bpy.props.FloatProperty(
        name="Current Density (A/dm²)", description="Current divided by plated area", min=0.001
    )

    def execute(self, context: bpy.types.Context) -> set[str]:
        target = settings.of(context.scene).target
        target.thickness, target.density = self.thickness, self.density
        self.report(
            {"INFO"},
            localized(
                filled(
                    "Target: {thickness} at {density}",
                    thickness=figure(self.thickness, "um"),
                    density=figure(self.density, "A/dm2"),
                )
            ),
        )
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_conductivity, PLATEWRIGHT_OT_take_target)
