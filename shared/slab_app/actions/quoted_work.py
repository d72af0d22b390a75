"""What a quote's estimate says of its work, read from what it stored, without the rest of it."""

from dataclasses import dataclass
from datetime import datetime

import msgspec

from slab_app.errors import NotFound
from slab_core.materials.model import Catalogue, Climate
from slab_core.materials.rates_model import Rates
from slab_core.schedule.firm.job import Work
from slab_core.takeoff.model import Hold, Task
from slab_store.quotes import QuoteItem
from slab_store.unit_of_work import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedWork:
    """The work of a quote, its site's time zone and the earliest start that it was estimated with."""

    work: Work
    name: str
    time_zone: str
    earliest_start: datetime


class _Site(msgspec.Struct):
    time_zone: str


class _Job(msgspec.Struct):
    """Of a stored job what its work takes."""

    name: str
    rates: Rates
    climate: Climate
    catalogue: Catalogue
    site: _Site
    earliest_start: datetime


class _Takeoff(msgspec.Struct):
    tasks: tuple[Task, ...]
    holds: tuple[Hold, ...] = ()


def quoted_work(uow: UnitOfWork, *, quote: QuoteItem) -> QuotedWork:
    """The work that a quote is for. Raises NotFound when it is no longer kept."""
    steps = uow.runs.steps(run_id=quote.run)
    digest = next(
        (s.digest for s in steps if s.stage == "takeoff" and s.alternate == quote.alternate and s.digest),
        None,
    )
    found = {} if digest is None else uow.results.summaries(digests=[digest])
    run_input = uow.runs.input(run_id=quote.run)
    if digest is None or digest not in found or run_input is None:
        raise NotFound(f"the takeoff of quote {quote.number} is no longer kept; post its estimate again")
    job = msgspec.json.decode(run_input.json, type=_Job)
    takeoff = msgspec.json.decode(found[digest], type=_Takeoff)
    return QuotedWork(
        work=Work(
            tasks=takeoff.tasks,
            rates=job.rates,
            climate=job.climate,
            catalogue=job.catalogue,
            holds=takeoff.holds,
        ),
        name=job.name,
        time_zone=job.site.time_zone,
        earliest_start=job.earliest_start,
    )
