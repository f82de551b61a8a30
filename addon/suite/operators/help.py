"""The question mark: the page of the guide that tells of a panel."""

from __future__ import annotations

import bpy

from ...engine.reporting.filled import filled
from .. import manual
from ..language import localized


class PLATEWRIGHT_OT_help(bpy.types.Operator):
    """Read about this in the offline guide"""

    bl_idname = "platewright.help"
    bl_label = "Open Guide"
    bl_options = {"INTERNAL"}

    page: bpy.props.StringProperty(name="Page", description="Heading of the guide", options={"HIDDEN"})

    def execute(self, context: bpy.types.Context) -> set[str]:
        if not manual.GUIDE.is_file():
            self.report(
                {"ERROR"},
                localized(
                    filled("The guide is not there: {guide}; install the extension from its zip", guide=manual.GUIDE)
                ),
            )
            return {"CANCELLED"}
        return set(bpy.ops.wm.url_open(url=manual.address(self.page)))


CLASSES = (PLATEWRIGHT_OT_help,)
