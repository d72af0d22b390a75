"""Children of the launcher end with all that they started."""

import os
import sys
import time
from pathlib import Path

from slab_local.processes import start, stop

PARENT = """
import os, signal, subprocess, sys, time
subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
signal.signal(signal.SIGTERM, lambda *_: os._exit(0))
print("started", flush=True)
time.sleep(60)
"""


def _wait_for(log: Path, text: str) -> None:
    end = time.monotonic() + 20
    while text not in (log.read_text() if log.exists() else ""):
        assert time.monotonic() < end, "the child did not start"
        time.sleep(0.02)


def test_what_a_child_leaves_behind_when_it_ends_in_good_order_is_ended_too(tmp_path: Path) -> None:
    log = tmp_path / "log"
    child = start(name="parent", command=[sys.executable, "-c", PARENT], log=log, env=os.environ)
    _wait_for(log, "started")
    stop(child)
    assert child.process.returncode == 0
    end = time.monotonic() + 20
    while _has_members(child.process.pid) and time.monotonic() < end:
        time.sleep(0.02)
    assert not _has_members(child.process.pid)


def _has_members(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True
