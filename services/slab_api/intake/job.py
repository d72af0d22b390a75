"""A posted job as the input of the pipeline, or every reason why it cannot be one."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from slab_api.intake import spec
from slab_api.intake.alternates import read_alternates, read_corrected_as, read_level_through
from slab_api.intake.books import Books, choose_books
from slab_api.intake.confidence import read_confidence
from slab_api.intake.discounts import read_discounts
from slab_api.intake.doorways import read_doorways
from slab_api.intake.flatness import read_surface, read_tolerance
from slab_api.intake.follows import read_follows
from slab_api.intake.places import client_pointer
from slab_api.intake.reader import Reader
from slab_api.intake.rooms import read_room
from slab_api.intake.surveys import read_benchmarks, read_survey
from slab_api.problems import invalid
from slab_api.schemas.job import EstimateRequest, JobParts
from slab_api.schemas.options import OptionsDocument
from slab_app.actions.promised_stock import free_stock
from slab_app.codec import Encoded, encode
from slab_app.errors import Fault
from slab_core.correction.level_points import off_every_floor
from slab_core.correction.resurvey.standing import Followed, names_of_work, unknown_work
from slab_core.errors import InputRefused, Problem
from slab_core.job import Job
from slab_core.quote.tax_places import at_place
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Floor, Room
from slab_core.stages import StepSpec, plan_steps
from slab_core.surveys.check import check_surveys, unused_surveys
from slab_core.surveys.model import Survey
from slab_store.unit_of_work import UnitOfWork

USUAL_SEED = 1
"""Of an estimate that is given none: the same job gives the same answer whenever it is posted, so that a
change of price changes nothing but the price."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """All that is posted for an estimate: the encoded job, its seed, and the steps that compute it."""

    job: Encoded
    seed: int
    steps: tuple[StepSpec, ...]


def prepare_inline(uow: UnitOfWork, *, request: EstimateRequest, now: datetime) -> Prepared:
    """From one document with everything in it. Raises ApiProblem that names every place that is wrong."""
    reader = Reader(units=request.units)
    rooms = tuple(
        read_room(room, id=room.id, reader=reader, at=("rooms", i)) for i, room in enumerate(request.rooms)
    )
    surveys = tuple(
        read_survey(survey, id=survey.id, reader=reader, at=("surveys", i))
        for i, survey in enumerate(request.surveys)
    )
    return prepare(
        uow,
        job=request,
        rooms=rooms,
        surveys=surveys,
        options=request.options,
        reader=reader,
        now=now,
        followed=read_follows(
            uow, follows=request.follows, options=request.options, rooms=rooms, job_id=None, reader=reader
        ),
        alternate=request.follows.alternate if request.follows else None,
    )


def prepare(
    uow: UnitOfWork,
    *,
    job: JobParts,
    rooms: tuple[Room, ...],
    surveys: tuple[Survey, ...],
    options: OptionsDocument,
    reader: Reader,
    now: datetime,
    followed: Followed | None = None,
    alternate: str | None = None,
    job_id: UUID | None = None,
) -> Prepared:
    """From parts that are read already; `reader` holds the faults found so far. A job that goes on has what
    was `followed`, and its one alternate; what the earlier quote of a job that does not go on holds of the
    firm's store is free for this one."""
    zone = spec.zone_of(job.site.time_zone, reader=Reader(units=job.units))
    day = options.pricing_date or now.astimezone(zone).date()
    whole = _assemble(
        uow,
        job=job,
        rooms=rooms,
        surveys=surveys,
        options=options,
        reader=reader,
        day=day,
        zone=zone,
        now=now,
    )
    if job.scope.use_firm_stock:
        whole = _with_firm_stock(uow, whole, job_id=None if followed else job_id)
    if alternate is not None:
        whole = replace(whole, followed=followed, alternates=(alternate,))
    floors = _floor_ids(whole, reader=reader)
    scans = tuple(scan.id for survey in surveys for scan in survey.scans)
    steps = plan_steps(floor_ids=floors, scan_ids=scans, alternates=whole.alternates, basis=whole.basis)
    return Prepared(job=encode(whole), seed=whole.seed, steps=steps)


