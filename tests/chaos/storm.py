"""Post runs while things break, let everything heal, and count what was lost, doubled or unexpected."""

import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from uuid import UUID

from slab_store.errors import StoreError
from tests.chaos.house import House
from tests.support.runs import ONE_FLOOR

FAULTS = (
    "kill_child",
    "kill_child",
    "kill_worker",
    "end_worker",
    "kill_relay",
    "flush_broker",
    "triple_messages",
    "stop_broker",
    "freeze_child",
    "restart_postgres",
)
HEAL_SECONDS = 180.0


@dataclass(kw_only=True)
class Storm:
    """What was acknowledged, by what was expected of it; which faults there were; how long posts took."""

    healthy: list[UUID] = field(default_factory=list)
    poisoned: list[UUID] = field(default_factory=list)
    cancelled: list[UUID] = field(default_factory=list)
    refused_posts: int = 0
    post_ms: list[float] = field(default_factory=list)
    faults: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What must be zero, and how much there was of the rest."""

    acknowledged: int
    lost: int
    doubled: int
    unexpected: int
    healthy_parked: int
    refused_posts: int
    slowest_post_ms: float
    heal_seconds: float
    faults: dict[str, int]

    @property
    def is_clean(self) -> bool:
        """Nothing lost, doubled, unexpected or wrongly parked."""
        return self.lost == self.doubled == self.unexpected == self.healthy_parked == 0


def rage(*, house: House, seconds: float, per_second: float = 5.0) -> Verdict:
    """Post for `seconds` while faults happen every second or two, heal, and judge."""
    storm = Storm()
    over = threading.Event()
    poster = threading.Thread(target=_post_all, args=(house, storm, over, per_second))
    poster.start()
    try:
        _break_things(house, storm, seconds)
    finally:
        over.set()
        poster.join()
    started = time.monotonic()
    left = _heal(house, storm)
    return _judge(house, storm, left, time.monotonic() - started)


def _break_things(house: House, storm: Storm, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        fault = house.rng.choice(FAULTS)
        storm.faults[fault] += 1
        getattr(house, fault)()
        time.sleep(house.rng.uniform(0.5, 2.0))


def _post_all(house: House, storm: Storm, over: threading.Event, per_second: float) -> None:
    posted = 0
    while not over.wait(1 / per_second):
        posted += 1
        started = time.perf_counter()
        try:
            _post_one(house, storm, posted)
        except StoreError:
            # Not acknowledged: the client was told, and would post again under the same id.
            storm.refused_posts += 1
        else:
            storm.post_ms.append(1000 * (time.perf_counter() - started))


def _post_one(house: House, storm: Storm, number: int) -> None:
    firm = house.crew.firm
    if number % 40 == 0:
        storm.poisoned.append(firm.post(trouble={"tolerance": "raise"}))
    elif number % 10 == 0:
        run_id = firm.post(sleep=0.2)
        storm.cancelled.append(run_id)
        firm.cancel(run_id)
    else:
        storm.healthy.append(firm.post(sleep=0.01))


def _heal(house: House, storm: Storm) -> set[UUID]:
    """Wait until all that was acknowledged is over; what is not over in the end."""
    left = {*storm.healthy, *storm.poisoned, *storm.cancelled}
    end = time.monotonic() + HEAL_SECONDS
    while left and time.monotonic() < end:
        left = {run_id for run_id in left if not house.crew.firm.run(run_id).is_over}
        time.sleep(0.2)
    return left


def _judge(house: House, storm: Storm, left: set[UUID], heal_seconds: float) -> Verdict:
    effects = house.crew.effects()
    states = dict(effects.runs.keys())
    wrong = [run_id for run_id in storm.healthy if states.get(run_id) not in ("completed", None)]
    wrong += [run_id for run_id in storm.poisoned if states.get(run_id) not in ("failed", None)]
    wrong += [r for r in storm.cancelled if states.get(r) not in ("cancelled", "completed", None)]
    completed = [run_id for run_id in storm.healthy if states.get(run_id) == "completed"]
    incomplete = [r for r in completed if any((r, n) not in effects.steps for n in range(len(ONE_FLOOR)))]
    return Verdict(
        acknowledged=len(storm.healthy) + len(storm.poisoned) + len(storm.cancelled),
        lost=len(left) + len(incomplete),
        doubled=len(effects.doubled()),
        unexpected=len(wrong),
        healthy_parked=sum(states.get(run_id) == "failed" for run_id in storm.healthy),
        refused_posts=storm.refused_posts,
        slowest_post_ms=max(storm.post_ms, default=0.0),
        heal_seconds=heal_seconds,
        faults=dict(storm.faults),
    )
