"""The bootstrap: what it installs when, and what it says about tests that could not run."""

import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[3]


@pytest.fixture
def dev(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """dev.py, at work in a folder of its own, with requirement files but without an installer."""
    spec = importlib.util.spec_from_file_location("dev_under_test", ROOT / "dev.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    folders = {
        "ROOT": tmp_path,
        "VENV": tmp_path / ".venv",
        "CACHE": tmp_path / ".cache",
        "REQUIREMENTS": tmp_path,
    }
    for name, folder in folders.items():
        monkeypatch.setattr(module, name, folder)
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "stamp.json")
    for name in ("pyproject.toml", *(f"{name}.txt" for name in module.SETS)):
        (tmp_path / name).write_text(name)
    return module


@pytest.fixture
def installed(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was installed, in order, by a stand-in for pip and venv."""
    done: list[str] = []

    def make_venv() -> None:
        done.append("venv")
        dev.VENV.mkdir(exist_ok=True)
        dev.write_first_stamp()

    monkeypatch.setattr(dev, "make_venv", make_venv)
    monkeypatch.setattr(dev, "works", lambda command: True)
    monkeypatch.setattr(dev, "pip", lambda *words: done.append(Path(words[-1]).name))
    return done


def test_the_first_time_everything_is_installed_and_the_second_time_nothing(
    dev: ModuleType, installed: list[str]
) -> None:
    dev.ensure("local")
    assert installed == ["venv", "local.txt", dev.ROOT.name]
    dev.ensure("local")
    assert len(installed) == 3


def test_the_set_for_tests_contains_the_set_for_the_demo(dev: ModuleType, installed: list[str]) -> None:
    dev.ensure("dev")
    installed.clear()
    dev.ensure("local")
    assert installed == []


def test_a_changed_requirement_file_is_installed_again(dev: ModuleType, installed: list[str]) -> None:
    dev.ensure("dev")
    installed.clear()
    (dev.REQUIREMENTS / "dev.txt").write_text("changed")
    dev.ensure("dev")
    assert installed == ["venv", "dev.txt", dev.ROOT.name]


def test_a_changed_project_file_installs_the_project_alone(dev: ModuleType, installed: list[str]) -> None:
    dev.ensure("dev")
    installed.clear()
    (dev.ROOT / "pyproject.toml").write_text("changed")
    dev.ensure("dev")
    assert installed == [dev.ROOT.name]


def test_an_installation_that_was_cut_short_is_done_again(
    dev: ModuleType, installed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut(*words: str) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(dev, "pip", cut)
        with pytest.raises(KeyboardInterrupt):
            dev.ensure("dev")
    dev.ensure("dev")
    assert "dev.txt" in installed


def test_a_venv_that_was_moved_counts_as_none(dev: ModuleType, installed: list[str]) -> None:
    dev.ensure("dev")
    stamp = json.loads(dev.STAMP.read_text())
    dev.STAMP.write_text(json.dumps({**stamp, "made for": ["/elsewhere/.venv", stamp["made for"][1]]}))
    assert dev.read_stamp() == {}


def test_without_ensurepip_the_venv_is_made_bare_and_filled_from_outside(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    ran: list[list[str]] = []

    def works(command: list[str]) -> bool:
        return command[:3] == [sys.executable, "-m", "pip"]

    def run(command: list[str]) -> None:
        ran.append(command)
        dev.VENV.mkdir(exist_ok=True)

    monkeypatch.setattr(dev, "works", works)
    monkeypatch.setattr(dev, "run", run)
    dev.make_venv()
    dev.pip("-r", "dev.txt")
    assert ran[0] == [sys.executable, "-m", "venv", "--without-pip", str(dev.VENV)]
    assert ran[1][:5] == [sys.executable, "-m", "pip", "--python", dev.venv_python()]


def test_without_any_pip_it_says_what_to_install(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dev, "works", lambda command: False)
    with pytest.raises(SystemExit, match="install python3-venv"):
        dev.make_venv()


def test_tests_that_could_not_run_are_told_with_their_reasons(
    dev: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = tmp_path / "tests.xml"
    report.write_text(
        "<testsuites><testsuite>"
        '<testcase classname="a" name="ran"/>'
        '<testcase classname="a" name="skipped"><skipped type="pytest.skip" message="no browser"/></testcase>'
        '<testcase classname="a" name="later"><skipped type="pytest.xfail" message="later"/></testcase>'
        "</testsuite></testsuites>"
    )
    dev.say_what_could_not_run(report)
    assert capsys.readouterr().out.split("\n")[1:3] == ["Could not run here: 1", "  a.skipped: no browser"]


def test_one_failed_check_does_not_hide_the_others(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    code = [sys.executable, "-c"]
    wanted = [
        ("first", [*code, "raise SystemExit(1)"]),
        ("second", [*code, ""]),
        ("third", ["/no/such/program"]),
    ]
    monkeypatch.setattr(dev, "checks", lambda: wanted)
    assert dev.run_checks() == ["first", "third"]


def test_what_is_compiled_beside_the_checks_is_awaited_and_its_failure_told(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "checks", lambda: [("broken", ["/no/such/program"])])
    code = "import pathlib, time; time.sleep(0.3); pathlib.Path('compiled').touch()"
    monkeypatch.setattr(dev, "compiling", lambda: [sys.executable, "-c", code])
    assert dev.run_checks_and_compile() == ["broken"]
    assert (dev.ROOT / "compiled").exists()
    monkeypatch.setattr(dev, "compiling", lambda: [sys.executable, "-c", "raise SystemExit(3)"])
    assert dev.run_checks_and_compile() == ["broken", "compiling"]


def test_a_step_that_never_ends_is_ended(dev: ModuleType) -> None:
    assert not dev.passed("endless", [sys.executable, "-c", "import time; time.sleep(60)"], timeout=0.3)


@pytest.mark.parametrize("arguments", [[], ["no-such-command"]])
def test_a_call_without_a_command_shows_the_commands_and_fails(arguments: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "dev.py", *arguments], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "python3 dev.py COMMAND" in done.stdout


def test_paths_are_meant_from_where_the_command_was_given(
    dev: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    given = ["--json", "out.json", "line.", "--data", "/kept", "--json"]
    assert dev.from_here(given) == [
        "--json",
        str(tmp_path / "out.json"),
        "line.",
        "--data",
        "/kept",
        "--json",
    ]
