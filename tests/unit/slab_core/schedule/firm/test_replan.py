"""Plans after a slip hold on to what was; a new job is told what it would do to the others."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.model import Absence, Crew, Firm, FirmJob, Machine, Site, Visit
from slab_core.schedule.firm.plan import plan_firm
from slab_core.schedule.firm.replan import replan_firm, what_if
from tests.support.firms import START, broken, invented_firm, task, ways_of, week

DAY = 1440
FIRMS = st.builds(
    lambda seed, own: invented_firm(seed=seed, crews=3, jobs=4, weeks=6, own_homes=own),
    st.integers(0, 10_000),
    st.booleans(),
)


def _plan(firm: Firm) -> tuple[Visit, ...]:
    return plan_firm(firm=firm, from_minute=START, budget=Budget()).visits


@given(FIRMS, st.integers(0, 40))
@settings(max_examples=8, deadline=None)
def test_a_plan_in_which_nothing_slipped_stays_as_it_is(firm: Firm, day: int) -> None:
    before = _plan(firm)
    again = replan_firm(firm=firm, before=before, now=START + day * DAY, budget=Budget())
    assert again.moves == ()
    assert again.plan.visits == before
    assert again.newly_late == ()


@given(FIRMS, st.integers(5, 30), st.integers(1, 3000))
@settings(max_examples=8, deadline=None)
def test_after_a_slip_what_has_begun_stays_and_the_rest_is_right(firm: Firm, day: int, slip: int) -> None:
    now = START + day * DAY
    planned = _plan(firm)
    begun = [visit for visit in planned if visit.start_minute < now]
    if not begun:
        return
    late = replace(begun[-1], end_minute=max(now, begun[-1].end_minute) + slip)
    before = tuple(late if visit == begun[-1] else visit for visit in planned)
    after = replan_firm(firm=firm, before=before, now=now, budget=Budget())
    new = {(visit.job, visit.task): visit for visit in after.plan.visits}
    for visit in before:
        if visit.start_minute < now:
            assert new[visit.job, visit.task] == visit
    moved = {(move.job, move.task) for move in after.moves}
    for visit in before:
        again = replace(new[visit.job, visit.task], end_minute=visit.end_minute)
        assert again == visit or (visit.job, visit.task) in moved
    # What overran may clash with what had begun already; all that has not begun must be right.
    wrong = broken(firm, after.plan.visits, travel=ways_of(firm))
    known = {(visit.job, visit.task) for visit in begun}
    mine = [text for text in wrong if not any(f"{job} {one}:" in text for job, one in known)]
    others = [text for text in mine if "two places" not in text and "people" not in text]
    assert others == [] or after.plan.overdue_minutes > 0


@given(FIRMS, st.integers(0, 30), st.integers(0, 40))
@settings(max_examples=8, deadline=None)
def test_a_new_job_breaks_nothing_where_it_is_told_to_go(firm: Firm, day: int, promised: int) -> None:
    now = START + day * DAY
    new = replace(firm.jobs[-1], promised=now + promised * DAY)
    larger, known = replace(firm, jobs=(*firm.jobs[:-1], new)), replace(firm, jobs=firm.jobs[:-1])
    before = _plan(known)
    told = what_if(firm=known, before=before, job=new, now=now, budget=Budget())
    overdue = plan_firm(firm=known, from_minute=START, budget=Budget()).overdue_minutes > 0
    travel = ways_of(larger)
    assert broken(larger, (*before, *told.visits), travel=travel) == [] or overdue or told.problems
    assert min(visit.start_minute for visit in told.visits) == told.first_start_minute >= now
    assert (told.instead is None) == (told.finish_minute <= now + promised * DAY)
    if told.instead is not None:
        plan = told.instead.plan
        assert broken(larger, plan.visits, travel=travel) == [] or plan.overdue_minutes > 0
        assert plan.late_minutes <= told.finish_minute - (now + promised * DAY) + _late(known, before)


def _late(firm: Firm, visits: tuple[Visit, ...]) -> int:
    ends = {job.id: max(v.end_minute for v in visits if v.job == job.id) for job in firm.jobs}
    return sum(max(0, ends[job.id] - job.promised) for job in firm.jobs if job.promised is not None)


def test_a_greatest_lag_of_a_new_job_that_cannot_be_kept_is_told() -> None:
    firm = _three(promised=(9, 9, 9))
    dried = task("pour", 8, (1, 1), after=(("prime", 2, 3),), whole=True)
    wet = FirmJob(id="v", site="v", tasks=(task("prime", 8, (1, 1)), dried), earliest=START)
    told = what_if(firm=firm, before=_plan(firm), job=wet, now=START, budget=Budget())
    assert [problem.code for problem in told.problems] == ["firm-lag-cannot-be-kept"]
    dry = replace(wet, tasks=(wet.tasks[0], replace(dried, lags=())))
    assert what_if(firm=firm, before=_plan(firm), job=dry, now=START, budget=Budget()).problems == ()


def _crew(*absences: Absence) -> Crew:
    return Crew(id="a", people=2, skills=frozenset({"prepare"}), calendar=week(), absences=absences)


def _day(id: str, day: int, promised_days: int) -> FirmJob:
    """A day's work for the crew, not before a day."""
    earliest = START + day * DAY
    work = (task("grind", 17, (2, 2)),)
    return FirmJob(id=id, site=id, tasks=work, earliest=earliest, promised=START + promised_days * DAY)


