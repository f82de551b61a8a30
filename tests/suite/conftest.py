"""Tests in Blender's module: each begins in an empty file; nothing stays registered when the run ends."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import bpy
import numpy as np
import pytest

import models


@pytest.fixture(autouse=True)
def empty_file() -> Iterator[None]:
    """Factory settings without objects."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    yield


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
def platewright(empty_file: None) -> Iterator[None]:
    """The extension registered, as when it is enabled."""
    import addon

    addon.register()
    yield
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
