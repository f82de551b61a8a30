"""Where a wire may touch the part: hidden, in reach, off the faces that show, clear of gas, and with little loss.

Every patch of the coat is ranked at once on a coarse copy of it (`coat.rank`); the best few, well apart, are returned
with their reasons.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..filled import filled
from ..findings import Quantity
from ..geometry.choice import descending
from ..geometry.frames import unit
from ..geometry.location import Location, locate
from ..linalg.sparse import Graph, Index, Vector
from ..mesh.surface import Surface
from ..progress import Progress, Step, subrange
from ..reasons import Reason, ReasonCode
from ..units import MM
from . import proxy, sheet
from .drop import Loss, WiredSheet
from .proxy import AggregatedNetwork
from .rank import Ranking
from .sheet import Pad, Sheet

RANKING_PATCHES = 1500  # of the coarse copy: dense matrices of so many rows take a fraction of a second
DEFAULT_PAD_M = 3 * MM  # diameter of a contact where none is given,
MAX_PAD_OVER_SIZE = 0.1  # and of the part's size: on a small one no wire covers more (common practice, no source)
MIN_REACHABLE_OPENNESS = 0.15  # a face that sees less of the bath than this cannot be reached with a wire
MAX_HOLLOW_OPENNESS = 0.5  # a face that sees less than this lies in a hollow, where a mark is not seen
MAX_UNDERSIDE_COS = -0.5  # a normal that points down further than this is on the underside
MIN_SPACING_OVER_SIZE = 0.12  # of the part's size: suggestions are no nearer to each other
MAX_LOSS_OVER_LEAST = 1.02  # times the least loss, up to which a place counts as best
VISIBLE_MARK_COST_FACTOR = 1.5  # a visible mark counts as 50 % more loss
MAX_SUGGESTIONS_PER_PIECE = 8  # suggestions on one piece of coat
MAX_WIRED_PIECES = 8  # of a coat; further pieces are joined in the model, not wired (common practice, no source)
MIN_WIRED_SHARE = 0.005  # of the plated area; a smaller piece gets no wire (common practice, no source)
NOTHING_TO_TOUCH = "{name}: no face is plated, so a wire has nothing to touch; check the mask"


@dataclass(frozen=True, eq=False)
class Contact:
    """One suggested place for a wire.

    point, normal : (3,) on the surface, meters and unit; face : triangle of the part; piece : connected piece of coat
    drop : V lost at worst along the coat at the mean current density; hidden : whether the wire's mark is out of view
    place : on the part; reasons : why it ranks where it does
    """

    point: Vector
    normal: Vector
    face: int
    piece: int
    drop: float
    hidden: bool
    place: Location
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, eq=False)
class Place:
    """The patches of one piece of coat that a wire may touch, ranked.

    patch : (n,) of the coarse copy; ranking : their network, of one ohm a square: on metal it ranks by distance alone
    triangle : (n,) the triangle of the coat's mesh to touch on each
    fit : (n,) whether its demerit is the least on this piece
    scale : loss on the coat itself beside that on its coarse copy, at the best place
    """

    patch: Index
    ranking: Ranking
    triangle: Index
    fit: NDArray[np.bool_]
    scale: float = 1.0


@dataclass(frozen=True, eq=False)
class Contacts:
    """Suggestions: the best of each piece of coat that is worth a wire, the larger first; then the others by rank.

    pieces : of coat in all, those without suggestions too: beyond MAX_WIRED_PIECES, or below MIN_WIRED_SHARE
    sheet_resistance : ohm per square that the drops are told for
    coat : the network; patches : its coarse copy that they were ranked on
    checked : the coat with the best place of each piece wired, ready for any current; None on metal
    pads : those places
    places : what was ranked on each of these pieces, the larger piece before the smaller
    """

    ranked: tuple[Contact, ...]
    pieces: int
    sheet_resistance: float
    coat: Sheet
    patches: AggregatedNetwork
    checked: Loss | None
    pads: tuple[Pad, ...]
    places: tuple[Place, ...]

    @property
    def best(self) -> tuple[Contact, ...]:
        """The best of each of the places, the larger piece first."""
        return self.ranked[: len(self.places)]


@dataclass(frozen=True, eq=False)
class _Marks:
    """Merits and demerits of each triangle of the surface, (m,) each; demerit 0: nothing against it."""

    demerit: NDArray[np.int_]
    hidden: NDArray[np.bool_]
    hollow: NDArray[np.bool_]
    under: NDArray[np.bool_]
    dry: NDArray[np.bool_]
    sight: Vector


def rank(
    surface: Surface,
    *,
    up: ArrayLike,
    sheet_resistance: float,
    density: float | Vector,
    openness: Vector | None = None,
    dry: Vector | None = None,
    pad: float | None = None,
) -> Progress[Contacts]:
    """Rank places for a wire.

    up : (3,) the way the part hangs; sheet_resistance : ohm per square in the bath
        (`study.sheet_resistance_in_bath`), 0 for metal
    density : A/m2 collected, one number or (m,) a triangle
    openness : (m,) share of the bath that each triangle sees; dry : (m,) share of it that gas keeps dry
    pad : diameter of the contact, meters; None: DEFAULT_PAD_M, less on a small part
    Cost: the network, one solution on it, dense matrices of RANKING_PATCHES rows. Raises InputError: nothing is plated
    """
    if not surface.plated_area.any():
        raise InputError(filled(NOTHING_TO_TOUCH, name=surface.name))
    pad = min(DEFAULT_PAD_M, MAX_PAD_OVER_SIZE * surface.size) if pad is None else pad
    coat = yield from subrange(0.0, 0.4, sheet.build(surface))
    patches = yield from subrange(0.4, 0.5, proxy.build(coat, RANKING_PATCHES))
    marks = _marks(surface, np.asarray(up, dtype=float), openness, dry)
    local = np.broadcast_to(np.asarray(density, dtype=float), len(surface.triangles))
    current = patches.collected(coat.collected(coat.spread(local)))
    triangle = _triangles(coat, patches, marks.demerit)
    places: list[Place] = []
    for piece in (wired := _pieces_worth_a_wire(np.bincount(patches.piece, patches.area, coat.pieces).astype(float))):
        yield Step(0.5 + 0.2 * len(places) / len(wired), "Ranking places for the wire")
        own = np.flatnonzero((patches.piece == piece) & (triangle >= 0))
        ranking = Ranking.of(_subnetwork(patches, own), current[own], 1.0, area=patches.area[own], pad=pad)
        demerit = marks.demerit[coat.mesh.owner[triangle[own]]]
        places.append(Place(own, ranking, triangle[own], demerit == demerit.min()))
    picks = [_picks(surface, coat, place, marks) for place in places]
    pads = tuple(pad_at(coat, place.triangle[few[0]], pad) for place, few in zip(places, picks, strict=True))
    checked = None
    if sheet_resistance > 0:
        fitted, covered = yield from subrange(0.7, 0.8, sheet.with_pads(surface, coat, pads))
        checked = yield from subrange(0.8, 0.9, Loss.build(WiredSheet.of(fitted, covered), sheet_resistance))
        volts = yield from subrange(0.9, 1.0, checked.at_points(fitted.collected(fitted.spread(local))))
        for k, few in enumerate(picks):
            own = fitted.piece == fitted.piece_of_face[pads[k].face]
            coarse = sheet_resistance * places[k].ranking.single[few[0]]
            places[k] = replace(places[k], scale=float(volts[own].max()) / coarse if coarse > 0 else 1.0)
    per_piece = [
        [_contact(surface, coat, place, k, marks, up, sheet_resistance) for k in few]
        for place, few in zip(places, picks, strict=True)
    ]
    others = sorted((contact for contacts in per_piece for contact in contacts[1:]), key=_cost)
    ranked = *(contacts[0] for contacts in per_piece), *others
    return Contacts(ranked, coat.pieces, sheet_resistance, coat, patches, checked, pads, tuple(places))


def _cost(contact: Contact) -> float:
    """V lost, with a penalty for visible marks."""
    return contact.drop * (1.0 if contact.hidden else VISIBLE_MARK_COST_FACTOR)


def _pieces_worth_a_wire(size: Vector) -> Index:
    """The pieces of coat that get a wire, the larger first. size : (pieces,) m2"""
    first = descending(size)[:MAX_WIRED_PIECES]
    return first[: max(1, int((size[first] >= MIN_WIRED_SHARE * size.sum()).sum()))]


def pad_at(coat: Sheet, triangle: int, diameter: float) -> Pad:
    """A pad in the middle of one of the coat's triangles."""
    x, y, z = (float(value) for value in coat.mesh.points[coat.mesh.triangles[triangle]].mean(axis=0))
    return Pad((x, y, z), diameter, int(coat.mesh.owner[triangle]))


