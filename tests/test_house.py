"""The order of the house: who may use whom, read from the imports alone. Neither bpy nor numpy is needed.

Where an order is written, a folder or module uses only what stands before it (and itself).
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ADDON = Path(__file__).resolve().parent.parent / "addon"

# From the ground up. What stands on one line does not know each other.
SUITE = (
    {"versions", "handlers", "figures", "stopping", "manual", "language", "refusal"},
    {"console", "scene"},
    {"snapshot", "outputs", "writers"},
    {"session"},
    {"judged"},
    {"draw"},
    {"preview"},
    {"operators", "study_files", "batch", "job_study"},
    {"panels", "command", "workshop"},
    {"suite"},
)
ENGINE = (
    {"units", "filled", "progress"},
    {"errors"},
    {"inputs", "geometry"},
    {"findings"},
    {"linalg", "faraday", "reasons", "copper_wire"},
    {"settings", "mesh", "color"},
    {"chemistry", "trapping", "visibility", "printing", "purpose"},
    {"tank"},
    {"hanging"},
    {"field"},
    {"coat"},
    {"helpers"},
    {"study"},
    {"schedule", "handling"},
    {"verdict", "ranges"},
    {"reporting"},
    {"sheet"},
)
SCENE = (
    {"capture", "meshes", "stl"},
    {"scene_units"},
    {"roles", "tracers", "glb", "obj", "ply", "solid", "viewing"},
    {"settings", "vented"},
    {"shape", "racks"},
    {"stage", "wires"},
    {"scenes"},
    {"load"},
)


def modules(folder: Path) -> dict[str, Path]:
    """Dotted name below addon/ -> file."""
    found = {}
    for path in sorted(folder.rglob("*.py")):
        parts = path.relative_to(ADDON).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = modules(ADDON)


@cache
def tree(name: str) -> ast.Module:
    return ast.parse(MODULES[name].read_text(encoding="utf-8"))


@cache
def nodes(name: str) -> tuple[ast.AST, ...]:
    """Every node of a module: many tests walk them."""
    return tuple(ast.walk(tree(name)))


@cache
def imports(name: str) -> frozenset[str]:
    return frozenset(_imports(name))


def _imports(name: str) -> Iterator[str]:
    """Every module that a module imports, also within a function: ours by dotted name below addon/, others as they are
    called."""
    path = MODULES[name]
    package = name.split(".") if path.name == "__init__.py" else name.split(".")[:-1]
    for node in nodes(name):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            yield node.module or ""
        elif isinstance(node, ast.ImportFrom):
            base = [*package[: len(package) - node.level + 1], *(node.module.split(".") if node.module else [])]
            for alias in node.names:
                whole = ".".join([*base, alias.name])
                yield whole if whole in MODULES else ".".join(base)


@cache
def ours(name: str) -> frozenset[str]:
    return frozenset(found for found in imports(name) if found in MODULES and found != name)


def room(name: str, floor: str) -> str:
    """The folder or module of one floor that a module belongs to: suite.draw.maps -> draw."""
    rest = name.removeprefix(floor).lstrip(".")
    return rest.split(".")[0] if rest else floor.rpartition(".")[2]


def arrows(floor: str) -> set[tuple[str, str]]:
    """(user, used) among the folders and modules that stand directly in a package."""
    found = set()
    for name in MODULES:
        if name == floor or name.startswith(floor + "."):
            for used in ours(name):
                if used == floor or used.startswith(floor + "."):
                    found.add((room(name, floor), room(used, floor)))
    return {(user, used) for user, used in found if user != used}


def circles(edges: set[tuple[str, str]]) -> set[str]:
    """What is left when everything is taken away, again and again, that uses nothing that is left."""
    left = {end for edge in edges for end in edge}
    while True:
        users = {user for user, used in edges if user in left and used in left}
        if users == left:
            return left
        left = users


def test_a_circle_is_found():
    assert circles({("a", "b"), ("b", "c"), ("c", "b")}) == {"a", "b", "c"}
    assert not circles({("a", "b"), ("b", "c"), ("a", "c")})


@pytest.mark.parametrize("floor, order", [("suite", SUITE), ("suite.scene", SCENE)])
def test_the_suite_keeps_its_order(floor: str, order: tuple[set[str], ...]):
    height = {name: number for number, names in enumerate(order) for name in names}
    edges = arrows(floor)
    assert {end for edge in edges for end in edge} - {floor.rpartition(".")[2]} <= height.keys(), (
        "a folder has no place"
    )
    climbing = {(user, used) for user, used in edges if used in height and height[used] >= height.get(user, 99)}
    assert not climbing


@pytest.mark.parametrize(
    "floor", ["suite", "suite.scene", "suite.draw", "suite.preview", "suite.operators", "suite.panels"]
)
def test_no_circle_at_any_level_of_the_suite(floor: str):
    assert not circles(arrows(floor))


def test_no_module_uses_one_that_uses_it():
    edges = {(name, used) for name in MODULES if MODULES[name].name != "__init__.py" for used in ours(name)}
    assert not circles(edges)


def test_the_engine_is_typed_without_exceptions():
    """No rule of the type checker is switched off in the engine, for a module or for a line."""
    engine = [path for name, path in MODULES.items() if name.startswith("engine")]
    assert not [path for path in engine if "type: ignore" in path.read_text(encoding="utf-8")]
    overrides = tomllib.loads((ADDON.parent / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mypy"][
        "overrides"
    ]
    assert [one["module"] for one in overrides] == ["addon.suite.*"]


def test_each_line_that_the_type_checker_leaves_out_says_why():
    """In the suite, where Blender's stubs are wrong; a reason stands behind it."""
    lines = [line for path in MODULES.values() for line in path.read_text(encoding="utf-8").splitlines()]
    assert not [
        line for line in lines if "type: ignore" in line and not re.search(r"type: ignore\[[a-z-]+\]  # \w", line)
    ]


