"""The tolerance stage on surfaces made by hand."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, to_metres
from slab_core.rooms.model import Floor
from slab_core.surface.area import nodes_inside
from slab_core.surface.model import Surface
from slab_core.surveys.model import Profile
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.model import Rule, ToleranceReport, ToleranceSpec
from slab_core.tolerance.report import report
from slab_core.tolerance.warm import warm
from tests.slabs import Height, floor_of, rectangle
from tests.surfaces import known_surface

TEN_FT = Rule(length_m=3.048, gap_m=3 / 16 * 0.0254)


def _read(
    surface: Surface, *, apart: float, claimed: float = 0.0003, fitted: float | None = None, upto: float = 1e9
) -> Surface:
    """The surface as if it had been read in squares of that side, as far as x = `upto`."""
    xs, ys = (
        np.linspace(low + 0.1, high - 0.1, round((high - low - 0.2) / apart) + 1)
        for low, high in ((0.0, surface.grid.xs()[-1]), (0.0, surface.grid.ys()[-1]))
    )
    x, y = (axis.ravel() for axis in np.meshgrid(xs[xs <= upto], ys))
    nothing = np.zeros((len(x), 2))
    spline = replace(
        surface.spline,
        obs_x_m=np.column_stack([x, nothing]),
        obs_y_m=np.column_stack([y, nothing]),
        obs_weight=np.column_stack([np.ones(len(x)), nothing]),
        obs_value_m=np.zeros(len(x)),
        obs_sd_m=np.full(len(x), claimed if fitted is None else fitted),
        obs_claimed_m=np.full(len(x), claimed),
    )
    error = np.full_like(surface.error, 100)
    return replace(surface, spline=spline, error=error, observations_used=len(x))


def _of(surface: Surface, *, floor: Floor, spec: ToleranceSpec) -> ToleranceReport:
    return report(floor=floor, surface=surface, profiles=(), spec=spec, budget=Budget())


def _report(
    *, floor: Floor, height: Height, spec: ToleranceSpec | None = None, lines: tuple[Profile, ...] = ()
) -> ToleranceReport:
    return report(
        floor=floor,
        surface=known_surface(floor=floor, height=height),
        profiles=lines,
        spec=spec or ToleranceSpec(rules=(TEN_FT,)),
        budget=Budget(),
    )


def _bump(x0: float, y0: float, size: float) -> Height:
    def height(x: Floats, y: Floats) -> Floats:
        return np.asarray(size * np.maximum(0.0, 1.0 - np.hypot(x - x0, y - y0) / 0.6))

    return height


def test_two_humps_are_two_places_the_larger_first_with_two_walls_each() -> None:
    one, two = _bump(1.5, 2.0, 0.010), _bump(4.5, 5.0, 0.008)
    found = _report(floor=rectangle(6.0, 7.0), height=lambda x, y: one(x, y) + two(x, y))
    (rule,) = found.rules
    assert not found.passes
    assert not rule.passes
    assert found.verdict == "fail"
    peaks = [place for place in rule.worst if place.side == "rise"]
    assert [p.at for p in peaks[:2]] == [pytest.approx((1.5, 2.0)), pytest.approx((4.5, 5.0))]
    assert peaks[0].departure_m == pytest.approx(rule.largest_m)
    assert rule.largest_m == pytest.approx(0.010, abs=0.0003)
    for place, near in ((peaks[0], {1.5, 2.0}), (peaks[1], {1.5, 2.0})):
        assert {round(w.distance_m, 6) for w in place.walls} == near
        assert all(w.room == "A" for w in place.walls)
    for a in rule.worst:
        for b in rule.worst:
            assert a is b or np.hypot(a.at[0] - b.at[0], a.at[1] - b.at[1]) >= 1.0
    assert rule.departure.shape == (71, 61)
    assert to_metres(rule.departure).max() == pytest.approx(rule.largest_m, abs=0.51e-5)
    assert 0.0 < rule.failing_share < 0.2


def test_a_flat_tilted_floor_passes_flatness_and_shows_its_fall() -> None:
    found = _report(floor=rectangle(4.0, 5.0), height=lambda x, y: np.asarray(0.005 * x - 0.002 * y))
    assert found.passes
    assert found.rules[0].largest_m < 2e-5
    assert found.rules[0].failing_share == 0.0
    assert found.fall_m == pytest.approx(0.030, abs=1e-5)
    assert (found.slope_x, found.slope_y) == pytest.approx((0.005, -0.002), abs=1e-6)


def test_level_is_asked_for_apart_from_flatness() -> None:
    tilted: Height = lambda x, y: np.asarray(0.005 * x + 0.0 * y)  # noqa: E731  # one shape for two specs
    for level, passes in ((0.019, False), (0.0201, True)):
        spec = ToleranceSpec(rules=(TEN_FT,), level_m=level)
        found = _report(floor=rectangle(4.0, 5.0), height=tilted, spec=spec)
        assert found.passes is passes
        assert found.verdict == ("pass" if passes else "fail")


@pytest.mark.parametrize(("level_m", "verdict"), [(0.017, "fail"), (0.019, "measure-more"), (0.023, "pass")])
def test_a_fall_near_the_level_asked_for_is_to_be_measured_again(level_m: float, verdict: str) -> None:
    # A fall of 20 mm between heights known to 0.7 mm is known to 2·√2·0.7 = 2.0 mm.
    floor = rectangle(4.0, 5.0)
    surface = known_surface(floor=floor, height=lambda x, y: np.asarray(0.005 * x + 0.0 * y))
    surface = replace(_read(surface, apart=0.3), error=np.full_like(surface.error, 700))
    spec = ToleranceSpec(rules=(replace(TEN_FT, gap_m=0.05),), level_m=level_m)
    found = _of(surface, floor=floor, spec=spec)
    assert found.verdict == found.level_verdict == verdict
    asked = [p for p in found.problems if p.code == "level-not-proven"]
    assert len(asked) == (verdict == "measure-more")
    for problem in asked:
        assert "at wall 2-3" in problem.detail
        assert "at wall 4-1" in problem.detail


def test_a_floor_of_which_a_part_is_not_read_is_neither_level_nor_out_of_level() -> None:
    floor = rectangle(8.0, 4.0)
    flat = known_surface(floor=floor, height=lambda x, y: np.asarray(0.0 * x * y))
    spec = ToleranceSpec(rules=(replace(TEN_FT, gap_m=0.05),), level_m=0.01)
    assert _of(_read(flat, apart=0.5), floor=floor, spec=spec).level_verdict == "pass"
    found = _of(_read(flat, apart=0.5, upto=6.0), floor=floor, spec=spec)
    assert found.level_verdict == "measure-more"
    (problem,) = [p for p in found.problems if p.code == "level-not-proven"]
    assert "at wall 2-3" in problem.detail
    assert "the nearest reading is" in problem.detail


def test_a_floor_asked_to_be_level_that_is_not_says_so_with_both_amounts() -> None:
    spec = ToleranceSpec(rules=(TEN_FT,), level_m=0.019)
    found = _report(floor=rectangle(4.0, 5.0), height=lambda x, y: np.asarray(0.005 * x + 0.0 * y), spec=spec)
    (problem,) = found.problems
    assert (problem.code, problem.severity, problem.pointer) == ("level-not-met", "finding", "/tolerance")
    assert '25/32" (20.0 mm)' in problem.detail
    assert '3/4" (19.0 mm)' in problem.detail


def test_f_numbers_that_are_measured_and_too_low_are_named() -> None:
    spec = ToleranceSpec(rules=(TEN_FT,), f_numbers=(60.0, 20.0))
    flat: Height = lambda x, y: np.asarray(0.0 * x * y)  # noqa: E731  # as above
    wavy = 0.003 * np.sin(np.arange(20.0))
    line = Profile(id="1", start=(1, 0), end=(1, 6), spacing_m=0.3048, height_m=wavy)
    found = _report(floor=rectangle(6.0, 7.0), height=flat, spec=spec, lines=(line,))
    assert not found.passes
    assert "f-numbers-not-met" in [p.code for p in found.problems]


@pytest.mark.parametrize(("claimed", "fitted", "proven"), [(0.0007, 0.0007, True), (0.0021, 0.0003, False)])
def test_an_instrument_too_rough_for_the_rule_never_gives_a_pass_however_quiet_its_readings(
    claimed: float, fitted: float, proven: bool
) -> None:
    # Two sd of a departure of three heights: 2·√1.5·sd is 1.7 and 5.1 mm, the rule allows 4.8.
    floor = rectangle(4.0, 5.0)
    surface = known_surface(floor=floor, height=lambda x, y: np.asarray(0.0 * x * y))
    surface = _read(surface, apart=0.1, claimed=claimed, fitted=fitted)
    found = _of(surface, floor=floor, spec=ToleranceSpec(rules=(TEN_FT,)))
    assert found.passes
    assert [p.code for p in found.problems] == ([] if proven else ["pass-not-proven"])
    (rule,) = found.rules
    assert rule.chance is not None
    assert rule.chance.probability == 1.0
    assert found.verdict == rule.chance.verdict == ("pass" if proven else "measure-more")


@pytest.mark.parametrize(("apart", "proven"), [(1.4, True), (1.8, False)])
def test_a_pass_between_readings_farther_apart_than_half_the_edge_is_unproven(
    apart: float, proven: bool
) -> None:
    # In the middle of four readings the nearest is 1.0 and 1.3 m away; for the edge of 10 ft 1.08 m will do.
    floor = rectangle(9.2, 9.2)
    surface = _read(known_surface(floor=floor, height=lambda x, y: np.asarray(0.0 * x * y)), apart=apart)
    found = _of(surface, floor=floor, spec=ToleranceSpec(rules=(replace(TEN_FT, gap_m=0.1),)))
    assert [p.code for p in found.problems] == ([] if proven else ["pass-not-proven"])
    assert found.verdict == ("pass" if proven else "measure-more")


def test_problems_of_two_floors_are_told_apart_by_the_floors_names() -> None:
    spec = ToleranceSpec(rules=(TEN_FT,), level_m=0.019)
    tilted: Height = lambda x, y: np.asarray(0.005 * x + 0.0 * y)  # noqa: E731  # as above
    for name in ("den", "hall"):
        floor = replace(rectangle(4.0, 5.0), id=name)
        assert all(
            p.detail.startswith(f"floor {name}: ")
            for p in _report(floor=floor, height=tilted, spec=spec).problems
        )


def test_a_broad_crown_fails_both_ways_and_passes_where_only_the_gap_counts() -> None:
    # 18 ft wide, falling 3/4 in to both long walls: 0.231 in in 10 ft (parabola: 0.75·(5/9)²).
    half, drop = 9 * 0.3048, 0.75 * 0.0254
    floor = rectangle(18 * 0.3048, 20 * 0.3048)
    crown: Height = lambda x, y: np.asarray(-drop * ((x - half) / half) ** 2 + 0.0 * y)  # noqa: E731  # as above
    spec = ToleranceSpec(rules=(TEN_FT, replace(TEN_FT, kind="gap-only")))
    found = _report(floor=floor, height=crown, spec=spec)
    both, gap_only = found.rules
    assert both.largest_m == pytest.approx(0.2315 * 0.0254, rel=0.01)
    assert not both.passes
    assert both.worst[0].side == "rise"
    assert gap_only.passes
    assert gap_only.largest_m < 2e-5


def test_an_edge_longer_than_the_room_says_what_was_used() -> None:
    spec = ToleranceSpec(rules=(Rule(length_m=6.096, gap_m=0.0016),))
    found = _report(floor=rectangle(3.0, 4.0), height=lambda x, y: np.asarray(0.0 * x * y), spec=spec)
    assert 4.0 < found.rules[0].used_length_m <= 5.0
    codes = {p.code: p for p in found.problems}
    assert codes["straightedge-longer-than-room"].severity == "warning"
    assert codes["long-rule-alone"].severity == "warning"


def test_a_long_and_a_short_rule_together_need_no_warning() -> None:
    spec = ToleranceSpec(rules=BY_CODE["premium-20ft"].rules)
    found = _report(floor=rectangle(7.0, 7.0), height=lambda x, y: np.asarray(0.0 * x * y), spec=spec)
    assert "long-rule-alone" not in [p.code for p in found.problems]


def test_a_lip_passes_a_long_rule_and_fails_the_short_one() -> None:
    lip: Height = lambda x, y: np.asarray(0.0012 * (x > 3.04) + 0.0 * y)  # noqa: E731  # as above
    spec = ToleranceSpec(rules=BY_CODE["premium-20ft"].rules)
    long_rule, short_rule = _report(floor=rectangle(7.0, 7.0), height=lip, spec=spec).rules
    assert long_rule.passes
    assert not short_rule.passes


def test_f_numbers_asked_for_but_not_measured_are_not_met() -> None:
    spec = ToleranceSpec(rules=(TEN_FT,), f_numbers=(25.0, 20.0))
    flat: Height = lambda x, y: np.asarray(0.0 * x * y)  # noqa: E731  # as above
    found = _report(floor=rectangle(6.0, 7.0), height=flat, spec=spec)
    assert not found.passes
    assert [p.code for p in found.problems] == ["f-numbers-not-measured"]
    line = Profile(id="1", start=(1, 0), end=(1, 6), spacing_m=0.3048, height_m=np.zeros(20))
    assert _report(floor=rectangle(6.0, 7.0), height=flat, spec=spec, lines=(line,)).passes


def test_a_turned_corridor_too_narrow_for_a_test_section_is_named() -> None:
    # 2 m (6.6 ft) by 20 m at 45°: its bounding box is 15.6 m a side.
    side, end = 20.0 / 2**0.5, 2.0 / 2**0.5
    corridor = floor_of(shell=((end, 0), (end + side, side), (side, side + end), (0, end)))
    flat: Height = lambda x, y: np.asarray(0.0 * x * y)  # noqa: E731  # as above
    line = Profile(id="1", start=(2, 2), end=(6, 6), spacing_m=0.3048, height_m=np.zeros(20))
    found = _report(floor=corridor, height=flat, lines=(line,))
    assert found.f_numbers is not None
    assert "its shorter side is 6.6 ft of at least 8 ft" in found.f_numbers.notes


def test_a_floor_that_passes_still_names_its_worst_places() -> None:
    found = _report(floor=rectangle(5.0, 5.0), height=_bump(2.0, 3.0, 0.003))
    (rule,) = found.rules
    assert rule.passes
    assert 1 <= len(rule.worst) <= 3
    assert rule.worst[0].at == pytest.approx((2.0, 3.0))


def test_nodes_off_the_floor_do_not_matter() -> None:
    floor = rectangle(3.0, 3.0)
    grid = Grid(x0_m=-0.2, y0_m=-0.2, step_m=0.2, nx=18, ny=18)
    inside = nodes_inside(floor=floor, grid=grid)
    assert 0 < inside.sum() < inside.size
    heights = np.where(inside, 0.0, np.nan)
    (rule,) = check_heights(floor=floor, grid=grid, heights_m=heights, inside=inside, rules=(TEN_FT,))
    assert rule.largest_m == 0.0
    assert rule.passes
    assert rule.worst == ()


def test_a_cut_made_by_a_correction_is_checked_the_same_way() -> None:
    floor = rectangle(5.0, 5.0)
    surface = known_surface(floor=floor, height=_bump(2.0, 3.0, 0.010))
    whole = to_metres(surface.height)
    before, after = (
        check_heights(floor=floor, grid=surface.grid, heights_m=z, inside=surface.inside, rules=(TEN_FT,))[0]
        for z in (whole, np.minimum(whole, 0.003))
    )
    assert not before.passes
    assert after.passes


def test_warming_up_runs() -> None:
    warm()
