"""Surveys of work that goes on are compared where nothing was done between them, and nowhere else."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from slab_core.correction.resurvey.common_ground import Common, common_ground
from slab_core.correction.resurvey.datum import Settled, in_one_datum
from slab_core.correction.resurvey.standing import EarlierPlan, Followed
from slab_core.correction.resurvey.works import works_of
from slab_core.errors import InputRefused
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.surveys.model import Observations, Setup, Survey
from tests.invented_floors import LIFTED, rectangle, work
from tests.real_slabs import crew_places, real_slab
from tests.sample_jobs import hump_and_hollow

FLOOR = rectangle(width_m=6.0, length_m=5.0)
X, Y = (a.ravel() for a in np.meshgrid(np.arange(0.1, 5.95, 0.4), np.arange(0.1, 4.95, 0.4)))
BEFORE = Survey(id="first visit")


@cache
def _followed() -> Followed:
    job = work(floor=FLOOR, height_m=hump_and_hollow, columns=60, compound=LIFTED)
    earlier = EarlierPlan(plan=job.plan(), began=job.surface.height, lift_m=LIFTED.greatest_lift_m)
    return Followed(estimate="first", plans=(earlier,), readings=1)


def _after(id: str = "after grinding") -> Survey:
    return Survey(id=id, after=("floor-1-grinding",))


def _ground(x: Floats, y: Floats) -> Floats:
    (plan,) = (earlier.plan for earlier in _followed().plans)
    i, j = (np.rint(at / plan.grid.step_m).astype(int) for at in (x, y))
    return np.asarray(hump_and_hollow(x, y) - plan.grind[j, i] * 1e-5)


def _read(*heights: Floats, at: tuple[tuple[Floats, Floats], ...] = ()) -> Observations:
    """Survey by survey these heights, at the usual places or at others, to 0.5 mm."""
    places = at or ((X, Y),) * len(heights)
    rng = np.random.default_rng(5)
    x, y = (np.concatenate([place[k] for place in places]) for k in (0, 1))
    value = np.concatenate(heights)
    return Observations(
        x_m=np.repeat(x[:, None], 3, axis=1),
        y_m=np.repeat(y[:, None], 3, axis=1),
        weight=np.tile([1.0, 0.0, 0.0], (len(x), 1)),
        value_m=value + rng.normal(0.0, 0.0005, len(value)),
        sd_m=np.full(len(x), 0.0005),
        position_sd_m=np.zeros(len(x)),
        pointer=tuple(
            f"/surveys/{i}/readings/0/value/{k}" for i, own in enumerate(heights) for k in range(len(own))
        ),
    )


def _common(seen: Observations, *surveys: Survey) -> tuple[Common, ...]:
    return common_ground(floor_id="floor-1", observations=seen, surveys=surveys, followed=_followed())


def _settled(seen: Observations, *surveys: Survey) -> Settled:
    common = _common(seen, *surveys)
    return in_one_datum(floor=FLOOR, observations=seen, common=common, budget=Budget())


def test_surveys_of_one_datum_stay_as_they_are_without_a_word() -> None:
    seen = _read(hump_and_hollow(X, Y), _ground(X, Y))
    found = _settled(seen, BEFORE, _after())
    assert found.problems == ()
    assert np.array_equal(found.observations.value_m, np.round(seen.value_m, 9))


@pytest.mark.parametrize(("off_m", "said"), [(0.05, "50.0 mm) higher"), (-0.003, "3.0 mm) lower")])
def test_another_datum_is_refused_with_both_names_and_how_far_they_are_apart(off_m: float, said: str) -> None:
    seen = _read(hump_and_hollow(X, Y), _ground(X, Y) + off_m)
    with pytest.raises(InputRefused) as refused:
        _settled(seen, BEFORE, _after())
    (problem,) = refused.value.problems
    assert (problem.code, problem.pointer) == ("surveys-apart", "/surveys/1")
    for part in ("“after grinding”", "“first visit”", said, "one benchmark", "in one datum"):
        assert part in problem.detail


def test_of_two_surveys_after_the_same_work_the_one_that_is_off_is_named() -> None:
    seen = _read(hump_and_hollow(X, Y), _ground(X, Y), _ground(X, Y) + 0.006)
    with pytest.raises(InputRefused) as refused:
        _settled(seen, BEFORE, _after(), _after("again"))
    assert [problem.pointer for problem in refused.value.problems] == ["/surveys/2"]


def test_a_shift_as_of_a_level_that_was_set_up_anew_is_moved_and_told() -> None:
    seen = _read(hump_and_hollow(X, Y), _ground(X, Y) + 0.0012)
    found = _settled(seen, BEFORE, _after())
    (problem,) = found.problems
    assert (problem.code, problem.severity) == ("surveys-apart", "finding")
    assert "were moved by that" in problem.detail
    moved = seen.value_m - found.observations.value_m
    assert moved[: len(X)] == pytest.approx(np.zeros(len(X)), abs=1e-9)
    assert moved[len(X) :] == pytest.approx(np.full(len(X), 0.0012), abs=0.0003)


def test_gaps_under_an_edge_have_no_datum_and_stay() -> None:
    seen = _read(hump_and_hollow(X, Y), _ground(X, Y) + 0.0012)
    weight = seen.weight.copy()
    weight[-1] = (0.5, 0.5, -1.0)
    found = _settled(replace(seen, weight=weight), BEFORE, _after())
    assert found.problems
    assert found.observations.value_m[-1] == pytest.approx(seen.value_m[-1], abs=1e-9)


def test_ground_that_was_worked_is_not_compared() -> None:
    """Where it was ground the slab is lower for a good reason: those readings are not among the compared."""
    (common,) = _common(_read(hump_and_hollow(X, Y), _ground(X, Y)), BEFORE, _after())
    (earlier,) = _followed().plans
    step_m = earlier.plan.grid.step_m
    i, j = (np.rint(at[:, 0] / step_m).astype(int) for at in (common.seen.x_m, common.seen.y_m))
    assert common.later.sum() > 20
    for one in works_of(earlier):
        assert one.kind != "grind" or not one.where[j, i].any()


def test_where_no_ground_is_shared_that_is_told_and_nothing_is_guessed() -> None:
    (plan,) = (earlier.plan for earlier in _followed().plans)
    i, j = (np.rint(at / plan.grid.step_m).astype(int) for at in (X, Y))
    on = plan.grind[j, i] > 0
    heights = hump_and_hollow(X, Y), _ground(X, Y)[on] + 0.05
    seen = _read(*heights, at=((X, Y), (X[on], Y[on])))
    found = _settled(seen, BEFORE, _after())
    assert [problem.code for problem in found.problems] == ["surveys-not-compared"]
    assert "Read three places or more" in found.problems[0].detail
    sighted = tuple(replace(one, setups=(Setup(id="a"),)) for one in (BEFORE, _after()))
    assert _settled(seen, *sighted).problems == ()


def test_a_pour_that_nobody_names_is_told_and_moves_nothing() -> None:
    """One bay stands 8 mm higher and the others as they were: no datum explains that."""
    (earlier,) = _followed().plans
    pours = [one for one in works_of(earlier) if one.kind == "pour"]
    assert len(pours) > 1
    i, j = (np.rint(at / earlier.plan.grid.step_m).astype(int) for at in (X, Y))
    poured = np.where(pours[0].where[j, i] & (earlier.plan.grind[j, i] == 0), 0.008, 0.0)
    assert poured.any()
    on = (earlier.plan.fill[j, i] > 0) & (earlier.plan.grind[j, i] == 0)
    again = (_ground(X, Y) + poured)[on]
    seen = _read(hump_and_hollow(X, Y), again, at=((X, Y), (X[on], Y[on])))
    found = _settled(seen, BEFORE, _after())
    (problem,) = found.problems
    assert (problem.severity, "not so everywhere" in problem.detail) == ("finding", True)
    assert found.observations.value_m == pytest.approx(seen.value_m, abs=1e-9)


SAME_DAY = Survey(id="same day")


def _first(off_m: Floats | float) -> Settled:
    """Two surveys before any plan, the second so much higher."""
    seen = _read(hump_and_hollow(X, Y), hump_and_hollow(X, Y) + off_m)
    common = common_ground(floor_id="floor-1", observations=seen, surveys=(BEFORE, SAME_DAY))
    return in_one_datum(floor=FLOOR, observations=seen, common=common, budget=Budget())


@pytest.mark.parametrize(("off_m", "said"), [(0.005, "5.0 mm) higher"), (-0.025, "25.0 mm) lower")])
def test_first_surveys_of_two_datums_are_refused_with_both_names_and_how_sure_that_is(
    off_m: float, said: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        _first(off_m)
    (problem,) = refused.value.problems
    assert (problem.code, problem.pointer) == ("surveys-apart", "/surveys/1")
    for part in ("floor floor-1", "“same day”", "“first visit”", said, "95 %", "one benchmark"):
        assert part in problem.detail
    assert "after" not in problem.detail.replace("“", "").split()  # there is no plan whose work it could name


def test_first_surveys_a_hair_apart_are_brought_to_the_earlier_one_and_told() -> None:
    found = _first(0.0012)
    (problem,) = found.problems
    assert (problem.code, problem.severity) == ("surveys-apart", "finding")
    assert "“same day” were moved by that" in problem.detail
    moved = _read(hump_and_hollow(X, Y), hump_and_hollow(X, Y) + 0.0012).value_m - found.observations.value_m
    assert moved[: len(X)] == pytest.approx(np.zeros(len(X)), abs=1e-9)
    assert moved[len(X) :] == pytest.approx(np.full(len(X), 0.0012), abs=0.0003)


def test_first_surveys_of_one_datum_stay_as_they_are_without_a_word() -> None:
    assert _first(0.0).problems == ()


def test_a_level_that_was_moved_half_way_is_told_and_moves_nothing() -> None:
    found = _first(np.where(X > 3.0, 0.012, 0.0))
    (problem,) = found.problems
    assert (problem.severity, "not so everywhere" in problem.detail) == ("finding", True)
    assert "from one setup" in problem.detail
    seen = _read(hump_and_hollow(X, Y), hump_and_hollow(X, Y) + np.where(X > 3.0, 0.012, 0.0))
    assert found.observations.value_m == pytest.approx(seen.value_m, abs=1e-9)


def test_a_second_survey_around_a_hump_that_the_first_shows_is_not_called_another_datum() -> None:
    around = np.hypot(X - 1.6, Y - 3.4) < 1.2
    x, y = X[around] + 0.15, Y[around] - 0.15
    seen = _read(hump_and_hollow(X, Y), hump_and_hollow(x, y), at=((X, Y), (x, y)))
    common = common_ground(floor_id="floor-1", observations=seen, surveys=(BEFORE, SAME_DAY))
    assert in_one_datum(floor=FLOOR, observations=seen, common=common, budget=Budget()).problems == ()


def test_first_surveys_are_treated_alike_before_and_after_the_plan_that_is_made_from_them() -> None:
    seen = _read(hump_and_hollow(X, Y), hump_and_hollow(X, Y) + 0.0012, _ground(X, Y))
    later = _settled(seen, BEFORE, SAME_DAY, _after()).observations.value_m
    assert later[: 2 * len(X)] == pytest.approx(_first(0.0012).observations.value_m, abs=1e-9)
    with pytest.raises(InputRefused, match="name that work in after"):
        _settled(_read(hump_and_hollow(X, Y), hump_and_hollow(X, Y) + 0.006), BEFORE, SAME_DAY)


def _rooms_apart(*heights: Floats, between: bool = False) -> tuple[Observations, tuple[Survey, ...]]:
    """A survey of either half of the floor, and one of the ground between them."""
    parts = [(X < 2.0), (X > 4.0), *([(X > 1.5) & (X < 4.5)] if between else [])]
    at = tuple((X[part], Y[part]) for part in parts)
    surveys = tuple(Survey(id=name) for name in ("left", "right", "middle")[: len(parts)])
    return _read(*(hump_and_hollow(*place) for place in at), at=at), surveys


def test_first_surveys_without_ground_in_common_are_told_unless_setups_tie_them() -> None:
    seen, surveys = _rooms_apart()

    def found(surveys: tuple[Survey, ...]) -> Settled:
        common = common_ground(floor_id="floor-1", observations=seen, surveys=surveys)
        return in_one_datum(floor=FLOOR, observations=seen, common=common, budget=Budget())

    (problem,) = found(surveys).problems
    assert (problem.code, problem.severity) == ("surveys-not-compared", "finding")
    assert problem.pointer == "/surveys/1"
    assert "“right”" in problem.detail
    assert found(tuple(replace(one, setups=(Setup(id="a"),)) for one in surveys)).problems == ()


def test_side_by_side_surveys_that_tell_no_shift_are_told_too() -> None:
    """Their nearest lines are 2 ft apart: a step between them may be the slab."""
    rng = np.random.default_rng(5001)
    slab = real_slab(rng=rng).slab
    x, y = crew_places(size=(5.0, 7.0), spacing_m=0.61)
    at = tuple((x[half], y[half]) for half in (y < 3.5, y >= 3.5))
    seen = _read(slab.height(*at[0]), slab.height(*at[1]) + 0.005, at=at)
    common = common_ground(floor_id=slab.floor.id, observations=seen, surveys=(BEFORE, SAME_DAY))
    assert [one.other for one in common] == [0]
    found = in_one_datum(floor=slab.floor, observations=seen, common=common, budget=Budget())
    assert [problem.code for problem in found.problems] == ["surveys-not-compared"]


def test_surveys_that_a_third_one_ties_together_are_compared_through_it() -> None:
    seen, surveys = _rooms_apart(between=True)
    common = common_ground(floor_id="floor-1", observations=seen, surveys=surveys)
    assert [(one.survey, one.other) for one in common] == [(2, 0), (1, 2)]
    assert in_one_datum(floor=FLOOR, observations=seen, common=common, budget=Budget()).problems == ()