def _marks(surface: Surface, up: Vector, openness: Vector | None, dry: Vector | None) -> _Marks:
    count = len(surface.triangles)
    sight = np.ones(count) if openness is None else np.nan_to_num(openness)
    gas = np.zeros(count, dtype=bool) if dry is None else dry > 0
    hollow = sight < MAX_HOLLOW_OPENNESS
    under = surface.normal @ unit(up) < MAX_UNDERSIDE_COS
    hidden = ~surface.show if surface.show.any() else hollow | under
    demerit = 4 * (sight < MIN_REACHABLE_OPENNESS) + 2 * gas + 1 * surface.show
    return _Marks(demerit, hidden, hollow, under, gas, sight)


def _triangles(coat: Sheet, patches: AggregatedNetwork, demerit: NDArray[np.int_]) -> Index:
    """(n,) the triangle of the coat's mesh to touch on each patch: of the fittest the one nearest to its middle.

    -1 where nothing on the patch is plated.
    """
    plated = np.flatnonzero(coat.share > 0)
    middle = coat.mesh.points[coat.mesh.triangles[plated]].mean(axis=1)
    out = np.full(len(patches.area), -1)
    # a triangle is of its first corner's patch; a patch that is no triangle's first takes one of another corner
    for corner in coat.mesh.triangles[plated].T[::-1]:
        patch = patches.patch[corner]
        away = np.linalg.norm(middle - patches.middle[patch], axis=1)
        score = demerit[coat.mesh.owner[plated]] + away / (2.0 * max(float(away.max()), 1e-300))
        falling = np.argsort(-score, kind="stable")
        out[patch[falling]] = plated[falling]  # the last write wins: the nearest
    return out


