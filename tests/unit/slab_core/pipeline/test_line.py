"""The line from readings to a price, in memory."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from slab_app.codec import Encoded, decode, encode
from slab_core.correction.family import LevelPoint
from slab_core.job import MODELS, Job
from slab_core.numerics.budget import Budget
from slab_core.pipeline.line import Line, run
from slab_core.pipeline.orders import order
from slab_core.quote.model import Quote
from slab_core.rooms.model import KeepOut, Obstacle, Opening, Ring, Room, Threshold
from slab_core.stages import CHEAPEST, GRIND_ONLY, JOB, LEVEL, PLANE, STAGES, StepSpec
from tests.sample_jobs import grid_readings, hump_and_hollow, one_room_job, rectangle


@pytest.fixture(scope="module")
def job() -> Job:
    return one_room_job()


@pytest.fixture(scope="module")
def line(job: Job) -> Line:
    return run(job=job)


def test_every_stage_leaves_a_result_of_its_own_model(line: Line) -> None:
    assert {stage for stage, _, _ in line.models} == {
        stage.name for stage in STAGES if stage.subject != "scan"
    }
    assert all(isinstance(model, MODELS[stage]) for (stage, _, _), model in line.models.items())
    assert not line.refused


def test_the_floor_fails_before_and_passes_after_the_correction(line: Line) -> None:
    assert not line.models["tolerance", "studio", ""].passes
    plan = line.models["correction", "studio", PLANE]
    assert plan.passes
    assert plan.bags > 0


def test_the_quote_adds_up_to_the_cent(line: Line) -> None:
    quote = line.models["quote", JOB, PLANE]
    assert quote.total == quote.subtotal + quote.tax > Decimal(0)
    assert sum(row.price for row in quote.lines) == quote.subtotal
    assert sum(row.tax for row in quote.lines) == quote.tax


def _bytes(line: Line) -> dict[tuple[str, str, str], Encoded]:
    """Every result as it stands after a way through the store."""
    return {key: encode(decode(MODELS[key[0]], encode(model))) for key, model in line.models.items()}


def test_the_same_job_twice_gives_the_same_results_bit_for_bit(job: Job, line: Line) -> None:
    again = run(job=job)
    assert again.digests == line.digests
    assert _bytes(again) == _bytes(line)


def test_a_job_that_went_through_the_store_gives_the_results_of_the_one_in_memory(
    job: Job, line: Line
) -> None:
    stored = run(job=decode(Job, encode(job)))
    assert stored.digests == line.digests
    assert _bytes(stored) == _bytes(line)


def test_results_read_from_the_store_lead_to_the_same_quote_as_those_in_memory(job: Job, line: Line) -> None:
    kept = Line(digests=dict(line.digests))
    kept.models = {key: decode(MODELS[key[0]], encode(model)) for key, model in line.models.items()}
    for stage in ("correction", "takeoff", "quote"):
        key = next(key for key in line.models if key[0] == stage)
        step = StepSpec(stage=stage, subject=key[1], alternate=key[2], version=1, queue="light", needs=())
        again = order(job=job, step=step, earlier=kept).compute(Budget())
        assert encode(decode(MODELS[stage], encode(again))) == encode(kept.models[key])


def test_a_price_change_moves_the_quote_and_no_other_recipe(job: Job, line: Line) -> None:
    book = job.price_book
    dearer = tuple(replace(price, amount=price.amount * 2) for price in book.prices)
    changed = run(job=replace(job, price_book=replace(book, version="dearer", prices=dearer)))
    moved = {key for key, digest in changed.digests.items() if digest != line.digests[key]}
    assert {stage for stage, _, _ in moved} == {"quote"}
    before: Quote = line.models["quote", JOB, PLANE]
    assert changed.models["quote", JOB, PLANE].total > before.total


def test_new_readings_in_one_floor_leave_the_other_floors_results_alone(job: Job) -> None:
    den = Room(
        id="den", name="Den", outline=tuple((x + 10.0, y) for x, y in rectangle(width_m=4.0, depth_m=3.0))
    )
    there = grid_readings(width_m=4.0, depth_m=3.0, count=40, truth=hump_and_hollow, seed=5)
    columns = there.readings[0]
    den_visit = replace(there, id="den-visit", readings=(replace(columns, x_m=columns.x_m + 10.0),))
    two = replace(job, rooms=(*job.rooms, den), surveys=(*job.surveys, den_visit))
    more = replace(columns, x_m=columns.x_m + 10.0, value_m=columns.value_m + 0.0005)
    changed = replace(two, surveys=(*job.surveys, replace(den_visit, readings=(more,))))
    first, second = run(job=two).digests, run(job=changed).digests
    for stage in ("surface", "tolerance"):
        assert first[stage, "studio", ""] == second[stage, "studio", ""]
        assert first[stage, "den", ""] != second[stage, "den", ""]


def test_a_refusal_ends_the_line_and_keeps_what_was_computed(job: Job) -> None:
    unpriced = replace(job, price_book=replace(job.price_book, prices=job.price_book.prices[1:]))
    line = run(job=unpriced)
    assert line.refused
    assert ("quote", JOB, PLANE) in line.models
    assert {p.code for p in line.problems() if p.severity == "refusal"} == {"price-missing"}


def test_rooms_joined_by_a_door_become_one_floor(job: Job) -> None:
    width = 6.0
    door = Opening(id="door", start=(width, 1.0), end=(width, 2.0), to_room="den")
    studio = replace(job.rooms[0], openings=(door,))
    outline = tuple((x + width, y) for x, y in rectangle(width_m=3.0, depth_m=4.0))
    den = Room(id="den", name="Den", outline=outline)
    line = run(job=replace(job, rooms=(studio, den)))
    floors = line.models["rooms", JOB, ""].floors
    assert [len(floor.rooms) for floor in floors] == [2]
    assert floors[0].area_m2 == pytest.approx(6 * 5 + 3 * 4)


@pytest.mark.parametrize("holds", ["tendons", "heating-pipes", "membrane"])
def test_nothing_is_ground_over_what_the_slab_holds(job: Job, holds: Any) -> None:
    over = run(job=replace(job, site=replace(job.site, slab_has=(holds,))))
    plan = over.models["correction", "studio", PLANE]
    assert plan.passes
    assert plan.bags > 0
    assert not plan.grind.any()
    said = [p.detail for p in over.problems() if p.code == "bond-grinding-left-out"]
    assert holds.replace("-", " ") in said[0]


def test_a_job_with_keep_out_zones_and_a_hearth_is_planned_taken_off_and_priced(job: Job) -> None:
    zone = KeepOut(id="pipes", reason="heating-pipes", outline=_box(1.2, 3.0, 2.0, 3.8))
    flush = Threshold(low_m=0.03, high_m=0.032, transition="none")
    hearth = Obstacle(id="hearth", kind="hearth", outline=_box(4.6, 0.0, 5.6, 0.5), threshold=flush)
    room = replace(job.rooms[0], keep_outs=(zone,), obstacles=(hearth,))
    line = run(job=replace(job, rooms=(room,), alternates=(PLANE, CHEAPEST)))
    assert not line.refused
    for alternate in (PLANE, CHEAPEST):
        plan = line.models["correction", "studio", alternate]
        x, y = np.meshgrid(plan.grid.xs(), plan.grid.ys())
        on_zone = (np.abs(x - 1.6) <= 0.4) & (np.abs(y - 3.4) <= 0.4)
        assert plan.passes
        assert on_zone.sum() > 50
        assert not plan.grind[on_zone].any()
        surface = line.models["surface", "studio", ""]
        top = (surface.height - plan.grind + plan.fill) * 1e-5
        front = (np.abs(y - 0.5) <= plan.grid.step_m) & (x > 4.6) & (x < 5.6) & surface.inside
        build_up_m = job.catalogue.adhesive.film_m + job.covering.thickness_m
        assert front.any()
        assert np.abs(top[front] + build_up_m - 0.031).max() <= 0.0015
    codes = {problem.code for problem in line.problems()}
    assert {"caution-heating-pipes", "bond-grinding-left-out"} <= codes
    assert line.models["quote", JOB, CHEAPEST].total > Decimal(0)


def _box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def test_a_threshold_that_cannot_be_met_points_into_the_job_as_it_was_posted() -> None:
    # Floors are in order of their ids; "attic" was posted second and holds the doorway.
    door = Opening(
        id="stairs", start=(20.0, 1.0), end=(20.0, 1.9), threshold=Threshold(low_m=0.3, high_m=0.31)
    )
    outline = tuple((x + 20.0, y) for x, y in rectangle(width_m=3.0, depth_m=4.0))
    attic = Room(id="attic", name="Attic", outline=outline, openings=(door,))
    base = one_room_job()
    far = grid_readings(width_m=3.0, depth_m=4.0, count=60, truth=hump_and_hollow)
    moved = replace(far, id="visit-2", readings=(replace(far.readings[0], x_m=far.readings[0].x_m + 20.0),))
    job = replace(base, rooms=(*base.rooms, attic), surveys=(*base.surveys, moved))
    found = [p for p in run(job=job).problems() if p.code == "threshold-unmeetable"]
    assert [p.pointer for p in found] == ["/rooms/1/openings/0/threshold"]


def test_alternates_share_what_does_not_depend_on_them_and_are_each_priced(job: Job, line: Line) -> None:
    both = run(job=replace(job, alternates=(PLANE, LEVEL)))
    assert {key: both.digests[key] for key in line.digests} == line.digests
    more = set(both.models) - set(line.models)
    assert more == {
        ("correction", "studio", LEVEL),
        *((stage, JOB, LEVEL) for stage in ("takeoff", "schedule", "quote")),
    }
    assert all(both.models[key].alternate == LEVEL for key in more)
    assert both.models["quote", JOB, LEVEL].total != both.models["quote", JOB, PLANE].total


def test_an_alternate_that_cannot_be_done_is_given_up_alone(job: Job, line: Line) -> None:
    three = run(job=replace(job, alternates=(PLANE, GRIND_ONLY, LEVEL)))
    assert not three.refused
    assert three.given_up == {GRIND_ONLY}
    assert {stage for stage, _, alternate in three.models if alternate == GRIND_ONLY} == {"correction"}
    assert ("quote", JOB, LEVEL) in three.models
    (refusal,) = [p for p in three.problems() if p.severity == "refusal"]
    assert "the alternate grind-only cannot be done on floor studio" in refusal.detail


def test_the_main_alternate_s_refusal_ends_the_line(job: Job) -> None:
    line = run(job=replace(job, alternates=(GRIND_ONLY, PLANE)))
    assert line.refused
    assert ("quote", JOB, PLANE) not in line.models


def test_places_of_a_level_plane_change_the_level_alternate_alone(job: Job) -> None:
    first = replace(job, alternates=(PLANE, LEVEL))
    through = run(job=replace(first, level_through=(LevelPoint(at=(3.0, 2.5), height_m=0.004),)))
    free = run(job=first)
    moved = {key for key, digest in through.digests.items() if digest != free.digests[key]}
    assert {alternate for _, _, alternate in moved} == {LEVEL}
    plan = through.models["correction", "studio", LEVEL]
    assert plan.plane == pytest.approx((0.004, 0.0, 0.0))
