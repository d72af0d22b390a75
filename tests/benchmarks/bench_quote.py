"""Pricing a job with what it may come to; there is no general-purpose peer that does this."""

import statistics
import time
from collections.abc import Callable
from dataclasses import replace

from slab_core.job import Job
from slab_core.numerics.budget import Budget
from slab_core.pipeline.line import run
from slab_core.quote.price import price
from slab_core.schedule.model import Schedule
from slab_core.stages import ALLOWANCE, JOB, PLANE
from slab_core.takeoff.draws import DRAWS
from slab_core.takeoff.model import Takeoff
from tests.benchmarks.measure import Figure, measures
from tests.sample_jobs import one_room_job

ROUNDS = 9


@measures("quote.")
def bench_quote() -> list[Figure]:
    """A 30 m² room: drawing all quantities, and pricing all draws, medians on one core."""
    priced, taken_off = _timed(one_room_job(width_m=6.0, depth_m=5.0, count=150), alternate=PLANE)
    return [_figure("quote.draws_10000_s", priced), _figure("quote.takeoff_with_draws_s", taken_off)]


@measures("quote.unseen_")
def bench_unseen() -> list[Figure]:
    """The same room before anybody has seen its slab: drawing its quantities, and pricing all draws with the
    worth of a quick survey, medians on one core."""
    job = replace(
        one_room_job(width_m=6.0, depth_m=5.0), surveys=(), basis="allowance", alternates=(ALLOWANCE,)
    )
    priced, taken_off = _timed(job, alternate=ALLOWANCE)
    return [_figure("quote.unseen_price_s", priced), _figure("quote.unseen_takeoff_s", taken_off)]


def _timed(job: Job, *, alternate: str) -> tuple[float, float]:
    """Seconds of pricing and of taking off, medians."""
    line = run(job=job)
    takeoff = line.model(Takeoff, "takeoff", JOB, alternate)
    schedule = line.model(Schedule, "schedule", JOB, alternate)

    def taken_off() -> float:
        timed = run(job=job, budget=Budget(clock=time.perf_counter))
        return timed.seconds[("takeoff", JOB, alternate)]

    def priced() -> float:
        started = time.perf_counter()
        made = price(
            takeoff=takeoff,
            schedule=schedule,
            price_book=job.price_book,
            pricing_date=job.pricing_date,
            rates=job.rates,
        )
        took = time.perf_counter() - started
        assert made.contingency is not None
        assert (made.before_tear_out is not None) == (alternate == ALLOWANCE)
        return took

    return _median(priced), _median(taken_off)


def _median(spent: Callable[[], float]) -> float:
    return statistics.median(spent() for _ in range(ROUNDS))


def _figure(name: str, value: float) -> Figure:
    return Figure(name=name, value=value, unit="s", peer=None, peer_value=None, n=DRAWS, memory_mb=None)
