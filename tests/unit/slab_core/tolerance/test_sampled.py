"""How surely nine in ten lays keep a gap, beside how surely all of them do."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.pipeline.line import Line, run
from slab_core.stages import PLANE
from slab_core.tolerance.chance import FAIL_AT, PASS_AT
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.model import Rule, RuleReport, ToleranceSpec
from slab_core.tolerance.report import report
from tests.sample_jobs import one_room_job

GAPS_MM = (3.0, 5.0, 7.0, 9.0, 12.0)


def _rules(share: float) -> tuple[Rule, ...]:
    return tuple(Rule(length_m=3.048, gap_m=gap / 1e3, kind="gap-only", share=share) for gap in GAPS_MM)


@pytest.fixture(scope="module")
def line() -> Line:
    return run(job=replace(one_room_job(count=60), alternates=(PLANE,)))


def _found(line: Line, share: float) -> tuple[RuleReport, ...]:
    floor, surface = line.models["rooms", "job", ""].floors[0], line.models["surface", "studio", ""]
    spec = ToleranceSpec(rules=_rules(share))
    return report(floor=floor, surface=surface, profiles=(), spec=spec, budget=Budget()).rules


def test_nine_in_ten_lays_are_kept_more_surely_than_all_and_the_more_so_the_wider_the_gap(line: Line) -> None:
    chances = {
        share: [rule.chance.probability for rule in _found(line, share) if rule.chance is not None]
        for share in (0.9, 1.0)
    }
    assert len(chances[0.9]) == len(GAPS_MM)
    assert chances[0.9] == sorted(chances[0.9])
    assert np.all(np.array(chances[0.9]) >= np.array(chances[1.0]) - 0.02)
    assert max(np.array(chances[0.9]) - np.array(chances[1.0])) > 0.5


def test_the_answer_goes_by_the_chance_of_the_share(line: Line) -> None:
    answers = set()
    for rule in _found(line, 0.9):
        assert rule.chance is not None
        expected = "pass" if rule.chance.probability >= PASS_AT else "measure-more"
        assert rule.chance.verdict == ("fail" if rule.chance.probability <= FAIL_AT else expected)
        answers.add(rule.chance.verdict)
    assert {"pass", "fail"} <= answers


def test_a_concrete_class_asks_a_gap_of_all_samples_and_a_smaller_one_of_nine_in_ten() -> None:
    # ACI 117, manual straightedge, inches; from memory.
    for name, pair in {
        "conventional": (3 / 4, 1 / 2),
        "moderately-flat": (5 / 8, 3 / 8),
        "flat": (3 / 8, 1 / 4),
    }.items():
        every, most = BY_CODE[f"concrete-{name}"].rules
        assert (every.gap_m / 0.0254, most.gap_m / 0.0254) == pytest.approx(pair)
        assert (every.share, most.share) == (1.0, 0.9)
        assert every.of_class is not None
        assert every.of_class.seen == "recalled"
