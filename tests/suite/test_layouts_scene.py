"""What would even it out, in the tab and from the command line: rows, and one of them taken over into the scene."""

from __future__ import annotations

import json

import bpy
import pytest
import trimesh

from addon.engine.field.trials import LayoutKind
from addon.suite import command
from addon.suite.session import session
from addon.suite.scene import settings
from addon.suite.operators import layouts as operators_layouts
from addon.suite.scene import roles, stage

from models import box, moved
from scene import kept

pytestmark = pytest.mark.usefixtures("usual_tank")

BAR = moved(box((0.030, 0.020, 0.040)), (0.5, 0.2, 0.1))


@pytest.fixture(scope="module")
def compared():
    """Trials of the bar in the tank that fits it, computed once."""
    from addon.engine.mesh import inspection
    from addon.engine.field import layouts
    from addon.engine.settings.job import read_job
    from addon.engine.progress import run_to_end
    from addon.engine.tank import vessel
    from models import part

    job = read_job({"effort": {"panels": 500}, "bath": {"kinetics": {"kind": "none"}}})
    surface = run_to_end(inspection.inspect(part(BAR, name="Bar")))
    return run_to_end(layouts.compare(surface, vessel.fitted(job, surface)))


@pytest.fixture
def part(platewright, add, compared, monkeypatch):
    """The bar, compared by its button."""
    from addon.engine.field import layouts

    def at_hand(*_some):
        yield from ()
        return compared

    made = add(BAR, "Bar")
    settings.of(bpy.context.scene).effort.panels = 500
    bpy.ops.platewright.measure()
    monkeypatch.setattr(layouts, "compare", at_hand)
    bpy.ops.platewright.study(only="layouts")
    return made


def number(kind: LayoutKind) -> int:
    return next(k for k, row in enumerate(kept().study.results.layouts.trials) if row.layout.kind is kind)


def job():
    bpy.context.view_layer.update()
    return stage.staged(
        bpy.context, settings.job_of(bpy.context.scene), kept().study.part, session.carried(bpy.context, kept().capture)
    )


@pytest.mark.slow
def test_compute_everything_leaves_it_out_until_it_is_asked_for(part):
    from addon.engine import study as studies

    assert "layouts" not in studies.USUAL and kept().study.results.layouts is not None
    assert "layouts" not in kept().stale(bpy.context.scene)
    settings.of(bpy.context.scene).target.density = 3
    assert "layouts" in kept().stale(bpy.context.scene)


@pytest.mark.slow
def test_a_ring_is_taken_over_as_anodes_in_a_tank(part):
    """Without a tank yet: one is made as it was reckoned with, and the plates stand where the trial had them."""
    ring = kept().study.results.layouts.trials[number(LayoutKind.RING)]
    assert bpy.ops.platewright.take_layout(number=number(LayoutKind.RING)) == {"FINISHED"}
    found, _ = job()
    reckoned = kept().study.job.tank
    assert found.tank.size == pytest.approx(reckoned.size) and found.tank.level == pytest.approx(reckoned.level)
    assert len(found.anodes) == 6
    for anode, wanted in zip(found.anodes, ring.layout.anodes, strict=True):
        assert anode.centre == pytest.approx(wanted.centre, abs=1e-5)
    assert all(o.parent == roles.tank(bpy.context.scene) for o in roles.every(bpy.context.scene, roles.ANODE))
    settings.of(bpy.context.scene).kinetics.kind = "none"  # as the trials were reckoned
    bpy.ops.platewright.study(only="field")
    assert kept().study.results.field.voltage == pytest.approx(ring.voltage, rel=0.04)


def test_the_next_layout_replaces_the_last_and_hides_the_user_s_own(part):
    bpy.ops.platewright.tank()
    before = roles.every(bpy.context.scene, roles.ANODE)
    bpy.ops.platewright.take_layout(number=number(LayoutKind.RING))
    assert [o.hide_get() for o in before] == [True, True]
    bpy.ops.platewright.take_layout(number=number(LayoutKind.TWO_SIDES))
    assert [o.name for o in roles.every(bpy.context.scene, roles.ANODE)] == ["Plate 1", "Plate 2"]
    assert not [
        o for o in bpy.data.objects if o.get(operators_layouts.LAYOUT_MARK) and o.name not in ("Plate 1", "Plate 2")
    ]


