"""The extension as a package: its manifest, its zip, and its life inside Blender."""

from __future__ import annotations

import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import bpy
import pytest

import addon

ROOT = Path(__file__).resolve().parents[2]


def test_importing_the_package_does_not_need_blender():
    """`addon` must import before bpy does: Blender and `python -m addon` both read it first."""
    code = "import sys, addon; sys.exit('bpy' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, timeout=60).returncode == 0


def test_no_engine_room_knows_blender():
    """The engine runs where there is no Blender (dependencies point one way)."""
    code = (
        "import sys, pkgutil, importlib, addon.engine\n"
        "class Wall:\n"
        "    def find_spec(self, name, *_):\n"
        "        if name.split('.')[0] in ('bpy', 'bmesh', 'gpu', 'mathutils'): raise ImportError(name)\n"
        "sys.meta_path.insert(0, Wall())\n"
        "for m in pkgutil.walk_packages(addon.engine.__path__, 'addon.engine.'):\n"
        "    importlib.import_module(m.name)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, timeout=60, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_register_and_unregister_leave_nothing():
    """Twice in a row, as when an extension is switched off and on again."""
    before = {name for name in dir(bpy.types) if "platewright" in name.lower()}
    for _ in range(2):
        addon.register()
        addon.unregister()
    assert {name for name in dir(bpy.types) if "platewright" in name.lower()} == before
    assert not hasattr(bpy.types.Scene, "platewright")


@pytest.mark.parametrize("last", [False, True])
def test_a_failed_register_takes_back_what_was_done(monkeypatch, last: bool):
    """No half-registered extension: the error goes on to Blender, and a later try succeeds."""
    from addon.suite import panels

    if last:
        monkeypatch.setattr(panels, "CLASSES", (*panels.CLASSES, None))  # no type: Blender 5.3 dies of int
    else:
        monkeypatch.setattr(bpy.utils, "register_cli_command", lambda *_: 1 / 0)
    before = {name for name in dir(bpy.types) if "platewright" in name.lower()}
    lists = {name: len(found) for name, found in _lists().items()}
    with pytest.raises((ZeroDivisionError, TypeError, RuntimeError, ValueError)):
        addon.register()
    assert {name for name in dir(bpy.types) if "platewright" in name.lower()} == before
    assert {name: len(found) for name, found in _lists().items()} == lists
    monkeypatch.undo()
    addon.register()
    addon.unregister()
    assert {name: len(found) for name, found in _lists().items()} == lists


def _lists() -> dict[str, list]:
    """Blender's lists of handlers."""
    return {name: found for name in dir(bpy.app.handlers) if isinstance(found := getattr(bpy.app.handlers, name), list)}


@pytest.fixture(scope="module")
def zip_file(tmp_path_factory) -> Path:
    """The zip, built and validated by Blender's own builder."""
    path = tmp_path_factory.mktemp("dist") / "platewright.zip"
    done = subprocess.run(
        [sys.executable, ROOT / "tools" / "package.py", path], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return path


def test_the_zip_holds_what_the_user_needs_and_no_more(zip_file):
    names = zipfile.ZipFile(zip_file).namelist()
    assert {"__init__.py", "blender_manifest.toml", "LICENSE", "README.md", "data/baths.toml", "guide.html"} <= set(
        names
    )
    assert not [n for n in names if "test" in n or "__pycache__" in n or n.endswith(".pyc")]


def test_the_manifest_asks_for_what_is_used():
    """No network; and the oldest Blender is the one that the types are checked against."""
    manifest = tomllib.loads((ROOT / "blender_manifest.toml").read_text())
    assert set(manifest["permissions"]) == {"files", "clipboard"}
    assert manifest["blender_version_min"] == "4.2.0"
    assert len(manifest["tagline"]) <= 64


SKIP = "field, coat, contacts, hanging, narrow, openness, fits, orientation"


@pytest.mark.slow
def test_it_installs_and_runs_in_an_empty_user_folder(zip_file, tmp_path):
    """A small cube through the installed extension, in a Blender that has seen nothing of us."""
    model = tmp_path / "cube.stl"
    bpy.ops.mesh.primitive_cube_add(size=20)
    bpy.ops.wm.stl_export(filepath=str(model))
    job = tmp_path / "cube.toml"
    job.write_text(f'[part]\nfile = "{model.name}"\n[effort]\ndirections = 50\nrays = 16\nskip = "{SKIP}"\n')
    done = subprocess.run(
        [sys.executable, ROOT / "tools" / "installed.py", zip_file, job, tmp_path],
        capture_output=True,
        text=True,
        timeout=250,
        cwd=tmp_path,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0.24 dm2" in done.stdout  # six sides of 4 cm2