def test_the_engine_knows_neither_blender_nor_the_suite():
    for name in MODULES:
        if name.startswith("engine"):
            outside = {found.split(".")[0] for found in imports(name) if found not in MODULES}
            assert not outside & {"bpy", "bmesh", "gpu", "mathutils", "blf", "addon"}, name
            assert not any(found.split(".")[0] == "suite" for found in ours(name)), name


def test_what_runs_needs_numpy_and_blender_alone():
    import sys

    allowed = set(sys.stdlib_module_names) | {"numpy", "_typeshed"}  # _typeshed: for the type checker alone
    blender = {"bpy", "bmesh", "gpu", "gpu_extras", "blf", "mathutils", "bpy_extras", "bl_ui", "bl_operators"}
    for name in (name for name in MODULES if name.startswith(("engine", "suite"))):
        outside = {found.split(".")[0] for found in imports(name) if found not in MODULES}
        assert outside <= allowed | (blender if name.split(".")[0] == "suite" else set()), name


MAX_LINES, MAX_PARAMETERS = 60, 8
MAX_FILE_LINES = 300


def test_files_stay_short():
    lines = {name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in MODULES.items()}
    assert not {name: count for name, count in lines.items() if count > MAX_FILE_LINES}


@cache
def functions(name: str) -> tuple[ast.FunctionDef, ...]:
    return tuple(node for node in nodes(name) if isinstance(node, ast.FunctionDef))


def parameters(node: ast.FunctionDef) -> list[str]:
    found = node.args.posonlyargs + node.args.args + node.args.kwonlyargs
    return [one.arg for one in found if one.arg not in ("self", "cls")]


def test_functions_stay_short():
    long = {
        f"{name}.{node.name}"
        for name in MODULES
        for node in functions(name)
        if (node.end_lineno or 0) - node.lineno >= MAX_LINES
    }
    assert long == set()


def test_functions_of_the_engine_take_few_parameters():
    many = {
        f"{name}.{node.name}"
        for name in MODULES
        if name.startswith("engine")
        for node in functions(name)
        if len(parameters(node)) > MAX_PARAMETERS
    }
    assert many == set()


def test_the_engine_keeps_its_order():
    height = {name: number for number, names in enumerate(ENGINE) for name in names}
    edges = arrows("engine")
    assert {end for edge in edges for end in edge} - {"engine"} <= height.keys(), "a folder has no place"
    assert not {(user, used) for user, used in edges if height[used] >= height[user]}
    assert not circles(edges)


def private_names(path: Path) -> set[str]:
    """What a test imports from the add-on, reads from its modules or patches there, and begins with one underscore."""
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    froms = [node for node in nodes if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("addon")]
    aliases = {alias.asname or alias.name: alias.name for node in froms for alias in node.names}
    found = set(aliases.values())
    for node in nodes:
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in aliases:
            found.add(node.attr)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "setattr":
            where, *more = node.args
            if isinstance(where, ast.Name) and where.id in aliases and more and isinstance(more[0], ast.Constant):
                found.add(str(more[0].value))
    return {name for name in found if name.startswith("_") and not name.startswith("__")}


