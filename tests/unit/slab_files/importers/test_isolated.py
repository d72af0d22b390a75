"""Reading in a process of its own: answers, refusals, limits and deaths."""

import errno
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from slab_core.errors import InputRefused, Problem
from slab_core.numerics.budget import Budget, Stopped
from slab_core.scans.model import CellHeights, FloorShape, Placement, ScanOptions
from slab_core.scans.reduce import reduce_scan
from slab_files.importers.child import lacks_memory
from slab_files.importers.isolated import ReaderFailed, Reading, reduce_in_child
from slab_files.importers.kinds import open_points
from slab_files.importers.messages import Limits, Progress
from tests.slabs import make_slab, rectangle
from tests.unit.slab_files.importers.written import SCAN, write_las

PATCH = rectangle(2.3, 2.0)
SHAPE = FloorShape(id="patch", shell=PATCH.shell, gaps=())
COARSE = ScanOptions(cell_m=0.1)


def placement() -> Placement:
    """The real scan's lower corner becomes the job's origin."""
    points = np.concatenate(list(open_points(path=SCAN).chunks()))
    x, y, z = points.min(axis=0).tolist()
    return Placement(origin_m=(x, y, z))


def read_in_child(path: Path, **changes: Any) -> Reading:
    settings: dict[str, Any] = {
        "floors": (SHAPE,),
        "placement": Placement(),
        "options": COARSE,
        "limits": Limits(wall_seconds=60.0),
        **changes,
    }
    return reduce_in_child(path=path, **settings)


def test_the_child_gives_what_reading_here_gives_and_tells_how_far_it_is() -> None:
    told: list[Progress] = []
    reading = read_in_child(SCAN, placement=placement(), progress=told.append)
    here = reduce_scan(
        floor=PATCH,
        chunks=open_points(path=SCAN).chunks(),
        placement=placement(),
        options=COARSE,
        budget=Budget(),
    )
    (cells,) = reading.floors
    assert isinstance(cells, CellHeights)
    assert reading.points_read == cells.points_read == 28_185
    for name in ("x_m", "y_m", "height_m", "standard_error_m", "points"):
        # Sums are reordered for the vector unit, by where an array happens to lie: equal to a nanometre.
        np.testing.assert_allclose(getattr(cells, name), getattr(here, name), rtol=0, atol=1e-9)
    assert cells.problems == here.problems
    assert [(message.points, message.claimed) for message in told] == [(0, 28_185), (28_185, 28_185)]
    assert 0 < reading.peak_memory_bytes < 1 << 30


def test_one_reading_serves_all_floors_and_each_has_its_own_answer() -> None:
    halves = [((x, 0.0), (x + 1.15, 0.0), (x + 1.15, 2.0), (x, 2.0)) for x in (0.0, 1.15, 50.0)]
    floors = tuple(FloorShape(id=str(i), shell=shell, gaps=()) for i, shell in enumerate(halves))
    told: list[Progress] = []
    reading = read_in_child(SCAN, floors=floors, placement=placement(), progress=told.append)
    left, right, away = reading.floors
    assert isinstance(left, CellHeights)
    assert isinstance(right, CellHeights)
    assert not isinstance(away, CellHeights)
    assert left.x_m.max() < 1.15 < right.x_m.min()
    assert [problem.code for problem in away] == ["scan-outside-floor"]
    assert told[-1].points == 28_185


def problem_of(path: Path, **changes: Any) -> Problem:
    with pytest.raises(InputRefused) as refused:
        read_in_child(path, **changes)
    (problem,) = refused.value.problems
    return problem


def test_a_refusal_comes_back_with_its_code_and_words(tmp_path: Path) -> None:
    (tmp_path / "a.xyz").write_text("1 2 3\n4 five 6\n")
    problem = problem_of(tmp_path / "a.xyz")
    assert problem.code == "scan-file-malformed"
    assert "Line 2 " in problem.detail
    assert problem.severity == "refusal"


def test_a_scan_far_from_the_floor_is_told_of_that_floor() -> None:
    (problems,) = read_in_child(SCAN).floors
    assert not isinstance(problems, CellHeights)
    assert [problem.code for problem in problems] == ["scan-outside-floor"]


def test_a_file_that_needs_more_memory_than_allowed_is_refused_as_that() -> None:
    problem = problem_of(SCAN, placement=placement(), limits=Limits(memory_bytes=40 << 20))
    assert problem.code == "scan-reader-out-of-memory"
    assert "40 MiB" in problem.detail