def _subnetwork(patches: AggregatedNetwork, own: Index) -> Graph:
    """The network of some of the patches."""
    number = np.full(len(patches.area), -1)
    number[own] = np.arange(len(own))
    low, high = number[patches.graph.low], number[patches.graph.high]
    both = (low >= 0) & (high >= 0)
    return Graph(len(own), low[both], high[both], patches.graph.weight[both])


def _picks(surface: Surface, coat: Sheet, place: Place, marks: _Marks) -> list[int]:
    """The patches to suggest, best first, none nearer than MIN_SPACING_OVER_SIZE of the part's size to a better one."""
    points = coat.mesh.points[coat.mesh.triangles[place.triangle]].mean(axis=1)
    hidden = marks.hidden[coat.mesh.owner[place.triangle]]
    cost = np.where(place.fit, place.ranking.single * np.where(hidden, 1.0, VISIBLE_MARK_COST_FACTOR), np.inf)
    picks: list[int] = []
    while len(picks) < MAX_SUGGESTIONS_PER_PIECE and np.isfinite(cost).any():
        best = int(cost.argmin())
        picks.append(best)
        cost[np.linalg.norm(points - points[best], axis=1) < MIN_SPACING_OVER_SIZE * surface.size] = np.inf
    return picks


def _contact(
    surface: Surface, coat: Sheet, place: Place, k: int, marks: _Marks, up: ArrayLike, sheet_resistance: float
) -> Contact:
    pad = pad_at(coat, place.triangle[k], 0.0)
    face, volts = pad.face, np.maximum(sheet_resistance * place.scale * place.ranking.single, 0.0)
    drop, least = float(volts[k]), float(volts.min())
    normal = surface.normal[face]
    return Contact(
        point=np.array(pad.centre),
        normal=normal,
        face=face,
        piece=int(coat.piece_of_face[face]),
        drop=drop,
        hidden=bool(marks.hidden[face]),
        place=locate(surface.bounds, up, pad.centre, normal),
        reasons=_reasons(surface, marks, face, drop, least, metal=sheet_resistance == 0),
    )


def _reasons(
    surface: Surface, marks: _Marks, face: int, drop: float, least: float, *, metal: bool
) -> tuple[Reason, ...]:
    if not marks.hidden[face]:
        seen = ReasonCode.IN_VIEW
    elif surface.show.any():
        seen = ReasonCode.HIDDEN_OFF_SHOW
    else:
        seen = ReasonCode.HIDDEN_HOLLOW if marks.hollow[face] else ReasonCode.HIDDEN_UNDERSIDE
    reasons = [Reason(seen)]
    if metal:
        reasons.append(Reason(ReasonCode.PART_CONDUCTS))
    elif drop <= MAX_LOSS_OVER_LEAST * least:
        reasons.append(Reason(ReasonCode.LEAST_LOSS, {Quantity.VOLTAGE: drop}))
    else:
        reasons.append(Reason(ReasonCode.MORE_LOSS, {Quantity.VOLTAGE: drop, Quantity.LIMIT_VOLTAGE: least}))
    if marks.sight[face] < MIN_REACHABLE_OPENNESS:
        reasons.append(Reason(ReasonCode.HARD_TO_REACH, {Quantity.SHARE: float(marks.sight[face])}))
    if marks.dry[face]:
        reasons.append(Reason(ReasonCode.IN_GAS))
    if surface.show[face]:
        reasons.append(Reason(ReasonCode.ON_SHOW))
    return tuple(reasons)
