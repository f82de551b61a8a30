"""Where gas stays when the part goes into the bath, and where liquid stays when it comes out.

Both are one computation: liquid stays where gas would stay with the other side up. Theory, sources and limits
are in docs/theory-gas.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity, spot
from ..geometry.frames import unit
from ..mesh.surface import Surface
from ..progress import Progress, Step
from .basins import find_basins
from .bores import MIN_UNDERSIDE_M2, NEGLIGIBLE_AREA_SHARE, NEGLIGIBLE_VOLUME_M3, Bore
from .pockets import Filling, Pocket, fill, list_pockets
from .relief import Relief, along, relief_of

# Bore over capillary length below which a long bubble stands still in a sealed upright tube, as in a blind hole:
# density x gravity x radius^2 / surface tension = 0.842 (Bretherton, J. Fluid Mech. 10 (1961) 166).
CRITICAL_BORE_OVER_CAPILLARY_LENGTH = 2 * math.sqrt(0.842)
MAX_LEVEL_ANGLE_RAD = math.radians(15)  # undersides nearer to level than this keep bubbles: common practice, no source
MIN_LISTED_CAPILLARY_LENGTHS = 0.25  # bubbles of this diameter, in capillary lengths, and larger are listed one by one
# the same for what a first vent leaves: larger remains get a vent of their own
MIN_DOME_CAPILLARY_LENGTHS = 1.0
# m of bath that clings to a lifted part: 4 US gal on 1000 ft2, vertical and very poorly drained
# (Soderberg, Proc. Am. Electroplaters' Soc. 24 (1936) 233, from memory; well drained it is a tenth)
DRAG_OUT_FILM_M = 4 * 3.785411784e-3 / 92.90304
# Of that film: what clings to a well-drained part. A pool that only tipping empties counts from there on, for less is
# not told from the film; that it counts no earlier is common practice, no source.
MIN_POOL_FILM_SHARE = 0.1


@dataclass(frozen=True, eq=False)
class Gas:
    """Gas that stays under the part, held with one way up.

    up : (3,) unit
    face : (m,) share of each triangle of the part that gas keeps dry, 0..1
    pockets : largest first
    small : pockets too small to list; the totals hold them as well
    level_underside : (m,) triangles that face down nearly level, where bubbles cling although nothing
        encloses them; level_underside_area : m2 of them outside the pockets
    trapped_volume : m3; trapped_area : m2; trapped_plated_area : m2 of it that should take deposit
    findings : gas and bubbles that matter, and where the figures are not to be trusted
    """

    up: NDArray[np.float64]
    face: NDArray[np.float64]
    pockets: tuple[Pocket, ...]
    small: int
    level_underside: NDArray[np.bool_]
    level_underside_area: float
    trapped_volume: float
    trapped_area: float
    trapped_plated_area: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, eq=False)
class Pool:
    """A place that does not drain. Points in meters, in the part's axes.

    volume : m3 when full to its lip; area : m2 of the part's surface below the liquid
    bottom : (3,) its lowest point; spill : (3,) the lip, where more would run over; spill_level : m along up
    faces : the triangles of the part that it touches
    drain : (3,) on the surface, where a hole empties it; more_drains : (k, 3) further holes that it needs
        because it has several bottoms; drain_diameter : m, the least of `bores` that leaves next to nothing
    mouth, bores : as of a `Pocket`; pocket : the same with the other side up
    """

    volume: float
    area: float
    bottom: NDArray[np.float64]
    spill: NDArray[np.float64]
    spill_level: float
    faces: NDArray[np.int32]
    drain: NDArray[np.float64]
    more_drains: NDArray[np.float64]
    drain_diameter: float
    mouth: float
    bores: tuple[Bore, ...]
    pocket: Pocket

    @property
    def hole(self) -> Bore | None:
        """As of a `Pocket`."""
        return self.pocket.hole

    @classmethod
    def of(cls, pocket: Pocket) -> Pool:
        """A pocket found with the other side up."""
        return cls(
            volume=pocket.volume,
            area=pocket.area,
            bottom=pocket.top,
            spill=pocket.spill,
            spill_level=-pocket.spill_level,
            faces=pocket.faces,
            drain=pocket.vent,
            more_drains=pocket.more_vents,
            drain_diameter=pocket.vent_diameter,
            mouth=pocket.mouth,
            bores=pocket.bores,
            pocket=pocket,
        )


@dataclass(frozen=True, eq=False)
class Drainage:
    """Liquid that stays in the part when it is lifted out, held with one way up.

    up : (3,) unit
    face : (m,) share of each triangle of the part that stays covered, 0..1
    pools : largest first
    small : pools too small to list; the totals hold them as well
    held_volume : m3; held_area : m2. The film that clings to every wet surface is not in them.
    """

    up: NDArray[np.float64]
    face: NDArray[np.float64]
    pools: tuple[Pool, ...]
    small: int
    held_volume: float
    held_area: float
    findings: tuple[Finding, ...] = ()


def trapped(
    surface: Surface, up: ArrayLike, *, capillary_length: float, level_angle: float = MAX_LEVEL_ANGLE_RAD
) -> Progress[Gas]:
    """Gas pockets and level undersides for one way up.

    up : (3,) in the part's axes, need not be unit
    capillary_length : m, sqrt(surface tension / (density x gravity)) of the bath
    level_angle : rad from level, the steepest underside that still counts
    """
    yield Step(0.0, "closing the surface")
    relief = relief_of(surface)
    yield Step(0.5, "looking for gas pockets")
    direction = unit(up)
    filling = fill(relief, find_basins(relief, direction))
    yield Step(0.8, "placing vents")
    pockets, small = _list_pockets(filling, capillary_length)
    dry = filling.part_area(len(surface.triangles))
    level = _underside(relief, direction, level_angle)
    level_face = np.zeros(len(surface.triangles), dtype=bool)
    level_face[relief.face[level]] = True
    in_pockets = float(filling.area[level[filling.triangle]].sum())
    gas = Gas(
        up=direction,
        face=_area_share(dry, surface),
        pockets=pockets,
        small=small,
        level_underside=level_face,
        level_underside_area=max(float(relief.area[level].sum()) - in_pockets, 0.0),
        trapped_volume=float(filling.volume.sum()),
        trapped_area=float(dry.sum()),
        trapped_plated_area=float(dry[surface.plated].sum()),
    )
    return replace(gas, findings=(*_reliability_findings(surface, relief), *_gas_findings(surface, gas)))


def held(surface: Surface, up: ArrayLike, *, capillary_length: float) -> Progress[Drainage]:
    """Liquid that stays in the part when it is lifted out with `up` up. Arguments as for `trapped`."""
    yield Step(0.0, "closing the surface")
    relief = relief_of(surface)
    yield Step(0.5, "looking for liquid that stays")
    direction = unit(up)
    filling = fill(relief, find_basins(relief, -direction))
    yield Step(0.8, "placing drains")
    pockets, small = _list_pockets(filling, capillary_length)
    covered = filling.part_area(len(surface.triangles))
    drainage = Drainage(
        up=direction,
        face=_area_share(covered, surface),
        pools=tuple(Pool.of(pocket) for pocket in pockets),
        small=small,
        held_volume=float(filling.volume.sum()),
        held_area=float(covered.sum()),
    )
    return replace(drainage, findings=tuple(_held_findings(surface, drainage)))


def critical_bore(capillary_length: float) -> float:
    """Diameter (m) below which a long bubble, or a drop in air, stands still in an upright bore.

    For a liquid that wets the wall; a wall that it does not wet holds bubbles in wider bores.
    """
    return CRITICAL_BORE_OVER_CAPILLARY_LENGTH * capillary_length


def _underside(relief: Relief, up: NDArray[np.float64], angle: float) -> NDArray[np.bool_]:
    """(t,) triangles of the relief that face down, at most `angle` (rad) from level. up : (3,) unit."""
    return (along(relief.vector, up) < -math.cos(angle) * relief.area) & (relief.face >= 0)


def _reliability_findings(surface: Surface, relief: Relief) -> list[Finding]:
    """Findings on unreliable figures."""
    findings = []
    if any(fault.code == Code.SHELLS_OVERLAP for fault in surface.faults):
        findings.append(Finding(Code.TRAPPING_OVERLAP, Severity.COSTS, remedy=Remedy(RemedyCode.MEND_MESH)))
    if (relief.face < 0).any():
        findings.append(Finding(Code.TRAPPING_PATCHED, Severity.COSTS, remedy=Remedy(RemedyCode.MEND_MESH)))
    return findings


def _gas_findings(surface: Surface, gas: Gas) -> list[Finding]:
    """Findings on gas above negligible amounts, and on undersides that hold bubbles."""
    findings = []
    plated = float(surface.plated_area.sum())
    if gas.trapped_volume >= NEGLIGIBLE_VOLUME_M3 or gas.trapped_plated_area >= NEGLIGIBLE_AREA_SHARE * plated > 0:
        remedy = Remedy(RemedyCode.SHAKE)
        if gas.pockets and gas.pockets[0].worth_a_hole(plated) and gas.pockets[0].hole:
            first = gas.pockets[0]
            remedy = _hole_remedy(RemedyCode.VENT, gas.pockets[0].hole, (first.vent, *first.more_vents))
        findings.append(
            Finding(
                Code.GAS_TRAPPED,
                Severity.SPOILS,
                {
                    Quantity.VOLUME: gas.trapped_volume,
                    Quantity.AREA: gas.trapped_plated_area,
                    Quantity.COUNT: len(gas.pockets) + gas.small,
                },
                places=tuple(spot(pocket.top) for pocket in gas.pockets),
                faces=np.flatnonzero(gas.face > 0),
                spoilt_share=surface.visible_share(gas.face),
                remedy=remedy,
            )
        )
    if gas.level_underside_area >= max(NEGLIGIBLE_AREA_SHARE * plated, MIN_UNDERSIDE_M2) and plated > 0:
        faces = gas.level_underside & (gas.face < 1)
        share = surface.visible_share(np.where(faces, 1.0 - gas.face, 0.0))
        findings.append(
            Finding(
                Code.BUBBLE_PRONE,
                Severity.COSTS,
                {Quantity.AREA: gas.level_underside_area},
                faces=np.flatnonzero(faces),
                spoilt_share=share,
                remedy=Remedy(RemedyCode.SHAKE),
            )
        )
    return findings


def _held_findings(surface: Surface, drainage: Drainage) -> list[Finding]:
    """A finding on liquid carried out, if more than a drop. It spoils no deposit, but stains and costs bath. Where no
    hole empties it, less than clings to the part as a film is only noted: the part is tipped as it is lifted."""
    if drainage.held_volume < NEGLIGIBLE_VOLUME_M3:
        return []
    remedy = Remedy(RemedyCode.SHAKE)
    if drainage.pools and drainage.pools[0].hole:
        first = drainage.pools[0]
        remedy = _hole_remedy(RemedyCode.DRAIN, drainage.pools[0].hole, (first.drain, *first.more_drains))
    film = MIN_POOL_FILM_SHARE * DRAG_OUT_FILM_M * float(surface.wet_area.sum())
    tipped = remedy.code == RemedyCode.SHAKE and drainage.held_volume < film
    return [
        Finding(
            Code.LIQUID_HELD,
            Severity.NOTE if tipped else Severity.COSTS,
            {
                Quantity.VOLUME: drainage.held_volume,
                Quantity.AREA: drainage.held_area,
                Quantity.COUNT: len(drainage.pools) + drainage.small,
            },
            places=tuple(spot(pool.bottom) for pool in drainage.pools),
            faces=np.flatnonzero(drainage.face > 0),
            remedy=remedy,
        )
    ]


def _hole_remedy(code: RemedyCode, bore: Bore, places: Iterable[NDArray[np.float64]]) -> Remedy:
    """The hole that empties a place, with what it leaves."""
    quantities = {Quantity.DIAMETER: bore.diameter, Quantity.LEFT: bore.remaining}
    return Remedy(code, quantities, tuple(map(spot, places)))


def _list_pockets(filling: Filling, capillary_length: float) -> tuple[tuple[Pocket, ...], int]:
    bubble = math.pi / 6 * capillary_length**3
    return list_pockets(
        filling,
        min_volume=MIN_LISTED_CAPILLARY_LENGTHS**3 * bubble,
        min_dome_volume=MIN_DOME_CAPILLARY_LENGTHS**3 * bubble,
        capillary_length=capillary_length,
    )


def _area_share(area: NDArray[np.float64], surface: Surface) -> NDArray[np.float64]:
    wet = surface.wet_area
    return np.clip(np.divide(area, wet, out=np.zeros(len(wet)), where=wet > 0), 0.0, 1.0)
