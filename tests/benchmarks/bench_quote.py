"""Pricing a job with what it may come to; there is no general-purpose peer that does this."""

import statistics
import time
from collections.abc import Callable
from dataclasses import replace

from slab_core.numerics.budget import Budget
from slab_core.pipeline.line import run
from slab_core.quote.model import Quote
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
    job = one_room_job(width_m=6.0, depth_m=5.0, count=150)
    line = run(job=job)
    takeoff = line.model(Takeoff, "takeoff", JOB, PLANE)
    schedule = line.model(Schedule, "schedule", JOB, PLANE)

    def taken_off() -> float:
        timed = run(job=job, budget=Budget(clock=time.perf_counter))
        return timed.seconds[("takeoff", JOB, PLANE)]

    def priced() -> float:
        started = time.perf_counter()
        made: Quote = price(
            takeoff=takeoff,
            schedule=schedule,
            price_book=job.price_book,
            pricing_date=job.pricing_date,
            rates=job.rates,
        )
        assert made.contingency is not None
        return time.perf_counter() - started

    return [
        _figure("quote.draws_10000_s", _median(priced)),
        _figure("quote.takeoff_with_draws_s", _median(taken_off)),
    ]


@measures("quote.unseen_")
def bench_unseen() -> list[Figure]:
    """The same room before anybody has seen its slab: drawing its quantities, and pricing all draws with the
    worth of a quick survey, medians on one core."""
    job = replace(
        one_room_job(width_m=6.0, depth_m=5.0), surveys=(), basis="allowance", alternates=(ALLOWANCE,)
    )
    line = run(job=job)
    takeoff = line.model(Takeoff, "takeoff", JOB, ALLOWANCE)
    schedule = line.model(Schedule, "schedule", JOB, ALLOWANCE)

    def taken_off() -> float:
        timed = run(job=job, budget=Budget(clock=time.perf_counter))
        return timed.seconds[("takeoff", JOB, ALLOWANCE)]

    def priced() -> float:
        started = time.perf_counter()
        made = price(
            takeoff=takeoff,
            schedule=schedule,
            price_book=job.price_book,
            pricing_date=job.pricing_date,
            rates=job.rates,
        )
        assert made.before_tear_out is not None
        return time.perf_counter() - started

    return [
        _figure("quote.unseen_price_s", _median(priced)),
        _figure("quote.unseen_takeoff_s", _median(taken_off)),
    ]


def _median(spent: Callable[[], float]) -> float:
    return statistics.median(spent() for _ in range(ROUNDS))


def _figure(name: str, value: float) -> Figure:
    return Figure(name=name, value=value, unit="s", peer=None, peer_value=None, n=DRAWS, memory_mb=None)