def test_density_and_turn_are_set(part):
    slow = next(k for k, row in enumerate(kept().study.results.layouts.trials) if row.density == 100)
    bpy.ops.platewright.take_layout(number=slow)
    chosen = settings.of(bpy.context.scene)
    assert chosen.target.density == pytest.approx(1) and not chosen.place.half_turn
    turned = next(
        k for k, row in enumerate(kept().study.results.layouts.trials) if row.layout.half_turn and row.layout.anodes
    )
    bpy.ops.platewright.take_layout(number=turned)
    assert chosen.target.density == pytest.approx(2) and chosen.place.half_turn
    found, _ = job()
    assert found.place.half_turn and len(found.anodes) == 1


def test_a_thief_is_left_out_by_hiding_it(part, add, compared):
    from dataclasses import replace

    bpy.ops.platewright.tank()
    rod = add(moved(box((0.004, 0.004, 0.04)), (0.56, 0.2, 0.1)), "Robber", select=False)
    rod.platewright.role = "THIEF"
    own = next(row for row in compared.trials if row.own)
    operators_layouts.take(bpy.context, kept(), replace(own, layout=replace(own.layout, without=("Robber",))))
    assert rod.hide_get() and not job()[0].thieves and len(job()[0].anodes) == 2


def test_taking_over_is_undone_in_one_step(part):
    bpy.ops.platewright.tank()
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.platewright.take_layout(number=number(LayoutKind.RING))
    bpy.ops.ed.undo_push(message="taken")
    bpy.ops.ed.undo()
    assert [o.name for o in roles.every(bpy.context.scene, roles.ANODE)] == ["Anode 1", "Anode 2"]


def test_in_liquid_without_end_the_plates_stand_round_the_part(part):
    settings.of(bpy.context.scene).tank.shape = "open"
    bpy.ops.platewright.study(only="layouts")
    wanted = kept().study.results.layouts.trials[number(LayoutKind.TWO_SIDES)].layout.anodes
    bpy.ops.platewright.take_layout(number=number(LayoutKind.TWO_SIDES))
    found, _ = job()
    for anode, one in zip(found.anodes, wanted, strict=True):
        away = [a - c for a, c in zip(anode.centre, found.place.centre, strict=True)]
        assert away == pytest.approx(list(one.centre), abs=1e-5)


@pytest.mark.slow
def test_a_table_from_the_command_line(tmp_path, capfd):
    """Best first on standard output; with a report and a plan of the same."""
    points, faces = BAR
    trimesh.Trimesh(points * 1000, faces, process=False).export(tmp_path / "bar.stl")
    (tmp_path / "job.toml").write_text('[part]\nfile = "bar.stl"\n[effort]\npanels = 500\n')
    report, text = tmp_path / "r.json", tmp_path / "p.txt"
    assert command.main(["compare", str(tmp_path / "job.toml"), "--report", str(report), "--plan", str(text)]) == 0
    out, _ = capfd.readouterr()
    found = json.loads(report.read_text())["layouts"]
    throws = [row["thinnest_over_mean"] for row in found["trials"]]
    assert throws[0] >= 0.98 * max(throws)
    for number_, row in enumerate(found["trials"], 1):
        assert f"{number_}." in out and row["name"] in out and row["why"] in out
    assert sum(row["as_it_is"] for row in found["trials"]) == 1
    assert "WHAT WOULD EVEN OUT THE DEPOSIT" in text.read_text()
    assert "layouts" not in json.loads(report.read_text())["warnings"]


@pytest.mark.slow
def test_a_comparison_that_cannot_stand_is_one_line(tmp_path, capfd):
    points, faces = box((400, 20, 40))
    trimesh.Trimesh(points, faces, process=False).export(tmp_path / "bar.stl")
    (tmp_path / "job.toml").write_text('[part]\nfile = "bar.stl"\n[tank]\nlevel_mm = 220\n')
    assert command.main(["compare", str(tmp_path / "job.toml")]) == 2
    out, err = capfd.readouterr()
    assert out == "" and len(err.splitlines()) == 1 and "job.toml: bar: it reaches through" in err
