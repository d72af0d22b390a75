"""What is done to a floor follows what was found on it."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.correction.sampled_rules import by_demanded
from slab_core.numerics.grid import Floats, to_steps
from slab_core.pipeline.line import Line, run
from slab_core.stages import CHEAPEST, JOB, PLANE
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.model import Rule, ToleranceReport, ToleranceSpec
from tests.sample_jobs import Truth, one_room_job


def _dish(x: Floats, y: Floats) -> Floats:
    """Metres: 13 mm deep over 3 m."""
    return np.asarray(0.006 * (x - 1.5) ** 2 + 0.0 * y)


def test_a_plan_keeps_the_rules_of_the_class_that_its_floor_has_room_for() -> None:
    spec = ToleranceSpec(rules=BY_CODE["din-18202-row-3"].rules)
    room = one_room_job(width_m=3.0, depth_m=2.5, count=60, tolerance=spec, truth=_dish)
    job = replace(room, alternates=(PLANE,))
    line = run(job=job)
    found, plan = line.models["tolerance", "studio", ""], line.models["correction", "studio", PLANE]
    assert not found.passes
    assert plan.passes
    assert [after.rule for after in plan.after] == [rule.rule for rule in found.rules]
    assert max(after.rule.length_m for after in plan.after) < 4.0


def _line(truth: Truth, *, alternate: str) -> Line:
    """Every lay has to keep 12 mm in 10 ft, nine in ten 9 mm."""
    every = Rule(length_m=3.048, gap_m=0.012, kind="gap-only")
    spec = ToleranceSpec(rules=(every, replace(every, gap_m=0.009, share=0.9)))
    job = one_room_job(width_m=8.0, depth_m=7.0, count=400, truth=truth, tolerance=spec)
    return run(job=replace(job, alternates=(alternate,)))


def _pit(x: Floats, y: Floats) -> Floats:
    """Metres: one pit 18 mm deep, about 2 m wide."""
    return np.asarray(-0.018 * np.exp(-((x - 4.0) ** 2 + (y - 3.5) ** 2) / 0.6**2))


def _waves(x: Floats, y: Floats) -> Floats:
    """Metres: 10 mm from crest to trough, 2.5 m apart."""
    return np.asarray(0.005 * np.sin(2.0 * np.pi * x / 2.5) + 0.0 * y)


@pytest.fixture(scope="module")
def pit() -> Line:
    return _line(_pit, alternate=CHEAPEST)


def test_a_gap_that_nine_in_ten_lays_keep_is_not_demanded_of_all_of_them(pit: Line) -> None:
    found, plan = pit.models["tolerance", "studio", ""], pit.models["correction", "studio", CHEAPEST]
    assert [rule.passes for rule in found.rules] == [False, True]
    assert plan.passes
    assert [after.rule for after in plan.after] == [rule.rule for rule in found.rules]
    assert [after.passes for after in plan.after] == [True, True]
    assert plan.after[1].largest_m > 0.009


def test_a_plan_that_would_break_it_is_made_again_with_the_demand(pit: Line) -> None:
    surface, report = pit.models["surface", "studio", ""], pit.models["tolerance", "studio", ""]
    plan = pit.models["correction", "studio", CHEAPEST]
    xs, ys = np.meshgrid(plan.grid.xs(), plan.grid.ys())
    wavy = replace(plan, fill=plan.fill + to_steps(_waves(xs, ys)), after=plan.after[:1])
    asked: list[int] = []

    def make(report: ToleranceReport) -> Plan:
        asked.append(len(report.rules))
        return wavy if len(report.rules) == 1 else plan

    floor = pit.models["rooms", JOB, ""].floors[0]
    assert by_demanded(make, report=report, floor=floor, surface=surface) is plan
    assert asked == [1, 2]


def test_a_gap_that_fewer_keep_is_planned_for() -> None:
    line = _line(_waves, alternate=PLANE)
    found, plan = line.models["tolerance", "studio", ""], line.models["correction", "studio", PLANE]
    assert [rule.passes for rule in found.rules] == [True, False]
    assert plan.passes
    assert plan.fill_m2 + plan.grind_m2 > 0.0
    assert plan.after[1].kept_share == 1.0
