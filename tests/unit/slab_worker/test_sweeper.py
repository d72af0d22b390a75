"""How many bells a sweep rings."""

from contextlib import nullcontext
from types import SimpleNamespace
from typing import Any, cast

import pytest

from slab_worker.sweeper import MOST_BELLS, Sweeper


class _Bells:
    def __init__(self, waiting: int) -> None:
        self.held = waiting
        self.rung: list[str] = []

    def ring(self, *, queue: str) -> None:
        self.rung.append(queue)

    def waiting(self, *, queue: str) -> int:
        return self.held


def _sweeper(*, runnable: int, bells: _Bells, every: float = 2.0) -> Sweeper:
    queue = SimpleNamespace(
        release_expired=lambda: 0,
        runnable=lambda queue, limit: min(runnable, limit) if queue == "light" else 0,
        purge_published=lambda older_than_seconds: 0,
        forget_answers=lambda older_than_hours, limit: 0,
    )
    uow = SimpleNamespace(queue=queue, commit=lambda: None)
    database: Any = SimpleNamespace(for_queue=lambda: nullcontext(uow))
    return Sweeper(database=database, bells=cast(Any, bells), every_seconds=every)


@pytest.mark.parametrize(
    ("runnable", "waiting", "rung"),
    [(0, 0, 0), (3, 0, 3), (3, 2, 1), (3, 3, 0), (3, 9, 0), (100_000, 0, MOST_BELLS)],
)
def test_bells_are_topped_up_to_the_runnable_steps(runnable: int, waiting: int, rung: int) -> None:
    bells = _Bells(waiting)
    assert _sweeper(runnable=runnable, bells=bells).sweep() == rung
    assert bells.rung == ["light"] * rung


def test_a_sweep_waits_for_its_interval() -> None:
    sweeper = _sweeper(runnable=0, bells=_Bells(0))
    assert [sweeper.sweep_if_due(now=now) for now in (10.0, 11.9, 12.0, 13.0)] == [True, False, True, False]
