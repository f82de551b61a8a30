"""What the command line says while it works: one line on a terminal, ten at most elsewhere, whatever the names hold."""

from __future__ import annotations

import io
import json
import sys

import pytest
import trimesh

from addon.engine import study as studies
from addon.engine.progress import Step
from addon.engine.study import ANALYSES
from addon.suite import command, console, figures
from addon.suite.draw import sheet

import models


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def clock(monkeypatch):
    """Time that goes on by half a second whenever somebody looks."""
    now = [0.0]

    def tick() -> float:
        now[0] += 0.5
        return now[0]

    monkeypatch.setattr(console.time, "monotonic", tick)


def work(steps: int):
    for k in range(steps):
        yield Step(k / steps, f"step {k}")
    return "done"


def test_progress_is_ten_lines_where_lines_stay(clock, monkeypatch):
    """Of a whole call, however many jobs and steps it has."""
    for jobs, steps in ((1, 1000), (7, 300), (200, 50)):
        monkeypatch.setattr(sys, "stderr", io.StringIO())
        gauge = console.Gauge(jobs)
        for k in range(jobs):
            assert gauge.run(work(steps), f"job {k}.toml") == "done"
            gauge.next()
        lines = sys.stderr.getvalue().splitlines()
        assert 8 <= len(lines) <= 10, (jobs, steps)
        assert all(line.startswith("platewright: job ") and "\x1b" not in line for line in lines)


def test_progress_says_what_is_done_and_no_name_of_ours(clock, monkeypatch):
    """An analysis that only begins is told by its title; within a line nothing starts with a capital."""
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    assert {analysis.name for analysis in ANALYSES} <= figures.TITLES.keys()
    console.Gauge(1).run((Step(one / 4, name) for one, name in enumerate(("", "gas_hung", "Pairing panels"))), "a.toml")
    told = sys.stderr.getvalue()
    assert "25 %, trapped gas as recommended" in told and "50 %, pairing panels" in told


def test_progress_is_one_line_on_a_terminal(clock, monkeypatch):
    """It is written over, fits the width, is gone when the job is done, and before anything else is said."""
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setattr(sys, "stderr", Terminal())
    gauge = console.Gauge(2)
    gauge.run(work(100), "a name that is rather long for a terminal of sixty columns.toml")
    shown = sys.stderr.getvalue()
    assert "\n" not in shown and shown.endswith("\r\x1b[K")
    states = shown.split("\r\x1b[K")
    assert len(states) > 50 and all(len(state) <= 59 for state in states)
    console.redraw("b.toml: 5 %")
    console.say("warning: first\nsecond")
    assert sys.stderr.getvalue().endswith("b.toml: 5 %\r\x1b[Kplatewright: warning: first\\nsecond\n")


@pytest.mark.slow
def test_the_cut_is_asked_for_without_a_word_in_the_job(tmp_path):
    """`assumed` is the job as it was written, so it is the same with and without --cut; the picture is the same bytes in
    a second run, so it holds no date."""
    trimesh.Trimesh(*models.box((10, 20, 30)), process=False).export(tmp_path / "box.stl")
    skip = "gas, drainage, narrow, openness, contacts, field, coat, hanging, preparation, ranges, fits"
    (tmp_path / "a.toml").write_text(f'[part]\nfile = "box.stl"\n[effort]\npanels = 500\nskip = "{skip}"\n')
    call = ["plan", str(tmp_path / "a.toml")]
    run = studies.run
    with pytest.MonkeyPatch.context() as patch:  # nothing need be computed to see what was assumed
        patch.setattr(studies, "run", lambda *given, **how: run(*given, **{**how, "only": ("deposit",)}))
        assert command.main([*call, "--report", str(tmp_path / "plain.json")]) == 0
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sheet, "PIXELS", (400, 300))
        for name in ("one", "two"):
            outs = ["--report", f"{tmp_path}/{name}.json", "--cut", f"{tmp_path}/{name}.png"]
            assert command.main([*call, *outs]) == 0
    plain, cut = (json.loads((tmp_path / f"{name}.json").read_text())["assumed"] for name in ("plain", "one"))
    assert cut == plain and cut["effort"]["also"] == ""
    pictures = [(tmp_path / f"{name}.png").read_bytes() for name in ("one", "two")]
    assert pictures[0] == pictures[1] and b"Date" not in pictures[0] and b"tEXtTime" not in pictures[0]
