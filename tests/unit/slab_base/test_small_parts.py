"""Clock, names of queues and tasks, and the thread variables."""

import subprocess
import sys
from datetime import UTC, timedelta

import pytest

from slab_base.clock import Clock, SystemClock, now_utc
from slab_base.tasks import DOORBELLS, QUEUES, doorbell
from slab_base.threads import VARIABLES, one_thread


def test_the_clock_speaks_utc() -> None:
    clock: Clock = SystemClock()
    assert clock.now().tzinfo is UTC
    assert clock.now() - now_utc() < timedelta(seconds=1)


def test_every_queue_has_its_own_doorbell() -> None:
    assert set(DOORBELLS) == set(QUEUES)
    assert [doorbell(queue=queue) for queue in QUEUES] == ["doorbell.light", "doorbell.heavy"]


def test_an_unknown_queue_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="light, heavy"):
        doorbell(queue="urgent")


def test_thread_variables_become_one_unless_they_are_set() -> None:
    environ = {"OMP_NUM_THREADS": "4"}
    one_thread(environ=environ)
    assert environ == {name: "4" if name == "OMP_NUM_THREADS" else "1" for name in VARIABLES}


@pytest.mark.parametrize(("first", "raised"), [("", False), ("import numpy", True)])
def test_setting_threads_after_numpy_is_loaded_is_refused(first: str, raised: bool) -> None:
    program = f"{first}\nfrom slab_base.threads import one_thread\none_thread()"
    done = subprocess.run(
        [sys.executable, "-c", program], env={}, capture_output=True, text=True, check=False
    )
    assert ("numpy was imported before" in done.stderr) == raised
    assert (done.returncode != 0) == raised
