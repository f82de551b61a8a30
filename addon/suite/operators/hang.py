"""Operators for the way up: from the view, or from a suggestion."""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine import study as studies
from ...engine.errors import InputError
from ...engine.geometry import attitude
from ...engine.reporting import words
from ...engine.reporting.filled import filled
from ...engine.settings.job import Job
from ...engine.study import Study
from ..language import localized
from ..preview import preview_copy
from ..scene import settings
from ..session import session
from .measure import QUICK, Studying


class HangingStudy(Studying):
    """Work on the part with another way up, which becomes the setting when the work has ended."""

    @abstractmethod
    def up(self, context: bpy.types.Context) -> tuple[float, float, float]:
        """The way up, in the scene's axes."""

    def turn(self, context: bpy.types.Context) -> float:
        """Degrees about the vertical, in the tank."""
        return 0.0

    def analyses(self) -> tuple[str, ...]:
        return tuple(name for name in QUICK if name in studies.NAMES)

    def job(self, context: bpy.types.Context) -> Job:
        job = super().job(context)
        self._up, self._turn = settings.as_stored(self.up(context)), self.turn(context)
        part, place = replace(job.part, up=self._up), replace(job.place, turn=np.radians(self._turn))
        return replace(job, part=part, place=place)

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        super().finished(context, result)
        chosen = settings.of(context.scene)
        chosen.part.up, chosen.place.turn = self._up, self._turn

    def outcome(self, study: Study) -> str:
        return filled(
            "{name}: hanging direction {direction}", name=study.part.name, direction=words.hanging_direction(self._up)
        )


class PLATEWRIGHT_OT_up_from_view(HangingStudy, bpy.types.Operator):
    """Hang the part as you see it now: what is up in the view is up in the bath"""

    bl_idname = "platewright.up_from_view"
    bl_label = "Set Direction from View"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.region_data is None:
            cls.poll_message_set(localized("Works only in a 3D viewport"))
            return False
        return super().poll(context)

    def up(self, context: bpy.types.Context) -> tuple[float, float, float]:
        return tuple(context.region_data.view_matrix.inverted().col[1][:3])


class PLATEWRIGHT_OT_take_way_up(HangingStudy, bpy.types.Operator):
    """Use this hanging position in the bath, and calculate trapped gas and drag-out. Your object stays as it is"""

    bl_idname = "platewright.take_way_up"
    bl_label = "Use This Position"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(
        name="Number",
        description="Which of the positions, from 0; -1: that of the copy as you turned it",
        min=-1,
        options={"HIDDEN"},
    )

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        super().finished(context, result)
        preview_copy.clear(context.scene)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        record = session.find(context)
        if record is None or record.study.results.hanging is None:
            cls.poll_message_set(localized("Find hanging positions first"))
            return False
        return super().poll(context)

    def up(self, context: bpy.types.Context) -> tuple[float, float, float]:
        return tuple(self._rotation(context)[2].tolist())

    def turn(self, context: bpy.types.Context) -> float:
        return settings.as_stored([np.degrees(attitude.yaw(self._rotation(context)))])[0]

    def _rotation(self, context: bpy.types.Context) -> NDArray[np.float64]:
        """(3, 3) from the part's axes to the tank's."""
        record = session.find(context)
        assert record is not None
        if self.number < 0:
            copy = preview_copy.piece(context.scene, preview_copy.BODY)
            if copy is None:
                raise InputError(
                    filled("{name}: there is no copy beside it; preview a position first", name=record.study.part.name)
                )
            return np.array(copy.matrix_world.to_quaternion().to_matrix())
        suggestions = record.study.results.hanging.suggestions
        suggestion = suggestions[min(self.number, len(suggestions) - 1)]
        return attitude.about(suggestion.turn) @ attitude.turn_up(suggestion.up)


CLASSES = (PLATEWRIGHT_OT_up_from_view, PLATEWRIGHT_OT_take_way_up)
