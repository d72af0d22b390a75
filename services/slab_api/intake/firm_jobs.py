"""Quoted jobs of a posted schedule as jobs of the firm."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from slab_api.intake.firm_means import MeansReader, Path, begin_of, longest_day
from slab_api.schemas.firm_schedules import PlannedJobDocument
from slab_app.actions.quoted_work import quoted_work
from slab_core.schedule.calendars import utc_minute
from slab_core.schedule.firm.asked import Way
from slab_core.schedule.firm.job import Means, firm_job
from slab_core.schedule.firm.model import Crew, FirmJob, Machine, Site
from slab_store.quotes import QuoteRecord

ACCEPTED = ("accepted",)
OPEN = ("draft", "sent", "accepted")


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmMeans:
    """Who and what is there."""

    crews: tuple[Crew, ...]
    machines: tuple[Machine, ...]
    sites: tuple[Site, ...]
    ways: tuple[Way, ...]


def read_jobs(
    reader: MeansReader,
    posted: Sequence[tuple[PlannedJobDocument, Path]],
    *,
    means: FirmMeans,
    now_minute: int,
    states: tuple[str, ...] = ACCEPTED,
    taken: Sequence[str] = (),
) -> tuple[tuple[FirmJob, ...], tuple[Site, ...]]:
    """The jobs, and a place at the yard for each that names no site. `taken` are ids of jobs that the plan
    has already."""
    jobs, sites = list[FirmJob](), list(means.sites)
    ids, records = set(taken), dict[UUID, int]()
    for n, (document, at) in enumerate(posted):
        quote = reader.uow.quotes.get(id=document.quote)
        if quote is None or quote.state not in states:
            reader.fault(_wrong_quote(quote, states), (*at, "quote"))
            continue
        if quote.job_id is not None and records.setdefault(quote.job_id, n) != n:
            reader.fault("another quote of the same job is planned already; plan one of them", (*at, "quote"))
        id = document.id or f"quote-{quote.number}"
        if id in ids:
            reader.fault(f"there is a job {id!r} already; give this one an id of its own", (*at, "id"))
        ids.add(id)
        site = next((one for one in sites if one.id == document.site), None)
        if document.site is not None and site is None:
            reader.fault(f"there is no site {document.site!r}; list it in sites", (*at, "site"))
        if site is None:
            site = next((one for one in sites if one.id == f"at {id}"), Site(id=f"at {id}"))
            sites += [site] if site not in sites else []
        jobs.append(_job(reader, document, quote, id, site, means, now_minute, at))
    return tuple(jobs), tuple(sites)


def _wrong_quote(quote: QuoteRecord | None, states: tuple[str, ...]) -> str:
    if quote is None:
        return "there is no quote with this id"
    wanted = " or ".join(states)
    return f"quote {quote.number} is {quote.state}; what is planned has to be {wanted}"


def _job(
    reader: MeansReader,
    document: PlannedJobDocument,
    quote: QuoteRecord,
    id: str,
    site: Site,
    means: FirmMeans,
    now_minute: int,
    at: Path,
) -> FirmJob:
    quoted = quoted_work(reader.uow, quote=quote)
    zone = ZoneInfo(quoted.time_zone)
    begins = (
        utc_minute(instant=quoted.earliest_start)
        if document.not_before is None
        else begin_of(document.not_before, zone)
    )
    if document.promised is not None and begin_of(document.promised, zone) < begins:
        reader.fault(
            f"it is promised for {document.promised}, before it may begin; say not_before too if it may "
            "begin sooner than it was estimated to",
            (*at, "promised"),
        )
    return firm_job(
        id=id,
        site=site.id,
        work=quoted.work,
        means=Means(
            people=max(crew.people for crew in means.crews),
            machines=frozenset(machine.kind for machine in means.machines),
            day_minutes=_day_at(site, means),
        ),
        earliest=max(begins, now_minute),
        delivered=None if document.delivered is None else begin_of(document.delivered, zone),
        promised=None if document.promised is None else begin_of(document.promised + timedelta(days=1), zone),
    )


def _day_at(site: Site, means: FirmMeans) -> int:
    """Minutes of the longest day that a crew may work there, by the way from its home that is listed."""

    def there(home: str) -> int:
        return next((way.minutes for way in means.ways if {way.start, way.end} == {home, site.id}), 0)

    longest = max(longest_day(crew.calendar) - 2 * there(crew.home) for crew in means.crews)
    return max(1, longest if site.allowed is None else min(longest, longest_day(site.allowed)))