def test_tests_go_through_the_public_faces_of_the_rooms():
    tests = Path(__file__).resolve().parent
    assert {name for path in tests.rglob("*.py") for name in private_names(path)} == set()


def test_no_two_test_files_share_a_name():
    """Tests are collected by base name: of two alike the second stops the whole run."""
    names = [path.name for path in Path(__file__).resolve().parent.rglob("test_*.py")]
    assert len(names) == len(set(names))


# What Blender calls by name, and says itself what it is for.
CALLED_BY_BLENDER = {
    "cancel",
    "description",
    "draw",
    "draw_header",
    "draw_header_preset",
    "execute",
    "invoke",
    "modal",
    "poll",
    "register",
    "unregister",
}


def undocumented(floor: str) -> set[str]:
    """Public classes, functions and methods without a docstring, but those that another class of the floor documents."""
    classes = {
        node.name: node
        for name in MODULES
        if name.startswith(floor)
        for node in nodes(name)
        if isinstance(node, ast.ClassDef)
    }

    def inherits(cls: ast.ClassDef, method: str) -> bool:
        for base in cls.bases:
            above = classes.get(getattr(base, "attr", getattr(base, "id", "")))
            if above is not None and above is not cls:
                own = [one for one in above.body if isinstance(one, ast.FunctionDef) and one.name == method]
                if any(map(ast.get_docstring, own)) or inherits(above, method):
                    return True
        return False

    found = set()
    for name in (name for name in MODULES if name.startswith(floor)):
        for node in tree(name).body:
            inside = node.body if isinstance(node, ast.ClassDef) else []
            for owner, one in [(None, node), *((node, one) for one in inside)]:
                public = isinstance(one, (ast.ClassDef, ast.FunctionDef)) and not one.name.startswith("_")
                if not public or one.name in CALLED_BY_BLENDER or ast.get_docstring(one):
                    continue
                if owner is None or not inherits(owner, one.name):
                    found.add(f"{name}.{one.name}" if owner is None else f"{name}.{owner.name}.{one.name}")
    return found


@pytest.mark.parametrize("floor", ["engine", "suite"])
def test_what_is_public_says_what_it_does(floor: str):
    public = {name for name in undocumented(floor) if not any(part.startswith("_") for part in name.split("."))}
    assert public == set()


def test_what_a_base_leaves_open_is_marked_abstract():
    """`abc.abstractmethod` says so to types and tests; NotImplementedError says so to whoever presses the button."""
    for name in MODULES:
        assert "NotImplementedError" not in MODULES[name].read_text(encoding="utf-8"), name


def own_nodes(function: ast.FunctionDef) -> Iterator[ast.AST]:
    """What stands in a function, but not in functions within it."""
    left: list[ast.AST] = list(function.body)
    while left:
        node = left.pop()
        if not isinstance(node, (ast.FunctionDef, ast.ClassDef, ast.Lambda)):
            yield node
            left.extend(ast.iter_child_nodes(node))


def raised(
    function: ast.FunctionDef, private: dict[str, ast.FunctionDef], seen: frozenset[str] = frozenset()
) -> set[str]:
    """The errors that a function raises itself or by private functions of its own module."""
    found = set()
    for node in own_nodes(function):
        call = node.exc if isinstance(node, ast.Raise) else node
        if isinstance(call, ast.Call):
            name = getattr(call.func, "id", getattr(call.func, "attr", ""))
            if isinstance(node, ast.Raise):
                found.add(name)
            elif name in private and name not in seen:
                found |= raised(private[name], private, seen | {name})
    return {name for name in found if name.endswith("Error")}


def test_what_is_public_in_the_engine_names_the_errors_that_it_raises():
    """A caller reads them in the docstring."""
    unnamed = set()
    for name in (name for name in MODULES if name.startswith("engine")):
        private = {one.name: one for one in functions(name) if one.name.startswith("_")}
        for node in tree(name).body:
            inside = node.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_") else []
            for one in (node, *inside):
                if isinstance(one, ast.FunctionDef) and not one.name.startswith("_"):
                    told = ast.get_docstring(one) or ""
                    unnamed |= {f"{name}.{one.name}: {error}" for error in raised(one, private) if error not in told}
    assert unnamed == set()
