#!/usr/bin/env python3
"""Everything a newcomer runs: `python3 dev.py COMMAND`.

  demo                     install, start the whole service, estimate the demo job, show it, stop
  up [--data DIR]          install, start the whole service and keep it running until Ctrl-C
  test [--long] [ARGS]     all checks and tests; --long: the slow tests; ARGS go to pytest, then run alone
  bench [--json FILE] [PREFIX ...]   measure, by name
  chaos [ARGS]             kill, cut and flood the running service, and count what was lost
  check                    the checks without the tests: style, types, import directions, dependencies, hosts
  openapi                  write openapi/openapi.json anew
  migration MESSAGE        begin a new database migration
  lock                     resolve all dependencies anew (needs `uv`) and write deploy/requirements

Needs Python 3.11 or newer with venv, and nothing else. Installs into .venv, from requirement files with
hashes, and only when one of them has changed.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
import xml.etree.ElementTree as ElementTree
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036 - this very file is what an older Python is first given
    sys.exit(
        "dev.py needs Python 3.11 or newer; this is " + sys.version.split()[0] + ". Try: python3.12 dev.py"
    )

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
CACHE = ROOT / ".cache"
STAMP = VENV / "slabwright-installed.json"
REQUIREMENTS = ROOT / "deploy" / "requirements"
SETS = ("api", "worker", "build", "local", "dev", "bench")
CONTAINS = {"local": ("local", "dev", "bench"), "dev": ("dev",), "bench": ("bench",)}
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
PATH_OPTIONS = ("--data", "--figures", "--json")
LONG_SECONDS = 45 * 60
PYTEST_NOTHING_COLLECTED = 5
# Where packages come from is the business of who installs: a host in a file would bind everyone to it.
HOSTS = re.compile(
    r"https?://[\w.-]*(?:pypi|pythonhosted|artifactory|nexus|registry)|--(?:extra-)?index-url|file://"
)


# --- installing ------------------------------------------------------------------------------------------


def ensure(wanted):
    """Make the venv hold a set of requirements and the project, unless it does already."""
    CACHE.mkdir(exist_ok=True)
    with (CACHE / "install.lock").open("w") as lock:
        alone(lock)
        stamp = read_stamp()
        if not any(stamp.get(name) == fingerprint(name) for name in CONTAINS[wanted]):
            make_venv()
            stamp = read_stamp()
            say(f"Installing deploy/requirements/{wanted}.txt (a minute or two the first time)")
            pip(
                "--require-hashes",
                "--only-binary",
                ":all:",
                "--no-deps",
                "-r",
                str(REQUIREMENTS / f"{wanted}.txt"),
            )
            stamp[wanted] = fingerprint(wanted)
        if stamp.get("project") != fingerprint("project"):
            say("Installing the project itself")
            pip("--no-deps", "--no-build-isolation", "-e", str(ROOT))
            stamp["project"] = fingerprint("project")
        STAMP.write_text(json.dumps(stamp, indent=1))


def alone(lock):
    """Let a second dev.py wait until the first has installed."""
    if os.name == "posix":
        import fcntl

        fcntl.flock(lock, fcntl.LOCK_EX)


def read_stamp():
    """What was installed, from which files; nothing when the venv is of another place or Python."""
    try:
        stamp = json.loads(STAMP.read_text())
    except (OSError, ValueError):
        return {}
    return stamp if stamp.get("made for") == venv_mark() and works([venv_python(), "-c", ""]) else {}


def venv_mark():
    """What a venv is bound to: its place, which its scripts spell out, and the Python that made it."""
    return [str(VENV), sys.version.split()[0]]


def fingerprint(name):
    """A digest of what decides whether a set, or the project, has to be installed again."""
    path = ROOT / "pyproject.toml" if name == "project" else REQUIREMENTS / f"{name}.txt"
    return hashlib.sha256(path.read_bytes()).hexdigest()


def make_venv():
    """A virtual environment in .venv; one that was moved or is broken is made anew."""
    if read_stamp():
        return
    if not STAMP.exists() and works(
        [venv_python(), "-c", f"import sys; sys.exit(sys.prefix != {str(VENV)!r})"]
    ):
        write_first_stamp()
        return
    say(f"Making a virtual environment in {VENV}")
    shutil.rmtree(VENV, ignore_errors=True)
    if not works([sys.executable, "-m", "venv", str(VENV)]):
        shutil.rmtree(VENV, ignore_errors=True)
        if not works([sys.executable, "-m", "pip", "--version"]):
            sys.exit(
                "This Python has neither venv with pip nor pip: install python3-venv (Debian, Ubuntu) or pip"
            )
        run([sys.executable, "-m", "venv", "--without-pip", str(VENV)])
    write_first_stamp()


def write_first_stamp():
    STAMP.write_text(json.dumps({"made for": venv_mark()}))


def pip(*arguments):
    """Install into the venv with its own pip, or with this Python's where the venv has none."""
    own = [venv_python(), "-m", "pip"]
    command = own if works([*own, "--version"]) else [sys.executable, "-m", "pip", "--python", venv_python()]
    run([*command, "install", "--quiet", "--no-input", "--disable-pip-version-check", *arguments])


