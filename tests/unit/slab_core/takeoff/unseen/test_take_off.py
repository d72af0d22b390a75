"""A job that is taken off before anybody has seen its slab."""

from dataclasses import replace
from functools import cache
from math import exp

import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_core.job import Job
from slab_core.materials.slab_kinds import believed, kind_of
from slab_core.numerics.grid import Floats
from slab_core.pipeline.line import Line, run
from slab_core.rooms.model import KeepOut
from slab_core.stages import ALLOWANCE, CHEAPEST, JOB, OF_THE_SLAB
from slab_core.takeoff.codes import DISPOSAL, TRIP, price_codes
from slab_core.takeoff.model import Allowance, AllowedQuantity, Scope, Site, Stock, Takeoff
from slab_core.takeoff.unseen.rule import TABLE
from slab_core.tolerance.model import Rule, ToleranceSpec
from slab_core.units.lengths import METRES_PER_FOOT
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.sample_jobs import one_room_job

TEN_FEET_M = 10 * METRES_PER_FOOT
CARPET = Scope(removal="carpet")
OLD = Site(built_year=1975)


def _job(**changes: object) -> Job:
    plain = replace(
        one_room_job(), surveys=(), basis="allowance", alternates=(ALLOWANCE,), scope=CARPET, site=OLD
    )
    return replace(plain, **changes)  # type: ignore[arg-type]  # fields of the job by name


@cache
def _line() -> Line:
    return run(job=_job())


def _taken(line: Line) -> Takeoff:
    return line.model(Takeoff, "takeoff", JOB, ALLOWANCE)


def _allowance(line: Line) -> Allowance:
    found = _taken(line).allowance
    assert found is not None
    return found


def _quantity(line: Line, code: str) -> AllowedQuantity:
    return next(each for each in _allowance(line).quantities if each.code == code)


def test_the_stages_of_the_slab_are_not_in_the_run_and_a_quote_is() -> None:
    stages = {stage for stage, _, _ in _line().models}
    assert not stages & OF_THE_SLAB
    assert stages == {"rooms", "layout", "takeoff", "schedule", "quote"}
    assert not _line().refused


def test_without_a_survey_a_surveyed_estimate_is_still_refused() -> None:
    with pytest.raises(InputRefused) as refused:
        run(job=_job(basis="surveyed", alternates=("plane",)))
    assert [problem.code for problem in refused.value.problems] == ["no-survey"]


def test_bags_are_the_median_of_what_is_believed_and_a_finding_says_where_they_are_from() -> None:
    kind = kind_of(kinds=(), removal="carpet", age="old")
    assert _quantity(_line(), "bags").planned == np.ceil(exp(believed(kind.bags).mean) * 30.0)
    hours = _quantity(_line(), "grinding").planned
    assert hours == pytest.approx(exp(believed(kind.grinding).mean) * 30.0)
    (said,) = [problem for problem in _line().problems() if problem.code == "slab-unseen"]
    assert "18 bags and 4.3 machine-hours" in said.detail
    assert "under carpet, age old" in said.detail


@pytest.mark.parametrize(("code", "whole"), [("bags", True), ("grinding", False)])
def test_quantities_by_chance_are_those_of_the_believed_lognormal(code: str, whole: bool) -> None:
    kind = kind_of(kinds=(), removal="carpet", age="old")
    rate = believed(kind.bags if whole else kind.grinding)
    found = _quantity(_line(), code)
    for value, normal in (
        (found.by_chance.p50, 0.0),
        (found.by_chance.p80, 0.8416),
        (found.by_chance.p95, 1.6449),
    ):
        expected = exp(rate.mean + rate.of_one_sd(30.0) * normal) * 30.0
        assert value == pytest.approx(expected, rel=0.05, abs=1.0 if whole else 0.0)
    assert found.log_sd == pytest.approx(rate.of_one_sd(30.0), rel=0.04)


def test_work_around_the_bags_follows_them_in_every_draw() -> None:
    taken = _taken(_line())
    assert taken.draws is not None
    rows = {taken.lines[at].key.text(): taken.draws.quantity[k] for k, at in enumerate(taken.draws.line)}
    bags = rows["compound/studio/1/levelling-compound"]
    planned = {line.key.text(): line.order for line in taken.lines}
    for code in ("pins", "prime", "pour", "edges"):
        hours = rows[f"{code}/studio/1/-"] / planned[f"{code}/studio/1/-"]
        assert np.corrcoef(np.log(hours), np.log(bags))[0, 1] > 0.9
    days = np.ceil(bags / 30)
    assert np.array_equal(rows["mixing/-/0/mixing-station"], days)
    assert rows["tear-out/studio/1/-"].std() / planned["tear-out/studio/1/-"] < 0.25


def test_hours_of_tasks_are_those_of_the_labour_lines() -> None:
    taken = _taken(_line())
    labour = sum(line.order for line in taken.lines if line.kind == "labour" and line.key.code != TRIP)
    assert sum(task.person_hours for task in taken.tasks) == pytest.approx(labour)


def test_two_floors_share_their_building() -> None:
    """Half of the area twice varies less than twice one half, and more than if the two were strangers."""
    rooms = _job().rooms
    right = tuple((x + 100.0, y) for x, y in rooms[0].outline)
    both = run(job=_job(rooms=(*rooms, replace(rooms[0], id="second", name="Second", outline=right))))
    rate = believed(kind_of(kinds=(), removal="carpet", age="old").grinding)
    assert _quantity(both, "grinding").planned == pytest.approx(2 * _quantity(_line(), "grinding").planned)
    assert _quantity(both, "grinding").log_sd == pytest.approx(rate.of_one_sd(60.0), rel=0.04)


