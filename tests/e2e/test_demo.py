"""The demo tells its story to the end, or ends at once when asked, and leaves nothing running."""

import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from uuid import uuid4

ROOT = Path(__file__).parents[2]


def _start(mark: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "slab_local", "demo"],
        cwd=ROOT,
        env={**os.environ, "SLAB_TEST_MARK": mark},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def _left_running(mark: str) -> list[str]:
    """Command lines of processes that were started with this mark in their environment."""
    left = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            if mark.encode() in (place / "environ").read_bytes():
                left.append((place / "cmdline").read_text().replace("\0", " "))
        except OSError:
            continue
    return left


def test_the_demo_prints_where_the_floor_fails_the_fix_the_takeoff_the_days_and_the_price() -> None:
    mark = uuid4().hex
    demo = _start(mark)
    said, _ = demo.communicate(timeout=120)
    assert demo.returncode == 0, said
    sections = ("Flatness as found", "The fix", "Boards", "Takeoff", "Schedule", "Quote", "Alternates")
    for heading in (*sections, "Hold points", "To order", "Cautions"):
        assert re.search(rf"^{heading}", said, re.MULTILINE), heading
    assert re.search(r"^Flatness as found: archive: fail$", said, re.MULTILINE)
    assert re.search(
        r"FAILS 3/16\" in 10' 0\".*; fail, as it holds with a chance of 0 %$", said, re.MULTILINE
    )
    for alternate in ("plane", "level"):
        row = rf"^  {alternate} +\d+ +\d+\.\d +\d+ +\d+ +\d+\.\d\d USD +passes$"
        assert re.search(row, said, re.MULTILINE), alternate
    assert re.search(r"Rule: \S.*\(common practice", " ".join(said.split()))
    assert re.search(r"^  \d+ lb in all$", said, re.MULTILINE)
    assert re.search(r"after: passes 3/16\" in 10' 0\"", said)
    assert re.search(r"^  total +\d+\.\d\d USD$", said, re.MULTILINE)
    assert _left_running(mark) == []


def test_control_c_ends_the_demo_in_good_order() -> None:
    mark = uuid4().hex
    demo = _start(mark)
    assert demo.stdout is not None
    for line in demo.stdout:
        if line.startswith("Starting the worker"):
            break
    demo.send_signal(signal.SIGINT)
    rest, _ = demo.communicate(timeout=60)
    assert demo.returncode == 130, rest
    assert "Traceback" not in rest
    assert _left_running(mark) == []
