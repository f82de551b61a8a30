"""The location of a finding on the part: the triangles to show."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ..field.result import Flag
from ..findings import Code, Finding
from ..study import Study
from ..trapping.gas import Pool
from ..trapping.pockets import Pocket

MAX_DISTANCE_OVER_SIZE = 0.04  # of the part's size: faces this close to a place belong to it


def faces(finding: Finding, study: Study) -> NDArray[np.int32]:
    """(k,) triangles that a finding is about, the worst place of several; none where it is about the whole part."""
    surface = study.surface
    listed = _POCKETS[finding.code](study) if finding.code in _POCKETS else ()
    if listed:
        return np.asarray(listed[0].faces)
    concerned = finding.faces
    flag = _FLAGS.get(finding.code)
    if flag is not None and study.results.field is not None:
        concerned = np.flatnonzero(study.results.field.flag == flag)
    if not finding.places:
        return np.asarray(concerned, dtype=np.int32)
    distance = np.linalg.norm(surface.centroid - np.array(finding.places[0]), axis=1)
    near = distance <= max(MAX_DISTANCE_OVER_SIZE * surface.size, float(distance.min()))
    inside = near[concerned] if len(concerned) else np.zeros(0, dtype=bool)
    return np.asarray(concerned[inside] if inside.any() else np.flatnonzero(near), dtype=np.int32)


def _pockets(study: Study) -> Sequence[Pocket | Pool]:
    return study.gas_as_hung.pockets if study.gas_as_hung is not None else ()


def _pools(study: Study) -> Sequence[Pocket | Pool]:
    return study.drainage_as_hung.pools if study.drainage_as_hung is not None else ()


_POCKETS: Mapping[Code, Callable[[Study], Sequence[Pocket | Pool]]] = {
    Code.GAS_TRAPPED: _pockets,
    Code.GAS_LIFTS: _pockets,
    Code.GAS_SWINGS: _pockets,
    Code.LIQUID_HELD: _pools,
}
_FLAGS = {
    Code.ALMOST_BARE: Flag.BARE,
    Code.THINNEST_NEVER: Flag.BARE,
    Code.DULL: Flag.DULL,
    Code.BURNT: Flag.BURNT,
}
