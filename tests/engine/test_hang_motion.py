"""Where a part comes to rest, against its motion: a rigid body on elastic wires, integrated here with Newton's and Euler's laws.

Nothing of the engine is in the motion but the loads: weight and lift act each at its own point, wires pull and never push,
the bath slows all down. The body starts at random and is followed until it hangs still.
"""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.hanging import hold
from addon.engine.hanging.balance import Load, balance, settled_up, settled_up_two
from addon.engine.hanging.lift import gas_load
from addon.engine.hanging.mass import weigh
from addon.engine.hanging.lift import balance_with_gas
from addon.engine.progress import run_to_end

from addon.engine.trapping.relief import relief_of
import models

MM, G, BATH = 1e-3, 9.80665, 1172.0
Z = np.array([0.0, 0.0, 1.0])


def at_rest(loads, contacts, anchors, *, starts=3, seed=0, stiff=300.0, seconds=5.0, step=2e-3):
    """(starts, 3) the model directions that point up at the end.

    contacts : (k, 3) m, model; anchors : (k, 3) m, world, above the body, or below it for one that floats
    """
    rng = np.random.default_rng(seed)
    mass = sum(load.mass for load in loads)
    centre = sum(load.mass * load.centre for load in loads) / mass
    inertia = mass * (15 * MM) ** 2 * np.array([0.7, 1.0, 1.3])  # any will do: rest does not hang on it
    arms = np.stack([*(load.buoyancy - centre for load in loads), *(contacts - centre)])
    lift = np.array([BATH * load.displaced * G for load in loads])
    turn = np.stack([models.rotation(int(k)) for k in rng.integers(0, 10_000, starts)])
    place = np.tile(anchors.mean(axis=0) - 0.05 * np.sign(anchors[0, 2]) * Z, (starts, 1))
    speed, spin = np.zeros((2, starts, 3))
    slack = 0.05
    for _ in range(round(seconds / step)):
        out = np.einsum("nij,kj->nki", turn, arms)
        force = np.zeros((starts, len(arms), 3))
        force[:, : len(loads), 2] = lift
        ends = place[:, None] + out[:, len(loads) :]
        moving = speed[:, None] + np.cross(spin[:, None], out[:, len(loads) :])
        wire = ends - anchors
        length = np.linalg.norm(wire, axis=2, keepdims=True)
        along = wire / np.maximum(length, 1e-9)
        pull = stiff * (length - slack) + 1.0 * (moving * along).sum(axis=2, keepdims=True)
        force[:, len(loads) :] = -np.where(length > slack, np.maximum(pull, 0.0), 0.0) * along
        speed += step / mass * (force.sum(axis=1) - mass * G * Z - mass / 0.05 * speed)
        own = np.einsum("nij,ni->nj", turn, np.cross(out, force).sum(axis=1))  # torque and spin in the body's axes
        about = np.einsum("nij,ni->nj", turn, spin)
        about += step * ((own - np.cross(about, inertia * about)) / inertia - about / 0.2)
        spin = np.einsum("nij,nj->ni", turn, about)
        place = place + step * speed
        turn = _turned(turn, spin * step)
    assert np.abs(spin).max() < 0.02, "it still swings"
    return turn[:, 2]


def _turned(turn, by):
    """Rotations (n, 3, 3) after small turns by vectors (n, 3): Rodrigues' formula."""
    angle = np.linalg.norm(by, axis=1)
    axis = by / np.maximum(angle, 1e-300)[:, None]
    cross = np.cross(axis[:, None], np.eye(3)).swapaxes(1, 2)
    sine, cosine = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    return (np.eye(3) + sine * cross + (1 - cosine) * cross @ cross) @ turn


def angle(one, other):
    return np.degrees(np.arccos(np.clip(one @ other, -1, 1)))


def printed(trace, model, density=1240.0, **print_of):
    surface = run_to_end(inspection.inspect(models.part(model)))
    body = weigh(surface, trace(surface), plastic_density=density, **print_of)
    return surface, Load(body.mass, body.centre, body.displaced, body.buoyancy)


