"""Tests in Blender's module: each begins in an empty file; nothing stays registered when the run ends."""

from __future__ import annotations

import copy
import importlib
import inspect
from collections.abc import Callable, Generator, Iterator
from dataclasses import replace
from typing import Any

import bpy
import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.mesh.part import Part
from addon.engine.study import Analysis

import models


@pytest.fixture(autouse=True)
def empty_file() -> Iterator[None]:
    """Factory settings without objects."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    yield


@pytest.fixture(autouse=True, scope="module")
def _coats_and_fields_are_coarse(coarse_coat: None, coarse_field: None) -> None:
    """What a screen or a file shows of a coat or a field does not hang on the number of patches and panels."""


@pytest.fixture
def add() -> Callable[..., bpy.types.Object]:
    """Adds a model to the scene as an object, selected: add(model, name) -> object."""

    def add_model(model: models.Model, name: str = "Part", select: bool = True) -> bpy.types.Object:
        points, triangles = model
        mesh = bpy.data.meshes.new(name)
        mesh.from_pydata(points.tolist(), [], np.asarray(triangles).tolist())
        made = bpy.data.objects.new(name, mesh)
        bpy.context.scene.collection.objects.link(made)
        made.select_set(select)
        return made

    return add_model


@pytest.fixture
def measured(add: Callable[..., bpy.types.Object]) -> Callable[..., bpy.types.Object]:
    """Adds a model as `add` does and measures it, with few panels for its field."""

    from addon.suite.scene import settings

    def measured_model(model: models.Model, name: str = "Part") -> bpy.types.Object:
        made = add(model, name)
        settings.of(bpy.context.scene).effort.panels = 500
        bpy.ops.platewright.measure()
        return made

    return measured_model


@pytest.fixture
def instanced(add: Callable[..., bpy.types.Object]) -> Callable[[models.Model], bpy.types.Object]:
    """Adds a model that is in no scene itself, with a selected instance of its collection: instanced(model) -> original."""

    def add_instance(model: models.Model) -> bpy.types.Object:
        original = add(model, select=False)
        collection = bpy.data.collections.new("stock")
        collection.objects.link(original)
        bpy.context.scene.collection.objects.unlink(original)
        instance = bpy.data.objects.new("instance", None)
        instance.instance_type, instance.instance_collection = "COLLECTION", collection
        bpy.context.scene.collection.objects.link(instance)
        instance.select_set(True)
        return original

    return add_instance


@pytest.fixture(scope="module")
def _registered_once() -> Iterator[None]:
    """What a module registers is taken back at its end: to register takes longer than most tests."""
    import addon

    yield
    addon.unregister()


@pytest.fixture
def platewright(_registered_once: None, empty_file: None) -> None:
    """The extension registered, as when it is enabled; it forgets all when the empty file is loaded."""
    import addon

    addon.register()


@pytest.fixture(autouse=True)
def _registered_only_where_it_is_asked_for(request: pytest.FixtureRequest) -> None:
    """A test without `platewright` runs as if nothing had been registered before."""
    if "platewright" not in request.fixturenames:
        import addon

        addon.unregister()


@pytest.fixture(autouse=True)
def _progress_stays_silent(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """No line of progress among those that a test counts, however slow the machine is; but where progress is tested."""
    if request.module.__name__ != "test_console":
        from addon.suite import console

        monkeypatch.setattr(console, "PATIENCE_S", 3600.0)


@pytest.fixture
def usual_tank(monkeypatch: pytest.MonkeyPatch) -> None:
    """Add Tank makes the tank of the settings, 300 x 200 x 250 mm filled to 220, not one that is fitted to the part."""
    from addon.suite.operators import tank

    monkeypatch.setattr(tank, "fitted", lambda job, surface: job)


_answers: dict[
    tuple[str, str, type], object
] = {}  # of this process: (analysis, key of what it reads, tracer) -> result


def _remembering(analysis: Analysis) -> Analysis:
    """The analysis, which answers from what it answered before where the study's key is the same."""

    def run(study: Any, tracer: Any) -> Generator[Any, None, object]:
        known = analysis.name, study.keys[analysis.name], type(tracer)
        if known not in _answers:
            found = analysis.run(study, tracer)
            _answers[known] = (yield from found) if isinstance(found, Generator) else found
        return copy.copy(_answers[known])  # another object, so that a test sees whether the study asked again

    return replace(analysis, run=run)


_surfaces: dict[tuple[object, ...], object] = {}  # of this process: what a surface hangs on -> the surface
_inspect = inspection.inspect


def _inspected(part: Part, **settings: int) -> Generator[Any, None, object]:
    """The part's surface, which is made once for parts that are alike."""
    known = part.fingerprint, part.name, part.skipped, *settings.items()
    if known not in _surfaces:
        _surfaces[known] = yield from _inspect(part, **settings)
    return copy.copy(_surfaces[known])


@pytest.fixture(autouse=True)
def _what_was_answered_is_not_computed_again(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Many tests here ask the same of the same part. tests/engine/test_study_keys.py asserts that a key holds all that an
    analysis reads; what a test patches is in no key, so one with `monkeypatch` computes for itself, and one marked so."""
    own = inspect.signature(request.function).parameters
    if "monkeypatch" not in own and not request.node.get_closest_marker("computes"):
        walk = importlib.import_module("addon.engine.study.run")  # the module, of which the package has the function
        monkeypatch.setattr(walk, "ANALYSES", tuple(map(_remembering, walk.ANALYSES)))
        monkeypatch.setattr(inspection, "inspect", _inspected)
