"""Everything a worker process works with, put together once."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from slab_app.work.cache import ResultCache
from slab_app.work.lease import LeaseKeeper
from slab_app.work.ports import Engine, OnFinished
from slab_store.database import Database


def _stay() -> bool:
    return False


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A worker's database, engine, lease keeper and limits.

    `known` maps the stages it has to their versions; `leaving()` says that the process is asked to end, so no
    further step is taken; after `turn_seconds` a turn hands the rest of its run on, for others to be served.
    """

    database: Database
    engine: Engine
    keeper: LeaseKeeper
    known: Mapping[str, int]
    worker: str
    lease_seconds: float
    max_attempts: int
    on_finished: tuple[OnFinished, ...] = ()
    turn_seconds: float = 60.0
    leaving: Callable[[], bool] = _stay
    clock: Callable[[], float] = time.monotonic
    cache: ResultCache = field(default_factory=ResultCache)