def _assemble(
    uow: UnitOfWork,
    *,
    job: JobParts,
    rooms: tuple[Room, ...],
    surveys: tuple[Survey, ...],
    options: OptionsDocument,
    reader: Reader,
    day: date,
    zone: ZoneInfo,
    now: datetime,
) -> Job:
    books = choose_books(uow, job=job, day=day, reader=reader)
    tolerance = read_tolerance(job.tolerance, reader=reader)
    return Job(
        name=job.name,
        rooms=rooms,
        benchmarks=read_benchmarks(job.benchmarks, reader=reader),
        surveys=surveys,
        tolerance=tolerance,
        covering=spec.read_covering(job.covering, reader=reader, usual_limits=books.catalogue.wood_limits),
        catalogue=spec.read_products(job.products, catalogue=books.catalogue, reader=reader),
        rates=books.rates,
        planning=spec.read_planning(job.planning),
        price_book=books.price_book,
        calendar=books.calendar,
        seed=USUAL_SEED if options.seed is None else options.seed,
        pricing_date=day,
        earliest_start=(options.earliest_start or next_day(now, zone=zone)).astimezone(UTC),
        surface=read_surface(options, tolerance=tolerance, reader=reader),
        limits=spec.read_limits(job.limits, site=job.site, reader=reader),
        scope=spec.read_scope(job, reader=reader),
        site=spec.read_site(job.site, reader=reader),
        climate=spec.read_climate(job),
        basis=options.basis,
        alternates=read_alternates(options, reader=reader),
        corrected_as=read_corrected_as(options, reader=reader),
        level_through=read_level_through(options, rooms=rooms, reader=reader),
        lower_bound=options.lower_bound,
        confidence=read_confidence(options, reader=reader),
        doorways=read_doorways(options, reader=reader),
        tax_place=_tax_place(job, books=books, reader=reader),
        discounts=read_discounts(job.discounts, book=books.price_book, reader=reader),
    )


def _with_firm_stock(uow: UnitOfWork, job: Job, *, job_id: UUID | None) -> Job:
    """The job with what is free in the firm's store now, so that what it is computed from is all in it."""
    products = (*job.catalogue.product_ids(), job.covering.product)
    free = free_stock(uow, products=products, day=job.earliest_start.date(), job_id=job_id)
    return replace(job, scope=replace(job.scope, stock=(*job.scope.stock, *free)))


def _tax_place(job: JobParts, *, books: Books, reader: Reader) -> str:
    """A place that the price book has rates for, or none."""
    place = job.site.tax_place or ""
    found = at_place(book=books.price_book, place=place)
    if isinstance(found, Problem):
        reader.fault(found.detail, ("site", "tax_place"))
    return place


def _survey_problems(job: Job) -> tuple[Problem, ...]:
    if job.basis == "surveyed":
        return check_surveys(surveys=job.surveys, benchmarks=job.benchmarks)
    return unused_surveys(surveys=job.surveys)


def next_day(now: datetime, *, zone: ZoneInfo) -> datetime:
    """The start of the next day at the site: nobody starts work on the day of the quote."""
    tomorrow = now.astimezone(zone).date() + timedelta(days=1)
    return datetime.combine(tomorrow, time.min, tzinfo=zone)


def core_faults(
    problems: tuple[Problem, ...], *, found: Sequence[Fault], drop: str = ""
) -> tuple[Fault, ...]:
    """The faults found while reading and the core's refusals, but for what merely follows from the former.

    `drop` is the head of the core's pointers that the client's document does not have.
    """
    own = tuple(replace(fault, pointer=fault.pointer.removeprefix(drop)) for fault in found)
    places = tuple(fault.pointer for fault in own)
    refused = tuple(
        Fault(detail=problem.detail, pointer=client_pointer(problem.pointer).removeprefix(drop))
        for problem in problems
    )
    return (*own, *(fault for fault in refused if not _is_consequence(fault.pointer, places)))


def _is_consequence(pointer: str, places: tuple[str, ...]) -> bool:
    """Whether a place holds, or lies in, one that could not be read."""
    return any(
        f"{place}/".startswith(f"{pointer}/") or f"{pointer}/".startswith(f"{place}/") for place in places
    )


def _floor_ids(job: Job, *, reader: Reader) -> tuple[str, ...]:
    """The floors that the rooms join into. Raises ApiProblem with every fault of reading and of the core."""
    problems: tuple[Problem, ...] = ()
    floors: tuple[Floor, ...] = ()
    try:
        floors = build_rooms(rooms=job.rooms).floors
        problems = off_every_floor(points=job.level_through, floors=floors)
    except InputRefused as refused:
        problems = refused.problems
    names = None if job.followed is None else names_of_work(job.followed)
    unknown = unknown_work(job.surveys, names=names)
    faults = core_faults((*problems, *_survey_problems(job), *unknown), found=reader.faults)
    if faults:
        raise invalid(faults)
    return tuple(floor.id for floor in floors)
