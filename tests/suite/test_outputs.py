"""Where the outputs of a job go: special files stay what they are, no job spoils another's files, and what is written
appears together or not at all, also on a full disk and under a signal.
"""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import trimesh

from addon.engine.errors import InputError
from addon.engine.settings import job_file
from addon.suite import command, outputs, stopping, writers

import models

ROOT = Path(__file__).resolve().parents[2]
QUICK = '[effort]\nskip = "gas, drainage, narrow, openness, contacts, field, coat, hanging"\n'


def write_job(path: Path, model: str = "box.stl") -> Path:
    path.write_text(f'[part]\nfile = "{model}"\n{QUICK}')
    return path


@pytest.fixture
def folder(tmp_path) -> Path:
    trimesh.Trimesh(*models.box((10, 20, 30)), process=False).export(tmp_path / "box.stl")
    write_job(tmp_path / "a.toml")
    return tmp_path


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def errors(capfd) -> list[str]:
    return [line for line in capfd.readouterr().err.splitlines() if "error:" in line]


@pytest.mark.parametrize("kind", ["device", "pipe", "loop", "long", "latin"])
def test_an_output_is_a_file_or_is_not_there_yet(folder, kind, capfd):
    """/dev/null keeps being a device and a pipe a pipe: exit status 2, one line."""
    target = folder / f"{kind}.json"
    if kind == "device":
        target = Path("/dev/null")
    elif kind == "pipe":
        os.mkfifo(target)
    elif kind == "loop":
        target.symlink_to(target)
    elif kind == "long":
        target = folder / ("a/" * 3000 + "r.json")
    else:
        target = folder / os.fsdecode(b"\xe9.json")
    before = set(os.listdir(folder))
    mode = os.lstat(target).st_mode if kind in ("device", "pipe", "loop") else None
    assert command.main(["plan", str(folder / "a.toml"), "--report", str(target)]) == 2
    (line,) = errors(capfd)
    words = {"device": "a device", "pipe": "a pipe", "loop": "symbolic", "long": "too long", "latin": "not UTF-8"}
    assert words[kind] in line and "--report" in line and len(line) < 500
    assert set(os.listdir(folder)) == before
    assert mode is None or os.lstat(target).st_mode == mode


def test_a_link_stays_a_link(folder):
    """What it points at is written, whether it is there yet or not."""
    (folder / "elsewhere").mkdir()
    link = folder / "r.json"
    link.symlink_to(folder / "elsewhere" / "real.json")
    for _ in range(2):
        assert command.main(["plan", str(folder / "a.toml"), "--report", str(link)]) == 0
        assert link.is_symlink() and json.loads(link.read_text())["part"]["triangles"] == 12
    assert os.listdir(folder / "elsewhere") == ["real.json"]


def test_a_report_on_standard_output(folder, capfd):
    before = files(folder)
    assert command.main(["plan", str(folder / "a.toml"), "--report", "-", "--plan", str(folder / "p.txt")]) == 0
    assert json.loads(capfd.readouterr().out)["part"]["triangles"] == 12
    assert set(files(folder)) - set(before) == {"p.txt"}
    assert command.main(["plan", str(folder / "a.toml"), "--report", "-", "--plan", "-"]) == 2
    assert command.main(["plan", str(folder / "a.toml"), "--picture", "-"]) == 2
    assert command.main(["compare", str(folder / "a.toml"), "--report", "-"]) == 2