def test_where_nobody_may_grind_there_are_bags_alone() -> None:
    for changes in (
        {"site": replace(OLD, slab_has=("tendons",))},
        {"limits": replace(_job().limits, no_grinding=True)},
    ):
        line = run(job=_job(**changes))
        assert [each.code for each in _allowance(line).quantities] == ["bags"]
        assert not [each for each in _taken(line).lines if each.key.code == "grind"]


def test_what_the_lines_come_from_says_that_the_slab_was_not_seen() -> None:
    for line in _taken(_line()).lines:
        assert line.trace.stage != "correction"
        if line.key.code in ("compound", "grind", "pour"):
            assert line.trace.inputs["slab"] == "not seen yet: usual for slabs under carpet, age old"


def test_a_bag_or_an_hour_more_has_all_that_goes_with_it() -> None:
    priced = {code.code for code in price_codes(catalogue=_job().catalogue, covering=_job().covering)}
    for each in _allowance(_line()).quantities:
        assert {part.price_code for part in each.parts} <= priced
    hour = {part.price_code: part.quantity for part in _quantity(_line(), "grinding").parts}
    assert hour["floor-grinder"] == 1.0
    assert hour["labour"] == hour["vacuum"] == pytest.approx(1.3)  # the hand tool takes 0.3 h along walls
    bag = {part.price_code: part.quantity for part in _quantity(_line(), "bags").parts}
    assert bag["levelling-compound"] == pytest.approx(19 / 18)  # one spare for 18
    assert DISPOSAL not in bag


def test_more_readings_tell_more_and_cost_more() -> None:
    surveys = _allowance(_line()).surveys
    for sds in ([s.bags_log_sd for s in surveys], [s.grinding_log_sd for s in surveys]):
        assert sds == sorted(sds, reverse=True)
    hours = [next(p.quantity for p in each.parts if p.price_code == "labour") for each in surveys]
    assert hours == sorted(hours)


def _bags_drawn(line: Line) -> Floats:
    taken = _taken(line)
    assert taken.draws is not None
    place = [each.key.code for each in taken.lines].index("compound")
    return np.asarray(taken.draws.quantity[list(taken.draws.line).index(place)], dtype=np.float64)


def test_stock_comes_off_what_is_ordered_and_not_off_what_the_slab_takes() -> None:
    stock = (Stock(product="levelling-compound", packages=5),)
    with_stock = run(job=_job(scope=replace(CARPET, stock=stock)))
    bags = _quantity(with_stock, "bags")
    assert bags == _quantity(_line(), "bags")
    (line,) = [each for each in _taken(with_stock).lines if each.key.code == "compound"]
    assert (line.order, line.from_stock) == (bags.planned - 5.0, 5.0)
    assert np.array_equal(_bags_drawn(with_stock), np.maximum(0.0, _bags_drawn(_line()) - 5.0))


def test_a_job_that_asks_for_the_cheapest_floor_is_allowed_the_share_of_bags_that_its_rule_asks_for() -> None:
    """And hours as of one plane; its spread is wider, and its words say what it rests on."""
    tight, usual = (
        run(
            job=_job(
                tolerance=ToleranceSpec(rules=(Rule(length_m=TEN_FEET_M, gap_m=gap_m),)),
                corrected_as=CHEAPEST,
            )
        )
        for gap_m in (3 * INCH_M / 32, 3 * INCH_M / 16)
    )
    plain = _quantity(_line(), "bags")
    for line, at in ((tight, 0), (usual, 2)):
        bags, row = _quantity(line, "bags"), TABLE[at]
        assert _allowance(line).bags_share == pytest.approx(row.bags)
        assert bags.planned == pytest.approx(row.bags * plain.planned, abs=1.0)  # whole bags
        assert bags.log_sd > plain.log_sd
        for chance in ("p50", "p80", "p95"):
            assert getattr(bags.by_chance, chance) <= getattr(plain.by_chance, chance)
        assert _quantity(line, "grinding").planned == _quantity(_line(), "grinding").planned
        told = next(each for each in _taken(line).problems if each.code == "slab-unseen").detail
        assert f"{row.bags:.2f} of the bags of one plane" in told
        assert "invented slabs" in told


def test_the_cheapest_floor_of_f_numbers_alone_is_allowed_for_as_one_plane() -> None:
    spec = ToleranceSpec(rules=(), f_numbers=(25.0, 20.0))
    line = run(job=_job(tolerance=spec, corrected_as=CHEAPEST))
    assert _allowance(line).bags_share == 1.0
    assert _quantity(line, "bags").planned == _quantity(_line(), "bags").planned


def test_no_hours_of_grinding_are_allowed_for_in_keep_out_zones() -> None:
    room = _job().rooms[0]
    (x0, y0), (x1, y1) = np.min(room.outline, axis=0), np.max(room.outline, axis=0)
    half = ((x0, y0), ((x0 + x1) / 2, y0), ((x0 + x1) / 2, y1), (x0, y1))
    pipes = KeepOut(id="pipes", reason="heating-pipes", outline=half)
    kept = run(job=_job(rooms=(replace(room, keep_outs=(pipes,)),)))
    assert _quantity(kept, "grinding").planned == pytest.approx(_quantity(_line(), "grinding").planned / 2)
    assert _quantity(kept, "bags").planned == _quantity(_line(), "bags").planned
    whole = replace(pipes, outline=room.outline)
    everywhere = run(job=_job(rooms=(replace(room, keep_outs=(whole,)),)))
    assert "grinding" not in {each.code for each in _allowance(everywhere).quantities}
