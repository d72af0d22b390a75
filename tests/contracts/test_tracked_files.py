"""What the repository may hold: no address of a package registry, and requirements with hashes only."""

import importlib.util
import re
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
REQUIREMENTS = sorted((ROOT / "deploy" / "requirements").glob("*.txt"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
PIN = re.compile(r"^(?P<name>[a-z0-9._-]+)(?:\[[a-z,]+\])?==(?P<version>\S+)(?: ; .*)? \\$")
HASH = re.compile(r"^    --hash=sha256:[0-9a-f]{64}(?: \\)?$")


@pytest.fixture(scope="module")
def dev() -> ModuleType:
    spec = importlib.util.spec_from_file_location("dev", ROOT / "dev.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_no_tracked_file_names_a_package_registry(dev: ModuleType) -> None:
    assert dev.registry_hosts(dev.tracked_files()) == []


@pytest.mark.parametrize(
    "line",
    [
        "--index" + "-url https://packages.example/simple",
        "--extra-index" + "-url=https://packages.example/simple",
        "numpy @ file" + ":///wheels/numpy.whl",
        'url = "https' + '://files.pythonhosted.org/numpy.whl"',
    ],
)
def test_a_registry_in_a_file_is_found_with_its_line(dev: ModuleType, line: str) -> None:
    path = ROOT / ".cache" / "planted-registry.txt"
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"numpy==2.0\n{line}\n")
    try:
        assert dev.registry_hosts([path]) == [f".cache/planted-registry.txt:2: {line}"]
    finally:
        path.unlink()


def test_there_is_a_requirement_file_for_each_extra(dev: ModuleType) -> None:
    assert {path.stem for path in REQUIREMENTS} == set(PROJECT["optional-dependencies"]) == set(dev.SETS)


@pytest.mark.parametrize("path", REQUIREMENTS, ids=lambda path: path.name)
def test_every_requirement_is_pinned_and_hashed(path: Path) -> None:
    lines = [line for line in path.read_text().splitlines() if not line.lstrip().startswith("#")]
    assert lines
    hashed = True
    for line in lines:
        if PIN.match(line):
            assert hashed, f"a requirement before {line!r} has no hash"
            hashed = False
        else:
            assert HASH.match(line), line
            hashed = True
    assert hashed


@pytest.mark.parametrize("path", REQUIREMENTS, ids=lambda path: path.name)
def test_the_locked_set_holds_every_dependency_that_the_project_declares_for_it(path: Path) -> None:
    extras = PROJECT["optional-dependencies"]
    wanted, queue = set(), [*PROJECT["dependencies"], *extras[path.stem]]
    while queue:
        name, extra = re.match(r"([A-Za-z0-9._-]+)(?:\[([a-z,]+)\])?", queue.pop()).groups()  # type: ignore[union-attr]  # every requirement begins with a name
        if name == PROJECT["name"]:
            queue.extend(extras[extra])
        else:
            wanted.add(name)
    locked = {match["name"] for line in path.read_text().splitlines() if (match := PIN.match(line))}
    assert wanted <= locked


def test_the_same_package_has_the_same_versions_in_every_set() -> None:
    versions: dict[str, dict[str, set[str]]] = {}
    for path in REQUIREMENTS:
        for line in path.read_text().splitlines():
            if match := PIN.match(line):
                versions.setdefault(match["name"], {}).setdefault(path.name, set()).add(match["version"])
    assert [name for name, sets in versions.items() if len({frozenset(v) for v in sets.values()}) > 1] == []


def test_the_build_backend_is_locked_where_the_project_is_installed() -> None:
    for name in ("local", "dev"):
        assert "\nhatchling==" in (ROOT / "deploy" / "requirements" / f"{name}.txt").read_text()