def test_no_job_writes_over_what_another_reads(folder, capfd):
    """z's part is q.stl, which q's call would make a copy to print of: q is refused, in whatever order, and z is done.
    So it is with a second name of the file, with a bath's table, and with a job that cannot be read right."""
    (folder / "q.stl").write_bytes((folder / "box.stl").read_bytes())
    os.link(folder / "q.stl", folder / "alias.stl")
    os.link(folder / "a.toml", folder / "again.json")
    write_job(folder / "q.toml")
    write_job(folder / "z.toml", "q.stl")
    before = files(folder)
    for order in (("q", "z"), ("z", "q")):
        names = [str(folder / f"{name}.toml") for name in order]
        assert command.main(["plan", *names, "--inset", f"{folder}/{{name}}.stl"]) == 2
        (line,) = errors(capfd)
        assert "q.stl: this file is read by" in line and "z.toml" in line
        (folder / "z.stl").unlink()
        assert files(folder) == before
    assert command.main(["plan", str(folder / "z.toml"), "--inset", str(folder / "alias.stl")]) == 2
    assert command.main(["plan", str(folder / "a.toml"), "--report", str(folder / "again.json")]) == 2
    (folder / "bad.toml").write_text('[part]\nfile = "q.stl"\nunit = "ell"\n')
    names = [str(folder / f"{name}.toml") for name in ("bad", "q")]
    assert command.main(["plan", *names, "--inset", f"{folder}/{{name}}.stl"]) == 2
    assert len(errors(capfd)) == 4 and files(folder) == {**before, "bad.toml": (folder / "bad.toml").read_bytes()}
    os.rename(folder / "q.toml", folder / "mine.toml")
    (folder / "x.toml").write_text((folder / "a.toml").read_text() + '[bath]\nfile = "mine.toml"\n')
    assert command.main(["plan", str(folder / "x.toml"), "--plan", str(folder / "mine.toml")]) == 2
    assert "read by this job" in capfd.readouterr().err


def test_no_two_outputs_of_a_call_meet(folder, capfd):
    """The report of `a.json.toml` and the plan of `a.toml` are one file; so are those of one job that is named twice."""
    write_job(folder / "a.json.toml")
    names = [str(folder / name) for name in ("a.toml", "a.json.toml")]
    out = ["--report", f"{folder}/{{name}}", "--plan", f"{folder}/{{name}}.json"]
    assert command.main(["plan", *names, *out]) == 2
    (line,) = errors(capfd)
    assert f"a.json: {names[0]} writes there as well" in line
    assert json.loads((folder / "a").read_text())["part"]["triangles"] == 12
    assert command.main(["plan", names[0], names[0], "--report", f"{folder}/{{name}}.out"]) == 2
    assert len(errors(capfd)) == 1 and (folder / "a.out").exists()
    assert command.main(["plan", names[0], "--report", f"{folder}/x", "--plan", f"{folder}/sub/../x"]) == 2


def test_all_outputs_go_back_where_one_cannot_go(tmp_path, monkeypatch):
    """The third move fails: the two files that were there before are as they were, and the new one is gone."""
    (tmp_path / "p.txt").write_text("old plan")
    (tmp_path / "r.json").write_text("old report")
    real, moves = os.replace, []

    def replace(source, target):
        if Path(target).parent == tmp_path and Path(target).name != "p.txt":
            moves.append(target)
            if len(moves) == 2:
                raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(outputs.os, "replace", replace)
    targets = {"report": tmp_path / "r.json", "plan": tmp_path / "p.txt", "arrays": tmp_path / "f.npz"}
    with pytest.raises(InputError, match="No space left"), outputs.together(targets) as made:
        for path in made.values():
            path.write_text("new")
    assert {name: data.decode() for name, data in files(tmp_path).items()} == {
        "p.txt": "old plan",
        "r.json": "old report",
    }
    assert set(os.listdir(tmp_path)) == {"p.txt", "r.json"}


BEGIN = """
import sys, os
sys.path.insert(0, {root!r})
from pathlib import Path
from addon.suite import outputs
folder = Path({folder!r})
"""


# The modules of the suite without what it imports: files need no Blender, and it takes a second to start
ALONE = """
import sys, types
sys.modules["addon.suite"] = suite = types.ModuleType("addon.suite")
suite.__path__ = [{root!r} + "/addon/suite"]
"""


def python(text: str, folder: Path, alone: bool = False) -> subprocess.CompletedProcess[str]:
    script = ((ALONE if alone else "") + BEGIN).format(root=str(ROOT), folder=str(folder)) + text
    return subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=120)