def _three(*absences: Absence, promised: tuple[int, int, int]) -> Firm:
    """A day each for one crew; the third could be anywhere from the third day on."""
    jobs = tuple(_day(id, day, due) for id, day, due in zip("stu", (0, 1, 2), promised, strict=True))
    sites = tuple(Site(id=id) for id in "stuv")
    return Firm(crews=(_crew(*absences),), machines=(), sites=sites, jobs=jobs, travel={})


def test_a_day_lost_moves_only_the_job_that_can_still_keep_its_promise() -> None:
    # Monday, Tuesday, Wednesday; Tuesday is lost. The second job is promised for Wednesday night, the third
    # for Friday: the second takes Wednesday, though the third had it.
    firm = _three(promised=(1, 3, 5))
    before = _plan(firm)
    lost = Absence(start_minute=START + DAY, end_minute=START + 2 * DAY, people=2)
    after = replan_firm(
        firm=_three(lost, promised=(1, 3, 5)), before=before, now=START + DAY, budget=Budget()
    )
    starts = {visit.job: (visit.start_minute - START) // DAY for visit in after.plan.visits}
    assert starts == {"s": 0, "t": 2, "u": 3}
    assert after.newly_late == ()


def test_nobody_else_moves_when_the_job_that_slipped_has_time() -> None:
    firm = _three(promised=(1, 9, 3))
    before = _plan(firm)
    lost = Absence(start_minute=START + DAY, end_minute=START + 2 * DAY, people=2)
    after = replan_firm(
        firm=_three(lost, promised=(1, 9, 3)), before=before, now=START + DAY, budget=Budget()
    )
    assert [(move.job, (move.start_minute - START) // DAY) for move in after.moves] == [("t", 3)]
    assert after.plan.late_minutes == 0


def test_what_comes_later_in_a_job_that_moves_stays_with_as_many_people_where_it_can() -> None:
    # Grinding is lost with Monday; trim was to be Thursday's, by one, though two would be through sooner.
    thursday = START + 3 * DAY
    trim = task("trim", 4, (1, 2), after=(("grind", 0, None),), not_before=thursday)
    firm = _three(promised=(9, 9, 9))
    job = replace(firm.jobs[0], tasks=(task("grind", 2, (2, 2)), trim))
    before = tuple(
        Visit(job="s", task=id, crew="a", people=people, machine="", start_minute=start, end_minute=end)
        for id, people, start, end in (
            ("grind", 2, START + 8 * 60, START + 9 * 60),
            ("trim", 1, thursday + 8 * 60, thursday + 12 * 60),
        )
    )
    lost = Absence(start_minute=START, end_minute=START + DAY, people=2)
    firm = replace(firm, crews=(_crew(lost),), jobs=(job,))
    after = replan_firm(firm=firm, before=before, now=START, budget=Budget())
    assert [(move.task, (move.start_minute - START) // DAY) for move in after.moves] == [("grind", 1)]
    assert after.plan.visits[1] == before[1]


GRINDERS = tuple(Machine(id=id, kind="grinder") for id in ("first", "second"))


def _grinding(*machines: Machine, day: int) -> tuple[Firm, tuple[Visit, ...]]:
    """A day is lost on which the job began; its grinding was to be Thursday's, with the second grinder."""
    thursday = START + 3 * DAY
    grind = task("grind", 4, (1, 1), machine="grinder", after=(("strip", 0, None),), not_before=thursday)
    firm = _three(Absence(start_minute=START, end_minute=START + day * DAY, people=2), promised=(9, 9, 9))
    job = replace(firm.jobs[0], tasks=(task("strip", 2, (2, 2)), grind))
    before = tuple(
        Visit(job="s", task=id, crew="a", people=people, machine=machine, start_minute=start, end_minute=end)
        for id, people, machine, start, end in (
            ("strip", 2, "", START + 8 * 60, START + 9 * 60),
            ("grind", 1, "second", thursday + 8 * 60, thursday + 12 * 60),
        )
    )
    return replace(firm, jobs=(job,), machines=machines), before


def test_what_stays_in_a_job_that_moves_keeps_its_machine_though_another_is_listed_first() -> None:
    firm, before = _grinding(*GRINDERS, day=1)
    after = replan_firm(firm=firm, before=before, now=START, budget=Budget())
    assert [move.task for move in after.moves] == ["strip"]
    assert after.plan.visits[1] == before[1]


def test_what_moves_takes_its_machine_along() -> None:
    firm, before = _grinding(*GRINDERS, day=4)
    after = replan_firm(firm=firm, before=before, now=START, budget=Budget())
    assert [(move.task, (move.start_minute - START) // DAY) for move in after.moves] == [
        ("strip", 4),
        ("grind", 4),
    ]
    assert after.plan.visits[1].machine == "second"


@pytest.mark.parametrize("left", [GRINDERS[:1], (GRINDERS[0], Machine(id="second", kind="vacuum"))])
def test_where_a_machine_is_gone_another_comes_at_the_same_time_and_that_is_told(
    left: tuple[Machine, ...],
) -> None:
    firm, before = _grinding(*left, day=0)
    firm = replace(firm, crews=(_crew(),))
    after = replan_firm(firm=firm, before=before, now=START, budget=Budget())
    (move,) = after.moves
    assert (move.task, move.machine_before, move.machine) == ("grind", "second", "first")
    assert after.plan.visits == (before[0], replace(before[1], machine="first"))


def test_other_people_than_before_are_told_as_a_move() -> None:
    firm = _three(promised=(9, 9, 9))
    job = replace(firm.jobs[0], tasks=(task("grind", 4, (1, 2)),))
    firm = replace(firm, jobs=(job,))
    (visit,) = _plan(firm)
    other = replace(
        firm, jobs=(replace(job, tasks=(task("grind", 4, (3 - visit.people, 3 - visit.people)),)),)
    )
    (move,) = replan_firm(firm=other, before=(visit,), now=START, budget=Budget()).moves
    assert (move.people_before, move.people) == (visit.people, 3 - visit.people)


def test_jobs_that_are_free_do_not_count_as_moved() -> None:
    firm = _three(promised=(1, 9, 9))
    before = _plan(firm)
    sooner = replace(firm, jobs=(*firm.jobs[:2], replace(firm.jobs[2], promised=START + 2 * DAY)))
    kept = replan_firm(firm=sooner, before=before, now=START, budget=Budget())
    assert kept.plan.late_minutes == kept.plan.late_bound > 0  # it may not begin before the third day
    assert kept.moves == ()
    freed = replan_firm(firm=sooner, before=before, now=START, budget=Budget(), free=frozenset("stu"))
    assert freed.plan.late_minutes == kept.plan.late_minutes


def test_a_new_job_goes_where_nobody_moves() -> None:
    firm = _three(promised=(9, 9, 9))
    before = _plan(firm)
    told = what_if(firm=firm, before=before, job=_day("v", 0, 9), now=START, budget=Budget())
    assert (told.first_start_minute - START) // DAY == 3
    assert told.instead is None


def test_a_new_job_that_would_be_late_is_told_who_would_have_to_move() -> None:
    firm = _three(promised=(9, 9, 9))
    before = _plan(firm)
    told = what_if(firm=firm, before=before, job=_day("v", 0, 1), now=START, budget=Budget())
    assert (told.first_start_minute - START) // DAY == 3
    assert told.instead is not None
    assert told.instead.plan.late_minutes == 0
    assert {move.job for move in told.instead.moves} == {"s"}


def test_a_visit_that_names_nothing_is_refused_with_its_place() -> None:
    firm = _three(promised=(9, 9, 9))
    before = _plan(firm)
    with pytest.raises(InputRefused) as refused:
        replan_firm(firm=firm, before=(replace(before[0], task="?"),), now=START, budget=Budget())
    assert refused.value.problems[0].pointer == "/before/0"
