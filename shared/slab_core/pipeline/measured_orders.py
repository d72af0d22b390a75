"""Orders of what the slab is: rooms, scans, surveys, surface, tolerance."""

from dataclasses import replace
from functools import partial

from slab_core.correction.resurvey.common_ground import common_ground
from slab_core.correction.resurvey.datum import in_one_datum
from slab_core.correction.resurvey.readings import Kept, kept_readings, lines_gone, readings_of_the_day
from slab_core.job import Job
from slab_core.numerics.budget import Budget
from slab_core.pipeline.order import Earlier, Order, floor_in
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Rooms
from slab_core.scans.model import FloorShape, ReadScan, ReducedScan, ScanOptions
from slab_core.scans.over_floors import reduce_over
from slab_core.scans.place import place_scans
from slab_core.stages import JOB, StepSpec
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface
from slab_core.surface.unseen import with_bias
from slab_core.surveys.model import Network, Observations
from slab_core.surveys.network import adjust
from slab_core.surveys.observe import observations, profiles
from slab_core.surveys.scan_heights import adjust_scans, scans_of
from slab_core.surveys.scan_observations import scan_error_m, with_scans
from slab_core.tolerance.model import ToleranceReport
from slab_core.tolerance.report import report


def rooms_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    return Order(inputs=(job.rooms,), upstream=(), compute=lambda _: build_rooms(rooms=job.rooms))


def scans_order(job: Job, step: StepSpec, earlier: Earlier, read: ReadScan) -> Order:
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


def surveys_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
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
            still_tells=partial(_of_the_day, job) if job.followed is not None else None,
        )

    upstream = (earlier.digest("rooms", JOB), *(earlier.digest("scans", scan.id) for scan, _ in scans))
    # What was planned tells where work was done between a scan and a reading.
    planned = (job.followed.plans,) if job.followed is not None and scans else ()
    values = (job.benchmarks, job.surveys, *planned)
    return Order(inputs=values, upstream=upstream, compute=compute)


def _of_the_day(job: Job, survey: int, floor_id: str, seen: Observations) -> Observations:
    assert job.followed is not None
    return readings_of_the_day(
        floor_id=floor_id, survey=survey, observations=seen, surveys=job.surveys, followed=job.followed
    )


def surface_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    """The network enters as the values it gives this floor's readings, so that new readings in one
    room do not recompute another."""
    floor = floor_in(earlier, step.subject)
    network = earlier.model(Network, "surveys", JOB)
    seen, reduced = observations(floor=floor, surveys=job.surveys, network=network), _reduced(job, earlier)
    seen = with_scans(seen, floor_id=floor.id, surveys=job.surveys, network=network, reduced=reduced)
    least_m = scan_error_m(floor_id=floor.id, network=network, reduced=reduced)
    kept = Kept(observations=seen, problems=())
    if job.followed is not None:
        kept = kept_readings(floor_id=floor.id, observations=seen, surveys=job.surveys, followed=job.followed)
    common = common_ground(floor_id=floor.id, observations=seen, surveys=job.surveys, followed=job.followed)

    def compute(budget: Budget) -> Surface:
        level = in_one_datum(floor=floor, observations=kept.observations, common=common, budget=budget)
        surface = fit_surface(
            floor=floor,
            observations=level.observations,
            options=job.surface,
            budget=budget,
            change=kept.change,
        )
        surface = with_bias(surface, sd_m=least_m) if least_m else surface
        return replace(surface, problems=(*kept.problems, *level.problems, *surface.problems))

    values = (
        floor.rooms,
        kept.observations,
        job.surface,
        *((least_m,) if least_m else ()),
        *((kept.change,) if kept.change is not None else ()),
        *kept.problems,
        *common,
    )
    return Order(inputs=values, upstream=(), compute=compute)


def tolerance_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    floor = floor_in(earlier, step.subject)
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
