"""Who may import whom: every rule holds, and every rule is broken on purpose to see that it is checked.

Each breaking import is planted in a copy of the source, on which import-linter then has to name the rule.
"""

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = ("shared", "services", "workers")
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
CORE_LAYERS = next(c["layers"] for c in CONTRACTS if c.get("containers") == ["slab_core"])

LAYERS = "services above use cases, use cases above store and files, these above the core"
CORE = "inside the core, stages only look back"
OWN_MODEL = "a stage's model imports none of its algorithms"
LIGHT_MODEL = "a stage's model needs no numerical library but numpy"
PURE = "the core does no input or output and knows no clock, chance or framework"
NO_TABLES = "HTTP code knows no tables and no SQL"
LIGHT_API = "HTTP code reaches no solver, kernel or broker by any path"
CELERY = "only the worker knows Celery"
SQL = "only the store knows SQL"
ACTIONS = "quick actions never reach slow work"
FILES = "storage, importers and documents do not know each other"
STORAGE = "of the files the API may use storage alone"
CYCLES = "no cycles between siblings"

IMPURE = (
    "sqlalchemy",
    "pydantic",
    "fastapi",
    "starlette",
    "celery",
    "logging",
    "os",
    "pathlib",
    "time",
    "random",
)

# The imports that break each rule, as {module that gets the import: what it imports}. Those of one rule
# are planted together, so every module has a name of its own, by which the output has to name the import.
PLANTS: dict[str, dict[str, str]] = {
    LAYERS: {
        "slab_api.planted1": "slab_worker",
        "slab_local.planted2": "slab_api",
        "slab_worker.planted3": "slab_local",
        "slab_app.planted4": "slab_api",
        "slab_store.planted5": "slab_app",
        "slab_store.planted6": "slab_files",
        "slab_files.planted7": "slab_store",
        "slab_core.planted8": "slab_base",
        "slab_base.planted9": "slab_core",
        "slab_core.rooms.planted10": "slab_store",
    },
    CORE: {
        "slab_core.planted1": "math",  # a module that no layer lists
        "slab_core.layout.planted2": "slab_core.correction",
        "slab_core.correction.planted3": "slab_core.layout",
        "slab_core.units.planted4": "slab_core.money",
    },
    OWN_MODEL: {"slab_core.rooms.planted1": "math", "slab_core.rooms.model": "slab_core.rooms.planted1"},
    LIGHT_MODEL: {
        "slab_core.surface.model": "scipy",
        "slab_core.numerics.grid": "numba",  # the models import the grid
    },
    PURE: {f"slab_core.rooms.planted_{name}": name for name in IMPURE},
    NO_TABLES: {"slab_api.planted1": "sqlalchemy", "slab_api.planted2": "slab_store.tables"},
    LIGHT_API: {
        "slab_api.planted1": "scipy",
        "slab_api.planted2": "slab_app.planted3",
        "slab_app.planted3": "numba",
        "slab_api.planted4": "slab_core.pipeline",
    },
    CELERY: {"slab_app.planted1": "celery", "slab_local.planted2": "kombu"},
    SQL: {
        "slab_app.planted1": "sqlalchemy",
        "slab_worker.planted2": "psycopg",
        "slab_api.planted3": "psycopg",
        "slab_worker.planted4": "slab_store.tables",
    },
    ACTIONS: {
        "slab_app.actions.planted1": "slab_app.work",
        "slab_api.planted2": "slab_app.planted3",
        "slab_app.planted3": "slab_app.work",
    },
    FILES: {"slab_files.importers.planted1": "slab_files.documents"},
    STORAGE: {
        "slab_api.planted1": "slab_files.importers",
        "slab_api.planted2": "slab_app.planted3",
        "slab_app.planted3": "slab_files.documents",
    },
    CYCLES: {"slab_app.planted1": "slab_app.planted2", "slab_app.planted2": "slab_app.planted1"},
}


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of all that import-linter reads."""
    target = tmp_path_factory.mktemp("tree")
    leave_out = shutil.ignore_patterns("__pycache__", "*.pyc")
    for name in SOURCES:
        shutil.copytree(ROOT / name, target / name, ignore=leave_out)
    shutil.copytree(ROOT / "tests" / "support", target / "tests" / "support", ignore=leave_out)
    shutil.copy(ROOT / "pyproject.toml", target)
    return target


def lint(tree: Path) -> tuple[int, str]:
    """Exit code and output of import-linter on a tree, which comes before the installed project."""
    done = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache", "--no-logo"],
        cwd=tree,
        env={
            **os.environ,
            "COLUMNS": "300",
            "PYTHONPATH": os.pathsep.join(str(tree / name) for name in SOURCES),
        },
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def verdicts(output: str) -> dict[str, str]:
    """KEPT or BROKEN by the name of the rule."""
    return dict(re.findall(r"^(.+) (KEPT|BROKEN)\b.*$", output, flags=re.MULTILINE))


def file_of(*, tree: Path, module: str) -> Path:
    """The file of a module, there or not."""
    package = next(path for path in (tree / name / module.split(".")[0] for name in SOURCES) if path.exists())
    path = package.joinpath(*module.split(".")[1:])
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


class Planted:
    """Imports added to a tree, taken out again at the end."""

    def __init__(self, *, tree: Path, imports: dict[str, str]) -> None:
        self._files = {file_of(tree=tree, module=module): name for module, name in imports.items()}
        self._before = {path: path.read_text() if path.exists() else None for path in self._files}

    def __enter__(self) -> None:
        for path, name in self._files.items():
            path.write_text(f"{self._before[path] or ''}\nimport {name}\n")

    def __exit__(self, *_: object) -> None:
        for path, text in self._before.items():
            path.unlink() if text is None else path.write_text(text)


def test_the_source_keeps_every_rule() -> None:
    code, output = lint(ROOT)
    assert code == 0, output
    assert verdicts(output) == dict.fromkeys([contract["name"] for contract in CONTRACTS], "KEPT")


@pytest.mark.parametrize("rule", PLANTS)
def test_breaking_a_rule_is_noticed(rule: str, copy: Path) -> None:
    with Planted(tree=copy, imports=PLANTS[rule]):
        code, output = lint(copy)
    assert code == 1, output
    assert verdicts(output).get(rule) == "BROKEN", output
    report = output.partition(f"\n{rule}\n---")[2].partition("\n\n\n\n")[0]
    for module in PLANTS[rule]:
        assert re.search(rf"{re.escape(module.partition('.')[2])}\b", report), f"{module} in:\n{report}"


def test_every_rule_is_broken_on_purpose_above() -> None:
    assert set(PLANTS) == {contract["name"] for contract in CONTRACTS}


def test_each_stage_that_looks_ahead_is_noticed(copy: Path) -> None:
    there = [
        [name for name in layer_names(layer) if file_of(tree=copy, module=name).exists()]
        for layer in CORE_LAYERS
    ]
    layers = [layer for layer in there if layer]
    ahead = {low: layers[i][0] for i in range(len(layers) - 1) for low in layers[i + 1]}
    with Planted(tree=copy, imports=ahead):
        _, output = lint(copy)
    for low, high in ahead.items():
        assert f"{low} is not allowed to import {high}" in output, output


def layer_names(layer: str) -> list[str]:
    """The modules of one layer: `layout | correction`, or `(closeout)` for one that need not be there yet."""
    return [f"slab_core.{name.strip(' ()')}" for name in layer.split("|")]