def venv_python():
    return str(VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python"))


def works(command):
    """Whether a command can be run and ends well; its output is not shown."""
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except OSError:
        return False


# --- running ---------------------------------------------------------------------------------------------


def say(line):
    print(line, flush=True)


def environment():
    """Our environment with one thread for each numerical library, unless said otherwise. Compiled modules are
    kept, beside ours, whatever it says: tests start hundreds of processes that would compile them anew."""
    kept = {"PYTHONDONTWRITEBYTECODE": ""}
    return {**dict.fromkeys(THREADS, "1"), "PIP_ROOT_USER_ACTION": "ignore", **os.environ, **kept}


def run(command):
    """Run a command to its end; leave with its code when it fails."""
    code = subprocess.run(command, cwd=ROOT, env=environment(), check=False).returncode
    if code:
        sys.exit(f"failed with code {code}: {' '.join(map(str, command))}")


def become(*arguments):
    """Go on as a module of the project in the venv: signals then reach it directly."""
    os.chdir(ROOT)
    command = [venv_python(), "-m", *arguments]
    if os.name == "nt":
        sys.exit(subprocess.run(command, env=environment(), check=False).returncode)
    os.execve(command[0], command, environment())


# --- checks and tests ------------------------------------------------------------------------------------


def checks():
    """Every check that is not a test, as (name, command)."""
    tool = Path(venv_python()).parent
    return [
        ("style", [tool / "ruff", "check", "."]),
        ("format", [tool / "ruff", "format", "--check", "."]),
        ("types", [tool / "mypy"]),
        ("import directions", [tool / "lint-imports", "--no-cache"]),
        ("dependencies", [tool / "deptry", "."]),
    ]


def run_checks():
    """Run all checks, also after one has failed; the names of those that failed."""
    failed = [name for name, command in checks() if not passed(name, command)]
    say("\n== registry hosts")
    hosts = registry_hosts(tracked_files())
    for line in hosts:
        say(line)
    return [*failed, *(["registry hosts"] if hosts else [])]


def compiling():
    """The command that compiles what each process of the tests would else compile for itself."""
    return [venv_python(), "-m", "tests.support.compile"]


def run_checks_and_compile():
    """Run all checks, each of which uses one core, while the other compiles kernels and tests."""
    say("\n== compiling, beside the checks")
    compiler = subprocess.Popen(compiling(), cwd=ROOT, env=environment())
    failed = run_checks()
    code = compiler.wait()
    say(f"\n-- compiling: {f'FAILED ({code})' if code else 'ok'}")
    return [*failed, "compiling"] if code else failed


def passed(name, command, timeout=None, fine=(0,)):
    """Run one check and say how long it took."""
    say(f"\n== {name}")
    begin = time.monotonic()
    words = [str(word) for word in command]
    try:
        code = subprocess.run(words, cwd=ROOT, env=environment(), check=False, timeout=timeout).returncode
    except subprocess.TimeoutExpired:
        code = f"no end after {timeout} s"
    except OSError as problem:
        code = problem
    outcome = "ok" if code == 0 else "NOTHING TO RUN" if code in fine else f"FAILED ({code})"
    say(f"-- {name}: {outcome} in {time.monotonic() - begin:.1f} s")
    return code in fine


def tracked_files():
    """The files of the project: as git knows them, else all but hidden and cached ones."""
    try:
        listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
        return [ROOT / name for name in listed.decode().split("\0") if name]
    except (OSError, subprocess.CalledProcessError):
        inside = (path.relative_to(ROOT) for path in ROOT.rglob("*") if path.is_file())
        return [ROOT / path for path in inside if not any(part[0] in "._" for part in path.parts)]


def registry_hosts(paths):
    """Lines that name a package registry, as `path:line: text`, without this file, which holds it."""
    found = []
    for path in paths:
        if path == ROOT / "dev.py" or not path.is_file():
            continue
        for number, line in enumerate(path.read_text(errors="replace").splitlines(), 1):
            if HOSTS.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()[:120]}")
    return found


