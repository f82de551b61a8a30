"""The command line, called as a user calls it: exit status, one line for what is wrong, nothing half-written."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh

from addon.engine import study as studies
from addon.engine.errors import InputError
from addon.suite import command, outputs, study_files
from addon.suite.draw import sheets

import models

ROOT = Path(__file__).resolve().parents[2]
QUICK = '[effort]\ndirections = 50\nrays = 16\npanels = 500\nskip = "{}"\n'
CUP = models.cup(10.0, 20.0, 1.0, around=32, rows=4)  # mm


@pytest.fixture
def cup(tmp_path) -> Path:
    path = tmp_path / "cup.stl"
    trimesh.Trimesh(*CUP, process=False).export(path)
    return path


def write_job(path: Path, text: str = "", part: str = 'file = "cup.stl"', skip: str = "field, coat, hanging") -> Path:
    path.write_text(f"[part]\n{part}\n{QUICK.format(skip)}{text}")
    return path


@pytest.fixture
def job(cup) -> Path:
    return write_job(cup.parent / "cup.toml")


def listing(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_area_is_one_figure(cup, capfd):
    """The cup's area by trimesh, in dm2, alone on standard output."""
    assert command.main(["area", str(cup), "--unit", "mm"]) == 0
    out, _ = capfd.readouterr()
    name, figure = out.strip().rsplit(": ", 1)
    assert name == str(cup) and figure.endswith(" dm2")
    assert float(figure.split()[0]) == pytest.approx(trimesh.Trimesh(*CUP).area / 1e4, rel=1e-5)


def test_area_in_another_unit(cup, capfd):
    command.main(["area", str(cup), "--unit", "cm"])
    figure = float(capfd.readouterr().out.rsplit(": ", 1)[1].split()[0])
    assert figure == pytest.approx(trimesh.Trimesh(*CUP).area / 1e2, rel=1e-5)


@pytest.mark.slow
def test_plan_writes_all_that_is_asked_for(job, capfd):
    """Report, plan and arrays agree with each other and with trimesh; nothing else is left in the folder."""
    folder = job.parent
    before = listing(folder)
    status = command.main(
        [
            "plan",
            str(job),
            "--report",
            f"{folder}/r.json",
            "--plan",
            f"{folder}/p.txt",
            "--arrays",
            f"{folder}/f.npz",
            "--blend",
            f"{folder}/o.blend",
        ]
    )
    assert status == 0
    assert capfd.readouterr().out == ""
    assert listing(folder) - before == {"r.json", "p.txt", "f.npz", "o.blend"}
    report = json.loads((folder / "r.json").read_text())
    assert report["schema"] == "platewright-report/1"
    assert report["part"]["triangles"] == len(CUP[1])
    wanted = trimesh.Trimesh(*CUP).area / 1e4
    assert report["part"]["plated_area_dm2"] == pytest.approx(wanted, rel=1e-4)
    arrays = np.load(folder / "f.npz")
    assert len(arrays["area_mm2"]) == len(CUP[1])
    assert arrays["area_mm2"].sum() / 1e4 == pytest.approx(wanted, rel=1e-5)
    assert set(report["versions"]) == {"platewright", "blender", "numpy"}


@pytest.mark.slow
@pytest.mark.computes
@pytest.mark.usefixtures("both_levels")
def test_bodies_in_the_tank_are_read(cup):
    """An anode from a file: the field has it as electrode, so the same plate by numbers gives the same voltage."""
    folder = cup.parent
    points, faces = models.box((120, 1, 160), (6, 1, 8))
    trimesh.Trimesh(points + [-60, 79.5, 20], faces, process=False).export(folder / "anode.stl")
    other = "[[anode]]\nplate_mm = [120, 160]\ncentre_mm = [0, -80, 100]\nnormal = [0, 1, 0]\n"
    plate = "[[anode]]\nplate_mm = [120, 160]\ncentre_mm = [0, 80, 100]\nnormal = [0, -1, 0]\n"
    volts = []
    for name, anode in (("file", '[[anode]]\nfile = "anode.stl"\n'), ("plate", plate)):
        job = write_job(
            folder / f"{name}.toml", other + anode, skip="coat, hanging, contacts, openness, narrow, ranges"
        )
        assert command.main(["plan", str(job), "--report", str(folder / f"{name}.json")]) == 0
        volts.append(json.loads((folder / f"{name}.json").read_text())["field"]["cell_voltage_V"])
    assert volts[0] == pytest.approx(volts[1], rel=0.05)  # 500 panels, and a plate 1 mm thick beside a thin one


