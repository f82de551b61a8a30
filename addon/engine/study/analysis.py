"""An analysis of a study: its inputs and its function."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..mesh.tracer import Tracer
from .study import Study


@dataclass(frozen=True)
class Analysis:
    """One question.

    name : the field of `Results` that it fills
    sections : sections of the job that it reads, or single fields of them: "effort.rays"
    inputs : analyses whose results it reads, which are asked for with it; where one has no result it must do without
    run : (study so far, tracer) -> result, or a generator of steps that returns it
    weight : share of the progress bar
    optional_inputs : analyses whose results it reads where they are there; too expensive to be requested along with it
    on_demand : whether it runs only where it is asked for by name
    """

    name: str
    sections: tuple[str, ...]
    inputs: tuple[str, ...]
    run: Callable[[Study, Tracer], object]
    weight: float = 1.0
    optional_inputs: tuple[str, ...] = ()
    on_demand: bool = False
