"""Orders of what the whole job takes: takeoff, schedule and quote."""

from datetime import date

from slab_core.correction.model import Plan
from slab_core.job import Job
from slab_core.layout.model import Layout
from slab_core.numerics.budget import Budget
from slab_core.pipeline.behind import still_resting, work_behind
from slab_core.pipeline.order import Earlier, Order
from slab_core.quote.model import Quote
from slab_core.quote.price import price
from slab_core.rooms.model import Rooms
from slab_core.schedule.model import Schedule
from slab_core.schedule.plan import schedule
from slab_core.stages import BY_NAME, JOB, StepSpec
from slab_core.surface.model import Surface
from slab_core.surveys.model import Network
from slab_core.surveys.scan_heights import scans_of
from slab_core.takeoff.finished import finished_codes
from slab_core.takeoff.model import Takeoff
from slab_core.takeoff.take_off import take_off
from slab_core.takeoff.unseen.take_off import take_off_unseen
from slab_core.tolerance.model import ToleranceReport


def takeoff_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    return _unseen(job, step, earlier) if job.basis == "allowance" else _surveyed(job, step, earlier)


def _unseen(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    """Of the pricing date only the year enters: it tells the age of the slab."""
    rooms = earlier.model(Rooms, "rooms", JOB)
    floors = tuple(floor.id for floor in rooms.floors)
    begins = _begins(job)

    def compute(budget: Budget) -> Takeoff:
        return take_off_unseen(
            rooms=rooms,
            layouts=tuple(earlier.model(Layout, "layout", floor) for floor in floors),
            tolerance=job.tolerance,
            catalogue=job.catalogue,
            covering=job.covering,
            rates=job.rates,
            climate=job.climate,
            site=job.site,
            scope=job.scope,
            may_grind=not job.limits.no_grinding,
            corrected_as=job.corrected_as,
            alternate=step.alternate,
            year=job.pricing_date.year,
            seed=job.seed,
            budget=budget,
            begins=begins,
        )

    values = (
        step.alternate,
        job.basis,
        job.seed,
        job.rooms,
        job.tolerance,
        job.catalogue,
        job.covering,
        job.rates,
        job.climate,
        job.site,
        job.scope,
        job.limits.no_grinding,
        job.corrected_as,
        job.pricing_date.year,
        begins,
    )
    upstream = tuple(earlier.digest("layout", floor) for floor in floors)
    return Order(inputs=values, upstream=upstream, compute=compute)


def _begins(job: Job) -> date | None:
    """The first day of the job (UTC), which only stock that expires asks for: no other result hangs on it."""
    expires = any(one.use_by is not None for one in job.scope.stock)
    return job.earliest_start.date() if expires else None


def _surveyed(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    rooms = earlier.model(Rooms, "rooms", JOB)
    floors = tuple(floor.id for floor in rooms.floors)
    readings = earlier.model(Network, "surveys", JOB).reading_count
    scans = tuple(scan for scan, _ in scans_of(job.surveys))
    finished = finished_codes(surveys=job.surveys, followed=job.followed)
    work = work_behind(job)
    begins = _begins(job)

    def compute(budget: Budget) -> Takeoff:
        return take_off(
            rooms=rooms,
            reading_count=readings,
            reports=tuple(earlier.model(ToleranceReport, "tolerance", floor) for floor in floors),
            plans=tuple(earlier.model(Plan, "correction", floor, step.alternate) for floor in floors),
            layouts=tuple(earlier.model(Layout, "layout", floor) for floor in floors),
            catalogue=job.catalogue,
            covering=job.covering,
            rates=job.rates,
            climate=job.climate,
            site=job.site,
            scope=job.scope,
            alternate=step.alternate,
            surfaces=tuple(earlier.model(Surface, "surface", floor) for floor in floors),
            scans=scans,
            seed=job.seed,
            finished=finished,
            earlier=work,
            budget=budget,
            begins=begins,
        )

    values = (
        step.alternate,
        job.seed,
        job.rooms,
        tuple(sorted(finished)),
        work,
        readings,
        scans,
        job.catalogue,
        job.covering,
        job.rates,
        job.climate,
        job.site,
        job.scope,
        begins,
    )
    upstream = tuple(
        earlier.digest(stage, floor, step.alternate if BY_NAME[stage].by_alternate else "")
        for floor in floors
        for stage, alternate in (
            ("surface", ""),
            ("tolerance", ""),
            ("correction", step.alternate),
            ("layout", ""),
        )
    )
    return Order(inputs=values, upstream=upstream, compute=compute)


def schedule_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    def compute(budget: Budget) -> Schedule:
        return schedule(
            takeoff=earlier.model(Takeoff, "takeoff", JOB, step.alternate),
            rates=job.rates,
            climate=job.climate,
            compound=job.catalogue.compound,
            primer=job.catalogue.primer,
            adhesive=job.catalogue.adhesive,
            patch=job.catalogue.patch,
            calendar=job.calendar,
            earliest_start=job.earliest_start,
            lead_days=lead_days,
            resting=resting,
            budget=budget,
        )

    lead_days = job.catalogue.lead_days(job.covering)
    resting = still_resting(job)
    values = (
        job.rates,
        job.climate,
        job.catalogue,
        job.calendar,
        job.earliest_start,
        lead_days,
        resting,
    )
    upstream = (earlier.digest("takeoff", JOB, step.alternate),)
    return Order(inputs=values, upstream=upstream, compute=compute)


def quote_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    def compute(_: Budget) -> Quote:
        return price(
            takeoff=earlier.model(Takeoff, "takeoff", JOB, step.alternate),
            schedule=earlier.model(Schedule, "schedule", JOB, step.alternate),
            price_book=job.price_book,
            pricing_date=job.pricing_date,
            rates=job.rates,
            tax_place=job.tax_place,
            discounts=job.discounts,
            calendar=job.calendar,
        )

    upstream = (
        earlier.digest("takeoff", JOB, step.alternate),
        earlier.digest("schedule", JOB, step.alternate),
    )
    values = (job.price_book, job.pricing_date, job.rates, job.tax_place, job.discounts, job.calendar)
    return Order(inputs=values, upstream=upstream, compute=compute)