def test_the_blend_is_to_size_and_colored(job):
    """In millimeters, with as many polygons as the part has triangles, and an attribute of ours that is shown."""
    target = job.parent / "o.blend"
    assert command.main(["plan", str(job), "--blend", str(target)]) == 0
    bpy.ops.wm.open_mainfile(filepath=str(target), load_ui=False)
    (o,) = bpy.data.objects
    assert bpy.context.scene.unit_settings.scale_length == pytest.approx(0.001)
    assert len(o.data.polygons) == len(CUP[1])
    assert tuple(o.dimensions) == pytest.approx((22.0, 22.0, 21.0), rel=1e-3)
    assert o.data.color_attributes.active_color.name.startswith("platewright")


def test_a_study_without_a_map_has_no_picture_but_has_the_rest(cup, capfd):
    """With every analysis left out there is nothing to color by: one line, nothing written; a .blend is still made."""
    every = "gas, drainage, narrow, openness, contacts, field, coat, hanging, preparation"
    bare = write_job(cup.parent / "bare.toml", skip=every)
    report, blend, picture = (str(cup.parent / f"bare.{end}") for end in ("json", "blend", "png"))
    before = listing(cup.parent)
    assert command.main(["plan", str(bare), "--report", report, "--picture", picture]) == 2
    assert "nothing was computed that colors the part" in capfd.readouterr().err
    assert listing(cup.parent) == before
    assert command.main(["plan", str(bare), "--report", report, "--blend", blend]) == 0
    assert Path(blend).exists()


@pytest.mark.slow
@pytest.mark.computes
def test_the_same_job_gives_the_same_bytes(job):
    """Apart from timings_s."""
    texts = []
    for name in ("a.json", "b.json"):
        command.main(["plan", str(job), "--report", str(job.parent / name)])
        table = json.loads((job.parent / name).read_text())
        table.pop("timings_s")
        texts.append(json.dumps(table))
    assert texts[0] == texts[1]


def test_a_model_alone_is_a_job(cup, monkeypatch):
    """Everything but the file takes its default (one analysis is enough to see it)."""
    run = studies.run
    monkeypatch.setattr(studies, "run", lambda *given, **how: run(*given, **{**how, "only": ("deposit",)}))
    assert command.main(["plan", str(cup), "--report", str(cup.parent / "r.json")]) == 0
    assert json.loads((cup.parent / "r.json").read_text())["assumed"]["part"]["unit"] == "mm"


@pytest.mark.slow
def test_the_plan_in_another_language(job, monkeypatch, capfd):
    """One analysis is enough: plan and sheets are German, the report is not; a language that is not there is refused. The
    client's sheet needs a thickness, so it is only seen to be asked for in German."""
    run, asked = studies.run, []
    monkeypatch.setattr(studies, "run", lambda *given, **how: run(*given, **{**how, "only": ("deposit",)}))
    monkeypatch.setattr(
        sheets, "write", lambda _study, path, *how: (asked.append(how[-1].name), path.write_bytes(b"%PDF%%EOF"))
    )
    names = {"report": "r.json", "plan": "p.txt", "workshop": "w.html", "sheet": "s.pdf"}
    outputs = [f"--{option}={job.parent / name}" for option, name in names.items()]
    assert command.main(["plan", str(job), *outputs, "--language", "de"]) == 0
    text, page = ((job.parent / name).read_text(encoding="utf-8") for name in ("p.txt", "w.html"))
    assert text.startswith("GALVANIKPLAN: ") and "Prüfen: " in text and "Check: " not in text
    assert '<html lang="de">' in page and "<h2>Schritte</h2>" in page
    assert asked == ["de"]
    assert "not computed" in (job.parent / "r.json").read_text(encoding="utf-8")
    assert command.main(["plan", str(job), *outputs, "--language", "xx"]) == 2
    assert "'xx'" in capfd.readouterr().err


