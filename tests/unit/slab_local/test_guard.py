"""The guard stops the children of a launcher that was killed."""

import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from slab_local.guard import alive, stop, watch


def test_children_that_ended_are_forgotten_and_the_rest_keep_their_order() -> None:
    assert list(watch(["add 10 2", "add 11 15", "add 12 15", "drop 11"]).items()) == [(10, 2), (12, 15)]


def test_dropping_an_unknown_child_does_no_harm() -> None:
    assert watch(["drop 10"]) == {}


def sleeper(program: str) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-u", "-c", f"import signal, time\n{program}\nprint('up')\ntime.sleep(60)"],
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "up\n"
    return process


@pytest.mark.parametrize(
    ("program", "ended_by"),
    [("", signal.SIGTERM), ("signal.signal(signal.SIGTERM, signal.SIG_IGN)", signal.SIGKILL)],
)
def test_a_process_that_ignores_the_request_is_killed(program: str, ended_by: signal.Signals) -> None:
    with sleeper(program) as process:
        stop(pid=process.pid, stop_signal=signal.SIGTERM, patience=0.5)
        assert process.wait(5) == -ended_by


def test_stopping_a_process_that_is_gone_does_no_harm() -> None:
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    stop(pid=process.pid, stop_signal=signal.SIGTERM)
    assert not alive(pid=process.pid)


def test_the_children_end_when_the_launcher_is_killed(tmp_path: Path) -> None:
    program = textwrap.dedent(
        f"""
        import os, signal, sys, time
        from pathlib import Path
        from slab_local import processes
        command = [sys.executable, "-c", "import time; time.sleep(60)"]
        children = [
            processes.start(name=n, command=command, log=Path({str(tmp_path)!r}) / n, env=os.environ)
            for n in ("first", "second", "ended")
        ]
        processes.stop(children[2])
        print(*(child.process.pid for child in children), flush=True)
        time.sleep(60)
        """
    )
    with subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True) as launcher:
        assert launcher.stdout is not None
        pids = [int(word) for word in launcher.stdout.readline().split()]
        assert [alive(pid=pid) for pid in pids] == [True, True, False]
        launcher.kill()
    end = time.monotonic() + 10
    while any(alive(pid=pid) for pid in pids) and time.monotonic() < end:
        time.sleep(0.02)
    assert [alive(pid=pid) for pid in pids] == [False, False, False]
