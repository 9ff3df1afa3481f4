"""How the code is laid out: layers, no cycles, documented arguments, and a start-up that pays for nothing unused."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "ventplan"
LAYERS = ("physics", "house", "network", "airing", "advice", "measure", "show", "live", "cli")
"""From the bottom up; a module imports from its own layer and those before it. Modules of `BASE` lie below them all."""
BASE = ("errors", "files", "text")

FILES = sorted(PACKAGE.rglob("*.py"))


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(path): path for path in FILES}


def imported(path: Path) -> Iterator[str]:
    """Modules of ventplan that a file imports, wherever the import stands."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.startswith("ventplan"))
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("ventplan"):
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if inner in MODULES else str(node.module)


def layer_of(module: str) -> int:
    parts = module.split(".")
    return -1 if len(parts) == 1 or parts[1] in BASE else LAYERS.index(parts[1])


@pytest.mark.parametrize("module", [m for m in MODULES if m != "ventplan"])
def test_nothing_imports_from_a_layer_above(module: str) -> None:
    above = [other for other in imported(MODULES[module]) if layer_of(other) > layer_of(module)]
    assert above == []


def test_no_modules_import_each_other_in_a_circle() -> None:
    graph = nx.DiGraph((module, other) for module, path in MODULES.items() for other in imported(path))
    graph.remove_edges_from([(a, b) for a, b in graph.edges if b == a.rpartition(".")[0]])
    assert [sorted(group) for group in nx.strongly_connected_components(graph) if len(group) > 1] == []


def test_physics_knows_numpy_and_scipy_only() -> None:
    allowed = {"numpy", "scipy", "ventplan", *sys.stdlib_module_names}
    for path in (PACKAGE / "physics").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [str(node.module)] if isinstance(node, ast.ImportFrom) else []
            assert {name.partition(".")[0] for name in names} <= allowed, path.name


def public_functions(path: Path) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Functions and methods whose name, and whose class's name, has no leading underscore."""
    for node in ast.parse(path.read_text("utf-8")).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.name, node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    yield f"{node.name}.{inner.name}", inner


def arguments_of(function: ast.FunctionDef) -> list[str]:
    spec = function.args
    more = [arg for arg in (spec.vararg, spec.kwarg) if arg is not None]
    names = [arg.arg for arg in (*spec.posonlyargs, *spec.args, *spec.kwonlyargs, *more)]
    return [name for name in names if name not in ("self", "cls")]


def documented(docstring: str) -> list[str] | None:
    """Arguments named in the Parameters section, or None where there is no such section."""
    found = re.search(r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n-{3,}$|\Z)", docstring, re.DOTALL | re.MULTILINE)
    if found is None:
        return None
    heads = [line for line in found.group(1).splitlines() if line and not line.startswith(" ")]
    return [name.strip().lstrip("*") for head in heads for name in head.partition(":")[0].split(",")]


@pytest.mark.parametrize("module", list(MODULES))
def test_every_public_function_is_documented(module: str) -> None:
    bare = [name for name, function in public_functions(MODULES[module]) if not ast.get_docstring(function)]
    assert bare == []


@pytest.mark.parametrize("module", list(MODULES))
def test_a_parameters_section_names_each_argument_and_no_other(module: str) -> None:
    wrong = []
    for name, function in public_functions(MODULES[module]):
        named = documented(ast.get_docstring(function) or "")
        if named is not None and sorted(named) != sorted(arguments_of(function)):
            wrong.append((name, sorted(set(named) ^ set(arguments_of(function)))))
    assert wrong == []


@pytest.mark.parametrize("module", [m for m in MODULES if m.startswith("ventplan.physics.")])
def test_every_function_of_physics_documents_its_arguments_with_units(module: str) -> None:
    for name, function in public_functions(MODULES[module]):
        docstring = ast.get_docstring(function) or ""
        assert not arguments_of(function) or documented(docstring), name


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_file_is_read_in_one_sitting(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= 500


HEAVY = ("numpy", "scipy", "pint", "shapely", "networkx", "matplotlib", "ruamel", "jinja2", "starlette")
"""Not pydantic: the command line's own library loads it to show the help of a command."""


def loaded(*arguments: str) -> set[str]:
    """Heavy libraries that a command loads."""
    code = (
        "import sys; sys.argv = ['ventplan', *sys.argv[1:]]\n"
        "from ventplan.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print(); print('LOADED', *[name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return set(done.stdout.splitlines()[-1].split()[1:])


@pytest.mark.parametrize("arguments", [(), ("--help",), ("flow", "--help"), ("place", "--help"), ("measure", "--help")])
def test_help_loads_no_heavy_library(arguments: tuple[str, ...]) -> None:
    assert loaded(*arguments) == set()


def test_solving_a_house_loads_neither_plots_nor_pages_nor_scipy() -> None:
    assert not loaded("flow", "house_examples/hallway_rig.yaml") & {"matplotlib", "jinja2", "starlette", "scipy"}
