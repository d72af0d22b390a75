"""What is left of each rule is told with every plan, and said aloud where placing may use it up."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.margins import thin_margins
from slab_core.correction.model import Margin, Plan
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST, LEVEL, PLANE
from slab_core.tolerance.model import Rule
from tests.invented_floors import FOOT_M, INCH_M, RULE, rectangle, work

TIGHT = Rule(length_m=20 * FOOT_M, gap_m=INCH_M / 16)


def _height_m(x: Floats, y: Floats) -> Floats:
    """A trough 12 mm deep with a hollow beside it."""
    return np.asarray(0.003 * (x - 2.0) ** 2 - 0.005 * np.exp(-((x - 3.0) ** 2 + (y - 1.0) ** 2) / 0.1))


def _planned(alternate: str, *rules: Rule) -> Plan:
    floor = rectangle(width_m=4.0, length_m=3.0)
    return work(floor=floor, height_m=_height_m, columns=40, rules=rules).plan(alternate)


@pytest.mark.parametrize("alternate", [PLANE, LEVEL, CHEAPEST])
def test_every_plan_tells_what_it_leaves_of_each_rule(alternate: str) -> None:
    planned = _planned(alternate, RULE, Rule(length_m=2 * FOOT_M, gap_m=INCH_M / 16))
    assert [margin.margin_m for margin in planned.margins] == [
        pytest.approx(report.rule.gap_m - report.largest_m) for report in planned.after
    ]
    assert all(margin.placing_sd_m >= INCH_M / 32 for margin in planned.margins)


def test_a_rule_kept_by_less_than_placing_is_off_is_said_with_both() -> None:
    planned = _planned(PLANE, RULE)
    (report,) = planned.after
    roomy, thin = (Margin(margin_m=left, placing_sd_m=INCH_M / 32) for left in (INCH_M / 32, 0.0004))
    assert thin_margins(after=planned.after, margins=(roomy,), subject="floor A") == ()
    (said,) = thin_margins(after=planned.after, margins=(thin,), subject="floor A")
    assert said.severity == "warning"
    assert "0.4 mm" in said.detail
    assert "0.8 mm" in said.detail
    assert "10'" in said.detail
    failing = replace(report, passes=False)
    assert thin_margins(after=(failing,), margins=(thin,), subject="floor A") == ()


def test_no_trowel_is_weighed_under_a_rule_that_is_tighter_than_its_error() -> None:
    planned = _planned(CHEAPEST, TIGHT)
    why = {one.name: one.why_not for one in planned.considered}
    assert planned.passes
    assert not planned.patches
    assert "too tight for a trowel" in why["by hand"]
    assert "too tight for a trowel" in why["poured in part"]


def test_a_short_rule_beside_a_long_one_leaves_patches_their_place() -> None:
    planned = _planned(CHEAPEST, RULE, Rule(length_m=2 * FOOT_M, gap_m=INCH_M / 16))
    assert "too tight" not in " ".join(one.why_not for one in planned.considered)