@pytest.mark.slow
def test_what_a_kill_leaves_is_swept_by_the_next_run(tmp_path):
    """Killed while it writes: the next run takes it away. Killed between the first and the last file: the next run puts
    the rest into their places. The folder of a run that lives, and a file of such a name, are let be."""
    targets = 'dict(report=folder / "r.json", plan=folder / "p.txt")'
    script = f"""
with outputs.together({targets}) as made:
    for path in made.values():
        path.write_text("half")
    os.kill(os.getpid(), 9)
"""
    assert python(script, tmp_path, alone=True).returncode == -signal.SIGKILL
    assert [name.startswith(outputs.PREFIX) for name in os.listdir(tmp_path)] == [True]
    outputs.sweep(tmp_path)
    assert os.listdir(tmp_path) == []
    script = f"""
real = os.replace
def replace(source, target):
    real(source, target)
    if str(target) == str(folder / "p.txt"):
        os.kill(os.getpid(), 9)
outputs.os.replace = replace
with outputs.together({targets}) as made:
    for path in made.values():
        path.write_text("whole")
"""
    assert python(script, tmp_path, alone=True).returncode == -signal.SIGKILL
    assert not (tmp_path / "r.json").exists()
    (tmp_path / f"{outputs.PREFIX}mine").write_text("a file of mine")
    with outputs.together({"plan": tmp_path / "q.txt"}) as made:
        assert (tmp_path / "r.json").read_text() == (tmp_path / "p.txt").read_text() == "whole"
        alive = python("outputs.sweep(folder)\nprint(*sorted(os.listdir(folder)))", tmp_path, alone=True)
        assert made["plan"].parent.name in alive.stdout
        made["plan"].write_text("done")
    assert set(os.listdir(tmp_path)) == {"p.txt", "q.txt", "r.json", f"{outputs.PREFIX}mine"}


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="no such signals")
def test_a_signal_ends_a_call_as_ctrl_c_does(folder):
    """Exit status 130, one line, and no file but those that were there."""
    points, triangles = models.torus(20.0, 5.0, 150, 100)
    trimesh.Trimesh(points, triangles, process=False).export(folder / "box.stl")
    (folder / "a.toml").write_text('[part]\nfile = "box.stl"\n')
    before = set(os.listdir(folder))
    call = [sys.executable, "-m", "addon", "plan", str(folder / "a.toml"), "--report", f"{folder}/r.json"]
    run = subprocess.Popen(call, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    line = run.stderr.readline()  # the first word of its progress: it is at work
    run.send_signal(signal.SIGTERM)
    out, err = run.communicate(timeout=60)
    out = "".join(line for line in out.splitlines(True) if "color_management" not in line)  # Blender 5.3's own word
    assert (run.returncode, out) == (130, "")
    assert "a.toml" in line and err.splitlines()[-1].endswith("stopped; the job in hand wrote nothing")
    assert "Traceback" not in err and set(os.listdir(folder)) == before


@pytest.mark.skipif(os.name == "nt", reason="no such signals")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_waits_while_files_are_put_into_their_places(number):
    seen, before = [], signal.signal(number, signal.SIG_DFL)
    try:
        with stopping.heeded(), pytest.raises(KeyboardInterrupt):
            with stopping.held():
                os.kill(os.getpid(), number)
                time.sleep(0.01)
                seen.append("to its end")
            seen.append("and no further")
        assert signal.getsignal(number) is signal.SIG_DFL
    finally:
        signal.signal(number, before)
    assert seen == ["to its end"]


@pytest.mark.slow
def test_a_disk_that_takes_no_more_is_told(folder):
    """A limit on the size of a file stands for a full disk: Blender itself reports neither. Nothing is written."""
    options = ["blend", "picture", "inset", "arrays", "workshop"]
    script = f"""
import resource, signal
from addon.suite import command
from addon.suite.draw import sheet
sheet.PIXELS = 160, 120
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (300, 300))
for option in {options!r}:
    target = folder / ("o" + outputs.ENDINGS[option])
    print(option, command.main(["plan", str(folder / "a.toml"), "--" + option, str(target)]))
"""
    before = set(os.listdir(folder))
    run = python(script, folder)
    lines = [line for line in run.stderr.splitlines() if "warning:" not in line and "%" not in line]
    ends = [line for line in run.stdout.splitlines() if line.endswith(" 2")]
    assert ends == [f"{option} 2" for option in options], run.stderr
    assert len(lines) == len(options), run.stderr
    for option, line in zip(options, lines, strict=True):
        assert "is the disk full?" in line and f"--{option}" in line
    assert set(os.listdir(folder)) == before


def test_a_file_that_was_cut_off_is_not_whole(folder, tmp_path):
    """Every proper prefix of a .blend and a .png that Blender wrote is told from the whole."""
    assert command.main(["plan", str(folder / "a.toml"), "--blend", f"{folder}/o.blend"]) == 0
    whole = (folder / "o.blend").read_bytes()
    for share in (0.0, 0.3, 0.9, 0.9999):
        with pytest.raises(InputError, match="disk full"), outputs.together({"blend": tmp_path / "c.blend"}) as made:
            made["blend"].write_bytes(whole[: int(share * len(whole))])
    assert not (tmp_path / "c.blend").exists()


@pytest.mark.slow
def test_standard_output_that_nobody_takes(folder):
    """A pipe that is closed and a device that is full: one line, no traceback."""
    call = [sys.executable, "-m", "addon", "area", str(folder / "box.stl")]
    with open("/dev/full", "wb") as full:
        run = subprocess.run(call, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, text=True, timeout=120)
    assert run.returncode == 2 and len(run.stderr.splitlines()) == 1 and "No space left" in run.stderr


def test_a_report_keeps_a_name_that_is_no_text(tmp_path):
    """An object's name of odd bytes is escaped as JSON does it."""
    writers.write_json(tmp_path / "r.json", {"name": "Part\udce9"})
    assert json.loads((tmp_path / "r.json").read_text()) == {"name": "Part\udce9"}


def test_arrays_are_the_same_bytes(tmp_path):
    for name in ("a.npz", "b.npz"):
        writers.write_arrays(tmp_path / name, {"x": np.arange(5.0)})
        time.sleep(0.01)
    assert (tmp_path / "a.npz").read_bytes() == (tmp_path / "b.npz").read_bytes()
    np.testing.assert_array_equal(np.load(tmp_path / "a.npz")["x"], np.arange(5.0))


def test_rights_of_a_new_file(tmp_path):
    """As any other new file has them."""
    (tmp_path / "plain.txt").write_text("")
    with outputs.together({"plan": tmp_path / "p.txt"}) as made:
        made["plan"].write_text("text")
    assert stat.S_IMODE((tmp_path / "p.txt").stat().st_mode) == stat.S_IMODE((tmp_path / "plain.txt").stat().st_mode)


def test_a_folder_stands_for_its_jobs_and_takes_their_outputs(folder, capfd):
    """Its job files by name, or its models where it has none; each output is called after job and option. The same
    bytes come from a call a job, and a folder with neither is one line."""
    write_job(folder / "b.toml")
    out = folder / "out"
    out.mkdir()
    assert command.main(["plan", str(folder), "--report", str(out), "--plan", f"{out}/"]) == 0
    assert set(os.listdir(out)) == {f"{job}-{kind}" for job in "ab" for kind in ("report.json", "plan.txt")}
    assert command.main(["plan", str(folder / "b.toml"), "--plan", str(folder / "alone.txt")]) == 0
    assert (folder / "alone.txt").read_bytes() == (out / "b-plan.txt").read_bytes()
    capfd.readouterr()
    assert command.main(["plan", str(out / "none"), "--report", str(out)]) == 2
    (out / "empty").mkdir()
    assert command.main(["plan", str(out / "empty"), "--report", str(out)]) == 2
    assert "neither a job file" in errors(capfd)[-1]
    (out / "box.stl").write_bytes((folder / "box.stl").read_bytes())
    assert job_file.jobs_in(str(out)) == [str(out / "box.stl")]


def test_a_mark_that_is_no_picture_is_told_first(folder, capfd):
    """A name that is not there, a text, and an output that would be written over it: one line each, nothing written."""
    job = folder / "a.toml"
    job.write_text(job.read_text() + '[sheet]\nlogo = "mark.png"\n')
    before = files(folder)
    assert command.main(["plan", str(job), "--sheet", str(folder / "s.pdf")]) == 2
    (folder / "mark.png").write_text("no picture")
    assert command.main(["plan", str(job), "--sheet", str(folder / "s.pdf")]) == 2
    assert command.main(["plan", str(job), "--sheet", str(folder / "mark.png")]) == 2
    missing, text, own = errors(capfd)
    assert "there is no file" in missing and "no picture" in text and "read by this job" in own
    assert files(folder) == {**before, "mark.png": b"no picture"}