@pytest.mark.slow
def test_one_failure_does_not_stop_the_rest(job, capfd):
    """Two good jobs round a bad one: two reports, one line, exit status 2."""
    folder = job.parent
    bad = write_job(folder / "bad.toml", part='file = "missing.stl"')
    last = write_job(folder / "last.toml")
    status = command.main(["plan", str(job), str(bad), str(last), "--report", f"{folder}/{{name}}.json"])
    assert status == 2
    assert {"cup.json", "last.json"} <= listing(folder) and "bad.json" not in listing(folder)
    errors = [line for line in capfd.readouterr().err.splitlines() if "error:" in line]
    assert len(errors) == 1 and "missing.stl" in errors[0]


def test_area_of_several_goes_on(cup, capfd):
    missing = str(cup.parent / "no.stl")
    assert command.main(["area", missing, str(cup)]) == 2
    out, err = capfd.readouterr()
    assert out.startswith(f"{cup}: ") and missing in err


BAD = {
    "unknown key": ("[target]\nthicknes_um = 30\n", "thickness_um"),
    "unknown section": ("[targets]\n", "target"),
    "zero density": ("[target]\ndensity_A_dm2 = 0\n", "target.density_A_dm2"),
    "negative thickness": ("[target]\nthickness_um = -5\n", "target.thickness_um"),
    "absurd layer": ("[print]\nlayer_mm = 1e9\n", "print.layer_mm"),
    "not a number": ("[target]\nthickness_um = nan\n", "target.thickness_um"),
    "text for a number": ('[supply]\nmax_A = "five"\n', "supply.max_A"),
    "syntax": ("[target\n", "line"),
    "no such bath": ('[bath]\nname = "acid coper"\n', "bath.name"),
    "no such material": ("", "part.material"),
    "no such analysis": ("[print]\nlayer_mm = 0.1\n", "effort.skip"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_job_is_one_line_and_nothing_written(cup, name, capfd):
    """Exit status 2; the line names the job file and the key; no report, no other file."""
    text, words = BAD[name]
    path = write_job(cup.parent / "bad.toml", text)
    if name == "no such material":
        write_job(path, part='file = "cup.stl"\nmaterial = "oak"')
    if name == "no such analysis":
        path.write_text(path.read_text().replace("hanging", "gass"))
    before = listing(cup.parent)
    assert command.main(["plan", str(path), "--report", str(cup.parent / "r.json")]) == 2
    out, err = capfd.readouterr()
    assert out == "" and len(err.splitlines()) == 1
    assert words in err and ("bad.toml" in err or name == "no such analysis")
    assert listing(cup.parent) == before


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("no/such/folder/r.json", "No such file"),
        ("cup.stl", "is read by this job"),
        ("cup.toml", "is read by this job"),
        ("cup.toml/r.json", "Not a directory"),
    ],
)
def test_unwritable_outputs_are_told_before_anything_is_computed(job, target, words, monkeypatch, capfd):
    monkeypatch.setattr(studies, "run", lambda *_, **__: pytest.fail("it began to compute"))
    before = {path.name: path.read_bytes() for path in job.parent.iterdir()}
    assert command.main(["plan", str(job), "--report", str(job.parent / target)]) == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert words in line and "--report" in line
    assert {path.name: path.read_bytes() for path in job.parent.iterdir()} == before


def test_a_folder_where_the_output_would_go_is_told_before_anything_is_computed(job, tmp_path, monkeypatch, capfd):
    """A folder takes outputs, called after the job: where one of that name is a folder itself, no file can be."""
    monkeypatch.setattr(studies, "run", lambda *_, **__: pytest.fail("it began to compute"))
    out = tmp_path / "out"
    (out / f"{job.stem}-report.json").mkdir(parents=True)
    assert command.main(["plan", str(job), "--report", str(out)]) == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert "is a folder" in line and "--report" in line