def test(arguments):
    """Checks, then tests; with arguments for pytest, pytest alone."""
    ensure("dev")
    long = "--long" in arguments
    rest = [word for word in arguments if word != "--long"]
    failed = [] if long or rest else run_checks_and_compile()
    report = CACHE / "tests.xml"
    report.unlink(missing_ok=True)
    kind = "long tests" if long else "tests"
    command = [
        venv_python(),
        "-m",
        "pytest",
        "-m",
        "long" if long else "not long",
        f"--junitxml={report}",
        *(() if long or rest else side_by_side()),
        *rest,
    ]
    fine = (0, PYTEST_NOTHING_COLLECTED) if long else (0,)
    if not passed(kind, command, timeout=LONG_SECONDS if long else None, fine=fine):
        failed.append(kind)
    say_what_could_not_run(report)
    say(f"\nFAILED: {', '.join(failed)}" if failed else "\nNothing failed.")
    sys.exit(1 if failed else 0)


def side_by_side():
    """Two files of tests at a time on two cores, in the order of tests/conftest.py; long ones are about what
    happens when, and so run alone."""
    return ("-n", "2", "--dist", "loadfile", "--no-loadscope-reorder") if (os.cpu_count() or 1) > 1 else ()


def say_what_could_not_run(report):
    """The tests that were skipped, with their reasons: a pass must not hide them."""
    cases = ElementTree.parse(report).iter("testcase") if report.exists() else ()
    skipped = [
        f"  {case.get('classname')}.{case.get('name')}: {reason.get('message')}"
        for case in cases
        for reason in case.findall("skipped")
        if reason.get("type") != "pytest.xfail"
    ]
    say("\n".join([f"\nCould not run here: {len(skipped) or 'nothing'}", *skipped]))


def check(_arguments):
    """The checks without the tests."""
    ensure("dev")
    failed = run_checks()
    sys.exit(f"\nFAILED: {', '.join(failed)}" if failed else 0)


# --- the other commands ----------------------------------------------------------------------------------


def module(requirements, *begin):
    """A command that installs a set and goes on as a module of the project."""

    def command(arguments):
        ensure(requirements)
        become(*begin, *from_here(arguments))

    return command


def from_here(arguments):
    """Make the paths of options absolute: they are meant from where the command was given."""
    named = {at + 1 for at, word in enumerate(arguments[:-1]) if word in PATH_OPTIONS}
    return [str(Path(word).absolute()) if at in named else word for at, word in enumerate(arguments)]


def lock(_arguments):
    """Resolve all dependencies anew and write one file with hashes, and without hosts, for each set."""
    uv = shutil.which("uv")
    if uv is None:
        sys.exit("`lock` needs the program uv on the PATH")
    run([uv, "lock"])
    export = [uv, "export", "--quiet", "--frozen", "--no-emit-project", "--no-header"]
    for name in SETS:
        place = str(REQUIREMENTS / f"{name}.txt")
        run([*export, "--format", "requirements-txt", "--extra", name, "-o", place])
    hosts = registry_hosts(sorted(REQUIREMENTS.glob("*.txt")))
    sys.exit("\n".join(["These lines name a host:", *hosts]) if hosts else 0)


COMMANDS = {
    "demo": module("local", "slab_local", "demo"),
    "up": module("local", "slab_local", "up"),
    "test": test,
    "bench": module("bench", "tests.benchmarks"),
    "chaos": module("dev", "tests.chaos"),
    "check": check,
    "openapi": module("local", "slab_api.write_contract"),
    "migration": module("local", "slab_store.new_migration"),
    "lock": lock,
}


def main(arguments):
    if not arguments or arguments[0] not in COMMANDS:
        asked = not arguments or arguments[0] in ("-h", "--help", "help")
        say(__doc__ if asked else f"there is no command {arguments[0]!r}\n\n{__doc__}")
        return 0 if asked and arguments else 2
    COMMANDS[arguments[0]](arguments[1:])
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
    except PermissionError as problem:
        sys.exit(f"error: {problem}. dev.py writes .venv and .cache in its own folder; is it another user's?")
