"""Orders of what is done to a floor: correction and layout."""

from dataclasses import replace
from functools import partial

from slab_core.correction.level_points import on_floor
from slab_core.correction.model import Plan
from slab_core.correction.plan import plan
from slab_core.correction.resurvey.standing import standing_of
from slab_core.correction.sampled_rules import by_demanded
from slab_core.job import Job
from slab_core.layout.lay import lay
from slab_core.layout.model import Layout
from slab_core.numerics.budget import Budget
from slab_core.pipeline.order import Earlier, Order, floor_in
from slab_core.rooms.thresholds import threshold_lines
from slab_core.stages import LEVEL, StepSpec
from slab_core.surface.model import Surface
from slab_core.tolerance.model import ToleranceReport


def correction_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    floor = floor_in(earlier, step.subject)
    film_m = job.catalogue.adhesive.film_m
    # Over tendons, heating pipes or a membrane nobody grinds, whatever the limits say.
    limits = replace(job.limits, no_grinding=True) if job.site.slab_has else job.limits
    places = {room.id: i for i, room in enumerate(job.rooms)}
    pointers = {
        room.id: f"/rooms/{places[room.id]}"
        for room in floor.rooms
        if room.keep_outs or threshold_lines(room)
    }
    level_points = on_floor(points=job.level_through, floor=floor) if step.alternate == LEVEL else ()
    # It is the same whatever the alternate, and takes seconds.
    lower_bound = job.lower_bound and step.alternate == job.alternates[0]
    standing = standing_of(floor_id=floor.id, surveys=job.surveys, followed=job.followed)

    def compute(budget: Budget) -> Plan:
        surface = earlier.model(Surface, "surface", step.subject)
        report = earlier.model(ToleranceReport, "tolerance", step.subject)
        make = partial(planned, surface=surface, budget=budget)
        return by_demanded(make, report=report, floor=floor, surface=surface)

    def planned(report: ToleranceReport, *, surface: Surface, budget: Budget) -> Plan:
        return plan(
            floor=floor,
            surface=surface,
            report=report,
            rules=tuple(checked.rule for checked in report.rules),
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


def layout_order(job: Job, step: StepSpec, earlier: Earlier) -> Order:
    floor = floor_in(earlier, step.subject)

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
