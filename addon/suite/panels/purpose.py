"""The purpose of the deposit: the thickness it requires and what it achieves; nothing is set until applied."""

from __future__ import annotations

import bpy

from ...engine.settings.target import PURPOSES
from ...engine.units import A_PER_DM2, UM
from ..draw.rows import facts, inputs, say
from ..figures import figure
from ..language import localized
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel

TITLES = {  # of what a deposit is worth: its name, and the unit
    "polished_through_share": "Polished Through",
    "skin_depth_um": "Skin Depth",
    "shielding_dB": "Shielding",
    "largest_opening_mm": "Longest Slot",
    "stiffness_factor": "Times as Stiff Now",
    "worn_um": "Worn Off",
    "limit_load_N": "Limit Load Now",
    "bare_limit_load_N": "Limit Load of the Print",
    "conductance_W_K": "Conductance Now",
    "plated_mass_g": "Plated Weight Now",
}
UNITS = {"um": "um", "dB": "dB", "mm": "mm", "W_K": "W/K", "g": "g", "N": "N"}


class PLATEWRIGHT_PT_purpose(SidebarPanel, bpy.types.Panel):
    """Say what the deposit is for, and see which thickness that takes. Nothing changes until you apply it"""

    bl_label = "Thickness by Purpose"
    page = "thickness-by-purpose"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene).target
        kind = chosen.purpose
        inputs(layout, chosen, "purpose", *PURPOSES[kind])
        if kind == "none":
            return
        layout.operator("platewright.study", text="Find the Thickness", icon="VIEWZOOM").only = "purpose"
        record = session.find(context)
        if record is None or "purpose" in record.stale(context.scene):
            return
        proposal = record.study.results.purpose
        if proposal is None or proposal.kind != kind:
            reason = record.study.reasons.get("purpose", "")
            if reason and reason != "left out":
                say(layout, reason, icon="CANCEL")
            return
        row = layout.row()
        row.label(text="Thickness")
        row.label(text=localized(figure(proposal.thickness / UM, "um")))
        take = row.operator("platewright.take_target", text="", icon="CHECKMARK")
        take.thickness, take.density = proposal.thickness / UM, record.study.job.target.density / A_PER_DM2
        facts(layout, [(TITLES[key], _value(key, value)) for key, value in proposal.worth.items() if key in TITLES])


def _value(key: str, value: float) -> str:
    """A figure with the unit that its key ends in."""
    if key.endswith("_share"):
        return figure(100 * value, "%")
    return figure(value, next((unit for end, unit in UNITS.items() if key.endswith(f"_{end}")), ""))


CLASSES = (PLATEWRIGHT_PT_purpose,)