def ell():
    """An L, its foot thick and its leg thin: with walls and infill its mass lies off its displaced volume."""
    return models.joined(
        models.box((30 * MM, 20 * MM, 20 * MM), (3, 2, 2)),
        models.moved(models.box((6 * MM, 20 * MM, 40 * MM), (1, 2, 4)), (0, 0, 20.5 * MM)),
    )


@pytest.mark.slow
def test_on_one_wire(trace):
    """From random starts a print of an L turns to the way up that is foretold, within half a degree."""
    _, load = printed(trace, ell(), 1600.0, walls=3 * MM, infill=0.7)
    contact = np.array([0.0, 10 * MM, 60.5 * MM])
    state = balance([load], BATH)
    assert not state.floats
    found = at_rest([load], contact[None], np.array([[0, 0, 0.1]]))
    assert angle(found, settled_up(contact, state)).max() == pytest.approx(0, abs=0.5)


@pytest.mark.slow
def test_on_two_wires(trace):
    """Both wires taut, the contacts level to the wires' stretch: half a degree (300 N/m and some 30 mN: a tenth of a mm)."""
    surface, load = printed(
        trace, models.cup(12 * MM, 24 * MM, 3 * MM, around=48), walls=1.5 * MM, infill=1.0, density=1600.0
    )
    state = balance([load], BATH)
    pair = hold.find(Z, state, surface, trace(surface), hold.sample_spots(surface), "two wires")
    assert pair.wires == 2
    apart = np.linalg.norm(pair.points[1] - pair.points[0])
    anchors = np.array([[-apart / 2, 0, 0.1], [apart / 2, 0, 0.1]])
    expected = settled_up_two(*pair.points, state)
    found = at_rest([load], pair.points, anchors, seed=3)
    assert angle(found, expected).min() == pytest.approx(
        0, abs=0.5
    )  # wires may cross, or the part hang over them, from an unlucky start
    assert angle(expected, Z) < np.degrees(hold.MAX_HOLD_ANGLE_RAD)


@pytest.mark.slow
def test_afloat_on_its_tie(trace):
    """A light print pulls up on its tie: it comes to rest with the balance point plumb over it."""
    surface, load = printed(trace, ell(), walls=1 * MM, infill=0.1)
    state = balance([load], BATH)
    assert state.floats
    tie = hold.find(Z, state, surface, trace(surface), hold.sample_spots(surface), "one wire")
    assert tie.tether
    up = (state.point - tie.points[0]) / np.linalg.norm(state.point - tie.points[0])
    found = at_rest([load], tie.points, np.array([[0, 0, -0.1]]), seed=1)
    assert angle(found, up).max() == pytest.approx(0, abs=0.5)
    assert angle(up, Z) < np.degrees(hold.MAX_HOLD_ANGLE_RAD) + 0.1


@pytest.mark.slow
@pytest.mark.parametrize("tilt", [0, 25])
def test_gas_in_a_pocket_swings_it(trace, tilt):
    """A solid bell of copper-filled plastic (2.5 g/mL), hung off its axis: the turn that its gas makes is that of the motion."""
    turn = np.diag([1.0, -1.0, -1.0])
    surface = run_to_end(
        inspection.inspect(models.part(models.moved(models.cup(10 * MM, 20 * MM, 5 * MM, around=48), turn=turn)))
    )
    body = weigh(surface, trace(surface), walls=1 * MM, infill=1.0, plastic_density=2500.0)
    load = Load(body.mass, body.centre, body.displaced, body.buoyancy)
    contact = np.array([15 * np.sin(np.radians(tilt)), 0, 5.0]) * MM
    empty = settled_up(contact, balance([load], BATH))
    full, swing = balance_with_gas(load, gas_load(relief_of(surface), empty), BATH, contact)
    assert not full.floats
    anchor = np.array([[0, 0, 0.1]])
    before = at_rest([load], contact[None], anchor, seed=2, starts=2)
    after = at_rest([load, gas_load(relief_of(surface), empty)], contact[None], anchor, seed=2, starts=2)
    assert angle(before, empty).max() == pytest.approx(0, abs=0.5)
    assert angle(before[0], after[0]) == pytest.approx(np.degrees(swing), abs=0.7)
    assert (np.degrees(swing) < 0.5) == (tilt == 0)
