"""For each stage: which values and earlier results decide it, and the call that computes it.

An order is cheap to make; nothing that only the computation needs is loaded before it runs, so that
a step whose result is already stored costs a look-up.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Protocol, TypeVar

from slab_core.correction.level_points import on_floor
from slab_core.correction.model import Plan
from slab_core.correction.plan import plan
from slab_core.correction.resurvey_readings import Kept, kept_readings, lines_gone
from slab_core.correction.resurveyed import standing_of
from slab_core.job import Job
from slab_core.layout.lay import lay
from slab_core.layout.model import Layout
from slab_core.numerics.budget import Budget
from slab_core.pipeline.behind import still_resting, work_behind
from slab_core.quote.model import Quote
from slab_core.quote.price import price
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Floor, Rooms
from slab_core.scans.model import FloorShape, ReadScan, ReducedScan, ScanOptions
from slab_core.scans.over_floors import reduce_over
from slab_core.scans.place import place_scans
from slab_core.schedule.model import Schedule
from slab_core.schedule.plan import schedule
from slab_core.stages import BY_NAME, JOB, LEVEL, StepSpec
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface
from slab_core.surface.unseen import with_bias
from slab_core.surveys.model import Network
from slab_core.surveys.network import adjust
from slab_core.surveys.observe import observations, profiles
from slab_core.surveys.scan_heights import adjust_scans, scans_of
from slab_core.surveys.scan_observations import scan_error_m, with_scans
from slab_core.takeoff.finished import finished_codes
from slab_core.takeoff.model import Takeoff
from slab_core.takeoff.take_off import take_off
from slab_core.takeoff.unseen import take_off_unseen
from slab_core.tolerance.model import ToleranceReport
from slab_core.tolerance.report import report

Model = TypeVar("Model")


class Earlier(Protocol):
    """Results of the steps that came before in the same run."""

    def model(self, kind: type[Model], stage: str, subject: str, alternate: str = "") -> Model:
        """The result itself."""

    def digest(self, stage: str, subject: str, alternate: str = "") -> bytes:
        """The recipe of the result."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """`inputs` enter the recipe as values, `upstream` as recipes; `compute` makes the result."""

    inputs: tuple[object, ...]
    upstream: tuple[bytes, ...]
    compute: Callable[[Budget], Any]


def order(*, job: Job, step: StepSpec, earlier: Earlier, read: ReadScan | None = None) -> Order:
    """What the step has to compute; `read` reads the files of a job that has scans.

    Raises
    ------
    KeyError
        for a stage that this version of the code does not know.
    InputRefused
        when the targets of the job's scans do not place them.
    """
    if step.stage == "scans":
        assert read is not None, "a job with scans needs something that reads their files"
        return _scans(job, step, earlier, read)
    return _ORDERS[step.stage](job, step, earlier)


def _rooms(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    return Order(inputs=(job.rooms,), upstream=(), compute=lambda _: build_rooms(rooms=job.rooms))


def _scans(job: Job, step: StepSpec, earlier: Earlier, read: ReadScan) -> Order:
    """A file enters as the digest of its content. Its bias does not: it is added to what was reduced."""
    every = scans_of(job.surveys)
    scan, pointer = next(found for found in every if found[0].id == step.subject)
    stand = place_scans(tuple(each for each, _ in every))[scan.id]
    options = ScanOptions()
    floors = tuple(
        FloorShape(id=floor.id, shell=floor.shell, gaps=floor.gaps)
        for floor in earlier.model(Rooms, "rooms", JOB).floors
    )

    def compute(budget: Budget) -> ReducedScan:
        return reduce_over(
            scan=scan,
            stand=stand,
            floors=floors,
            options=options,
            read=read,
            pointer=pointer,
            budget=budget,
        )

    values = (scan.id, pointer, scan.sha256, scan.unit_m, stand, options, floors)
    return Order(inputs=values, upstream=(), compute=compute)


def _reduced(job: Job, earlier: Earlier) -> tuple[ReducedScan, ...]:
    return tuple(earlier.model(ReducedScan, "scans", scan.id) for scan, _ in scans_of(job.surveys))


def _surveys(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    scans = scans_of(job.surveys)

    def compute(_: Budget) -> Network:
        rooms, reduced = earlier.model(Rooms, "rooms", JOB), _reduced(job, earlier)
        scanned = frozenset(floor.floor_id for each in reduced for floor in each.floors)
        network = adjust(rooms=rooms, benchmarks=job.benchmarks, surveys=job.surveys, scanned=scanned)
        if not reduced:
            return network
        return adjust_scans(
            rooms=rooms,
            surveys=job.surveys,
            network=network,
            stands=place_scans(tuple(scan for scan, _ in scans)),
            reduced=reduced,
        )

    upstream = (earlier.digest("rooms", JOB), *(earlier.digest("scans", scan.id) for scan, _ in scans))
    return Order(inputs=(job.benchmarks, job.surveys), upstream=upstream, compute=compute)


def _surface(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    """The network enters as the values it gives this floor's readings, so that new readings in one
    room do not recompute another."""
    floor = _floor(earlier, step.subject)
    network = earlier.model(Network, "surveys", JOB)
    seen, reduced = observations(floor=floor, surveys=job.surveys, network=network), _reduced(job, earlier)
    seen = with_scans(seen, floor_id=floor.id, surveys=job.surveys, network=network, reduced=reduced)
    least_m = scan_error_m(floor_id=floor.id, network=network, reduced=reduced)
    kept = Kept(observations=seen, problems=())
    if job.followed is not None:
        kept = kept_readings(floor_id=floor.id, observations=seen, surveys=job.surveys, followed=job.followed)

    def compute(budget: Budget) -> Surface:
        surface = fit_surface(floor=floor, observations=kept.observations, options=job.surface, budget=budget)
        surface = with_bias(surface, sd_m=least_m) if least_m else surface
        return replace(surface, problems=(*kept.problems, *surface.problems)) if kept.problems else surface

    values = (
        floor.rooms,
        kept.observations,
        job.surface,
        *((least_m,) if least_m else ()),
        *kept.problems,
    )
    return Order(inputs=values, upstream=(), compute=compute)


def _tolerance(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    floor = _floor(earlier, step.subject)
    network = earlier.model(Network, "surveys", JOB)
    gone: frozenset[str] = frozenset()
    if job.followed is not None:
        gone = lines_gone(floor_id=floor.id, surveys=job.surveys, followed=job.followed)
    lines = profiles(floor=floor, surveys=job.surveys, network=network, gone=gone)

    def compute(budget: Budget) -> ToleranceReport:
        surface = earlier.model(Surface, "surface", step.subject)
        return report(floor=floor, surface=surface, profiles=lines, spec=job.tolerance, budget=budget)

    upstream = (earlier.digest("surface", step.subject),)
    return Order(inputs=(floor.rooms, lines, job.tolerance), upstream=upstream, compute=compute)


def _correction(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    floor = _floor(earlier, step.subject)
    film_m = job.catalogue.adhesive.film_m
    # Over tendons, heating pipes or a membrane nobody grinds, whatever the limits say.
    limits = replace(job.limits, no_grinding=True) if job.site.slab_has else job.limits
    places = {room.id: i for i, room in enumerate(job.rooms)}
    pointers = {
        room.id: f"/rooms/{places[room.id]}"
        for room in floor.rooms
        if any(opening.threshold is not None for opening in room.openings)
    }
    level_points = on_floor(points=job.level_through, floor=floor) if step.alternate == LEVEL else ()
    # It is the same whatever the alternate, and takes seconds.
    lower_bound = job.lower_bound and step.alternate == job.alternates[0]
    standing = standing_of(floor_id=floor.id, surveys=job.surveys, followed=job.followed)

    def compute(budget: Budget) -> Plan:
        return plan(
            floor=floor,
            surface=earlier.model(Surface, "surface", step.subject),
            report=earlier.model(ToleranceReport, "tolerance", step.subject),
            rules=job.tolerance.rules,
            limits=limits,
            planning=job.planning,
            rates=job.rates,
            compound=job.catalogue.compound,
            patch=job.catalogue.patch,
            covering=job.covering,
            adhesive_film_m=film_m,
            hardness=job.site.hardness,
            climate=job.climate,
            alternate=step.alternate,
            level_points=level_points,
            room_pointers=pointers,
            lower_bound=lower_bound,
            confidence=job.confidence,
            doorways=job.doorways,
            standing=standing,
            budget=budget,
        )

    values = (
        step.alternate,
        floor.rooms,
        pointers,
        limits,
        job.planning,
        job.rates,
        job.catalogue.compound,
        job.catalogue.patch,
        job.covering,
        film_m,
        job.site.hardness,
        job.climate,
        level_points,
        lower_bound,
        job.confidence,
        job.doorways,
        standing,
    )
    upstream = (earlier.digest("surface", step.subject), earlier.digest("tolerance", step.subject))
    return Order(inputs=values, upstream=upstream, compute=compute)


def _layout(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    floor = _floor(earlier, step.subject)

    def compute(budget: Budget) -> Layout:
        return lay(
            floor=floor,
            covering=job.covering,
            adhesive=job.catalogue.adhesive,
            rates=job.rates,
            climate=job.climate,
            seed=job.seed,
            budget=budget,
        )

    values = (floor.rooms, job.covering, job.catalogue.adhesive, job.rates, job.climate, job.seed)
    return Order(inputs=values, upstream=(), compute=compute)


def _takeoff(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    return _unseen(job, step, earlier) if job.basis == "allowance" else _surveyed(job, step, earlier)


def _unseen(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    """Of the pricing date only the year enters: it tells the age of the slab."""
    rooms = earlier.model(Rooms, "rooms", JOB)
    floors = tuple(floor.id for floor in rooms.floors)

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
            alternate=step.alternate,
            year=job.pricing_date.year,
            seed=job.seed,
            budget=budget,
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
        job.pricing_date.year,
    )
    upstream = tuple(earlier.digest("layout", floor) for floor in floors)
    return Order(inputs=values, upstream=upstream, compute=compute)


def _surveyed(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    rooms = earlier.model(Rooms, "rooms", JOB)
    floors = tuple(floor.id for floor in rooms.floors)
    readings = earlier.model(Network, "surveys", JOB).reading_count
    scans = tuple(scan for scan, _ in scans_of(job.surveys))
    finished = finished_codes(surveys=job.surveys, followed=job.followed)
    work = work_behind(job)

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


def _schedule(job: Job, step: StepSpec, earlier: Earlier) -> Order:
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


def _quote(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    def compute(_: Budget) -> Quote:
        return price(
            takeoff=earlier.model(Takeoff, "takeoff", JOB, step.alternate),
            schedule=earlier.model(Schedule, "schedule", JOB, step.alternate),
            price_book=job.price_book,
            pricing_date=job.pricing_date,
            rates=job.rates,
            tax_place=job.tax_place,
        )

    upstream = (
        earlier.digest("takeoff", JOB, step.alternate),
        earlier.digest("schedule", JOB, step.alternate),
    )
    values = (job.price_book, job.pricing_date, job.rates, job.tax_place)
    return Order(inputs=values, upstream=upstream, compute=compute)


def _floor(earlier: Earlier, floor_id: str) -> Floor:
    rooms = earlier.model(Rooms, "rooms", JOB)
    return next(floor for floor in rooms.floors if floor.id == floor_id)


_ORDERS: dict[str, Callable[[Job, StepSpec, Earlier], Order]] = {
    "rooms": _rooms,
    "surveys": _surveys,
    "surface": _surface,
    "tolerance": _tolerance,
    "correction": _correction,
    "layout": _layout,
    "takeoff": _takeoff,
    "schedule": _schedule,
    "quote": _quote,
}