@pytest.mark.slow
def test_a_failure_while_writing_leaves_the_old_files(job, monkeypatch):
    """The plan cannot be told: neither the report before it nor the old plan is touched."""
    old = job.parent / "p.txt"
    old.write_text("last week's plan")
    before = listing(job.parent)

    def fail(_study, _language):
        raise InputError("no plan today")

    monkeypatch.setattr(study_files.plan, "write", fail)
    status = command.main(["plan", str(job), "--report", f"{job.parent}/r.json", "--plan", str(old)])
    assert status == 2
    assert old.read_text() == "last week's plan" and listing(job.parent) == before


def test_a_new_file_has_the_rights_of_any_new_file(tmp_path):
    """mkstemp makes files that nobody else can read; a report is for others too."""
    plain = tmp_path / "plain.txt"
    plain.write_text("")
    with outputs.together({"plan": tmp_path / "p.txt"}) as made:
        made["plan"].write_text("text")
    assert (tmp_path / "p.txt").stat().st_mode == plain.stat().st_mode


@pytest.mark.parametrize(
    "arguments",
    [[], ["plan"], ["plan", "x.stl"], ["paint", "x.stl"], ["area", "x.stl", "--unit", "yard"], ["plan", "--report"]],
)
def test_wrong_arguments_are_one_line(arguments, capfd):
    assert command.main(arguments) == 2
    out, err = capfd.readouterr()
    assert out == "" and len(err.splitlines()) == 1


def test_two_jobs_cannot_write_one_file(job, capfd):
    other = write_job(job.parent / "other.toml")
    assert command.main(["plan", str(job), str(other), "--report", f"{job.parent}/r.json"]) == 2
    assert "{name}" in capfd.readouterr().err


@pytest.mark.slow
def test_as_a_module_from_the_repository(cup):
    """`python -m addon`: exit status passed through, no traceback, standard output clean."""
    run = [sys.executable, "-m", "addon", "area"]
    good = subprocess.run([*run, str(cup)], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert good.returncode == 0 and good.stdout.count("\n") == 1 and good.stdout.endswith(" dm2\n")
    bad = subprocess.run([*run, "no.stl"], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert bad.returncode == 2 and bad.stdout == ""
    assert len(bad.stderr.splitlines()) == 1 and "no.stl" in bad.stderr


def report_of(folder: Path, name: str, **figures: object) -> Path:
    """A report with a few figures, as a file."""
    table = {
        "schema": "platewright-report/1",
        "part": {"name": "A", "triangles": 12, "plated_area_dm2": 1.0},
        **figures,
    }
    path = folder / name
    path.write_text(json.dumps(table))
    return path


def test_diff_tells_what_became_worse_and_better_and_its_status(tmp_path, capfd):
    before = report_of(tmp_path, "a.json", gas={"trapped_mL": 13.0}, hanging={"floats": True})
    after = report_of(tmp_path, "b.json", gas={"trapped_mL": 0.0}, hanging={"floats": True})
    assert command.main(["diff", str(before), str(after)]) == 0
    assert capfd.readouterr().out == "better: trapped gas 13 -> 0 mL\n"
    assert command.main(["diff", str(after), str(before)]) == 1
    assert capfd.readouterr().out == "worse: trapped gas 0 -> 13 mL\n"
    assert command.main(["diff", str(before), str(before)]) == 0
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("name", ["none.json", "text.json", "."])
def test_diff_of_what_is_no_report_is_one_line_and_status_2(tmp_path, capfd, name):
    good = report_of(tmp_path, "a.json")
    (tmp_path / "text.json").write_text("solid cube")
    for pair in ((str(good), str(tmp_path / name)), (str(tmp_path / name), str(good))):
        assert command.main(["diff", *pair]) == 2
        out, err = capfd.readouterr()
        assert out == "" and err.count("\n") == 1 and str(tmp_path / name) in err


def test_diff_wants_two_reports(tmp_path, capfd):
    assert command.main(["diff", str(report_of(tmp_path, "a.json"))]) == 2
    assert capfd.readouterr().err.count("\n") == 1