@pytest.mark.parametrize(
    ("problem", "lacks"),
    [
        (MemoryError(), True),
        (OSError(errno.ENOMEM, "Cannot allocate memory"), True),
        (ImportError("lib.so: failed to map segment from shared object"), True),
        (ImportError("No module named 'laspy'"), False),
        (OSError(errno.ENOENT, "No such file or directory"), False),
        (ValueError("out of memory"), False),
    ],
)
def test_memory_that_ran_out_is_told_from_other_failures(problem: BaseException, lacks: bool) -> None:
    assert lacks_memory(problem) is lacks


SCRIPTS = {
    "spin": "while True: pass",
    "sleep": "import time; time.sleep(60)",
    "crash": "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)",
    "killed": "import os, signal; os.kill(os.getpid(), signal.SIGKILL)",
    "exit": "import sys; print('out of luck', file=sys.stderr); sys.exit(3)",
    "nonsense": 'print(\'{"type":"what"}\', flush=True)',
    "flood": "while True: print('x' * 100_000, end='', flush=True)",
    "deaf": "import os; os.close(0); os._exit(4)",
}


def stand_in(script: str) -> tuple[str, ...]:
    """A process in the child's place, under the child's own limits, that does what no child should."""
    begin = (
        "import sys, msgspec; from slab_files.importers.child import limit; "
        "from slab_files.importers.messages import Request; "
        "limit(msgspec.json.decode(sys.stdin.buffer.read(), type=Request).limits)\n"
    )
    return (sys.executable, "-c", (begin if script != SCRIPTS["deaf"] else "") + script)


@pytest.mark.parametrize(
    ("script", "limits", "code"),
    [
        ("spin", Limits(cpu_seconds=1, wall_seconds=30.0), "scan-reader-too-slow"),
        ("sleep", Limits(wall_seconds=0.5), "scan-reader-too-slow"),
        ("crash", Limits(), "scan-reader-stopped"),
        ("killed", Limits(), "scan-reader-out-of-memory"),
    ],
)
def test_a_child_that_hangs_or_dies_becomes_a_clear_refusal(script: str, limits: Limits, code: str) -> None:
    assert problem_of(SCAN, limits=limits, command=stand_in(SCRIPTS[script])).code == code


@pytest.mark.parametrize(
    ("script", "words"),
    [("exit", "out of luck"), ("nonsense", "what"), ("flood", "more than a message"), ("deaf", "code 4")],
)
def test_a_child_that_fails_by_itself_is_no_fault_of_the_file(script: str, words: str) -> None:
    with pytest.raises(ReaderFailed, match=words):
        read_in_child(SCAN, command=stand_in(SCRIPTS[script]))


def test_reading_ends_soon_when_it_is_no_longer_wanted() -> None:
    begin = time.monotonic()
    with pytest.raises(Stopped):
        read_in_child(SCAN, command=stand_in(SCRIPTS["sleep"]), stop=lambda: True)
    assert time.monotonic() - begin < 10


def test_the_child_sees_no_secret_of_its_parent(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SLABWRIGHT_DATABASE_URL", "a secret")
    script = "import os, sys; print(sorted(os.environ), file=sys.stderr); sys.exit(5)"
    with pytest.raises(ReaderFailed) as failed:
        read_in_child(SCAN, command=stand_in(script))
    assert "NUMBA_NUM_THREADS" in str(failed.value)
    assert "DATABASE" not in str(failed.value)


@pytest.mark.long
def test_two_million_points_are_read_in_their_share_of_a_gibibyte(tmp_path: Path) -> None:
    """What Python and its libraries take, about 200 MiB, and then at most 60 bytes a point."""
    rng = np.random.default_rng(0)
    slab = make_slab(rng=rng)
    x, y = rng.uniform(0, 5, 2_000_000), rng.uniform(0, 7, 2_000_000)
    points = np.column_stack([x, y, slab.height(x, y) + rng.normal(0, 0.002, len(x))])
    path = write_las(tmp_path / "a.las", points)
    shape = FloorShape(id="A", shell=slab.floor.shell, gaps=())
    reading = read_in_child(path, floors=(shape,), options=ScanOptions())
    assert reading.points_read == 2_000_000
    assert reading.peak_memory_bytes < (200 << 20) + 2_000_000 * 60
