"""The firm's schedule: what every plan must keep, hand-made cases, and what cannot be planned."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.model import Absence, Crew, Firm, FirmJob, FirmPlan, Machine, Site, Task, Visit
from slab_core.schedule.firm.plan import plan_firm
from slab_core.schedule.model import Calendar
from tests.support.firms import MONDAY, START, ZONE, broken, invented_firm, minute, task, ways_of, week


@given(st.integers(0, 10_000), st.booleans())
@settings(max_examples=12, deadline=None)
def test_no_crew_or_machine_is_in_two_places_and_every_hour_and_lag_is_kept(
    seed: int, own_homes: bool
) -> None:
    firm = invented_firm(seed=seed, crews=3, jobs=4, weeks=6, own_homes=own_homes)
    plan = plan_firm(firm=firm, from_minute=START, budget=Budget())
    ways = ways_of(firm)
    wrong = broken(firm, plan.visits, travel=ways)
    assert wrong == [] or plan.overdue_minutes > 0
    assert (plan.overdue_minutes > 0) == bool(plan.problems)
    assert plan.late_minutes >= plan.late_bound >= 0
    assert plan.paid_minutes >= plan.paid_bound >= plan.work_minutes
    assert plan.paid_minutes >= plan.work_minutes + plan.travel_minutes


def _crew(id: str = "a", people: int = 2, calendar: Calendar | None = None, *skills: str) -> Crew:
    return Crew(id=id, people=people, skills=frozenset(skills or {"prepare"}), calendar=calendar or week())


def _firm(
    *tasks: Task,
    crew: Crew | None = None,
    site: Site | None = None,
    travel: dict[tuple[str, str], int] | None = None,
) -> Firm:
    job = FirmJob(id="j", site="s", tasks=tasks, earliest=START)
    return Firm(
        crews=(crew or _crew(),),
        machines=(),
        sites=(site or Site(id="s"),),
        jobs=(job,),
        travel=travel or {},
    )


def _plan(firm: Firm, start: int = START) -> FirmPlan:
    return plan_firm(firm=firm, from_minute=start, budget=Budget())


def _at(visit: Visit) -> tuple[datetime, datetime]:
    zone = ZoneInfo(ZONE)
    start, end = (
        datetime.fromtimestamp(m * 60, tz=UTC).astimezone(zone).replace(tzinfo=None)
        for m in (visit.start_minute, visit.end_minute)
    )
    return start, end


def test_work_goes_on_over_breaks_and_nights_and_the_way_is_driven_each_day() -> None:
    # Two people, 16 h of work for each: 8:30 to 16:30 less the break is 7.5 h a day with 30 min each way.
    firm = _firm(task("grind", 32, (2, 2)), travel={("", "s"): 30})
    plan = _plan(firm)
    assert _at(plan.visits[0]) == (datetime(2026, 3, 2, 8, 30), datetime(2026, 3, 4, 9, 30))
    # Two days of 7.5 h and one of 1 h, each with an hour's driving, for two people.
    assert plan.paid_minutes == 2 * (16 * 60 + 3 * 60)
    assert (plan.work_minutes, plan.travel_minutes) == (2 * 16 * 60, 2 * 3 * 60)


def test_a_crew_sets_out_from_its_own_home_and_the_others_from_the_yard() -> None:
    # From home to the site it takes 15 min and 45 back, from the yard 60 each way: the crew of the yard has
    # 6.5 h a day there, that from home is there from 8:15 to 16:15 less the break.
    firm = _firm(task("grind", 15, (2, 2)), travel={("", "s"): 60, ("far", "s"): 15, ("s", "far"): 45})
    crews = (_crew("a"), replace(_crew("b"), home="far"))
    plan = _plan(replace(firm, crews=crews))
    assert plan.visits[0].crew == "b"
    assert _at(plan.visits[0]) == (datetime(2026, 3, 2, 8, 15), datetime(2026, 3, 2, 16, 15))
    assert (plan.paid_minutes, plan.travel_minutes) == (2 * 510, 2 * 60)
    assert plan.paid_bound == plan.paid_minutes


def test_a_crew_that_lives_at_the_site_does_not_travel() -> None:
    firm = _firm(task("grind", 34, (2, 2)), crew=replace(_crew(), home="s"), travel={("", "s"): 60})
    plan = _plan(firm)
    assert _at(plan.visits[0]) == (datetime(2026, 3, 2, 8), datetime(2026, 3, 3, 17))
    assert plan.travel_minutes == 0
    assert plan.paid_minutes == plan.paid_bound == plan.work_minutes


def test_drying_runs_through_the_night_in_which_the_clocks_change() -> None:
    # The clocks go forward on 8 March 2026 at 2:00: Saturday 17:00 and 40 elapsed hours are Monday 10:00.
    firm = _firm(
        task("pour", 8.5, (1, 1), whole=True),
        task("edges", 1, (1, 1), after=(("pour", 40, None),)),
        crew=_crew("a", 2, week(days=7)),
    )
    saturday = minute(MONDAY + timedelta(days=5))
    plan = _plan(replace(firm, jobs=(replace(firm.jobs[0], earliest=saturday),)))
    assert _at(plan.visits[0])[1] == datetime(2026, 3, 7, 17)
    assert _at(plan.visits[1])[0] == datetime(2026, 3, 9, 10)


def test_a_holiday_of_the_crew_and_a_blocked_day_of_the_customer_are_left_out() -> None:
    crew = _crew("a", 2, week(holidays=(date(2026, 3, 2),)))
    plan = _plan(_firm(task("grind", 8), crew=crew, site=Site(id="s", blocked=(date(2026, 3, 3),))))
    assert _at(plan.visits[0])[0] == datetime(2026, 3, 4, 8)


def test_a_site_in_another_zone_is_worked_in_its_own_hours() -> None:
    # 9:00 to 15:00 in New York is 8:00 to 14:00 here.
    hours = week(shifts=((time(9), time(15)),), zone="America/New_York")
    plan = _plan(_firm(task("grind", 13, (2, 2)), site=Site(id="s", allowed=hours)))
    assert _at(plan.visits[0]) == (datetime(2026, 3, 2, 8), datetime(2026, 3, 3, 9))


def test_people_of_a_crew_share_out_over_one_site_and_wait_for_those_who_are_away() -> None:
    absence = Absence(start_minute=START, end_minute=START + 1440, people=1)
    tasks = (task("pour", 6, (3, 3), whole=True), task("survey", 1, (1, 1)))
    crew = replace(_crew("a", 4), absences=(absence,))
    # It costs less to survey on another day, when one comes alone; so it is promised for Monday noon.
    (job,) = _firm(*tasks).jobs
    jobs = (replace(job, promised=START + 12 * 60),)
    plan = _plan(replace(_firm(crew=crew), jobs=jobs))
    # Three of four pour on Monday; nobody is left for the survey until they are through.
    assert _at(plan.visits[0])[0] == datetime(2026, 3, 2, 8)
    assert _at(plan.visits[1])[0] == datetime(2026, 3, 2, 10)
    there = _plan(replace(_firm(crew=_crew("a", 4)), jobs=jobs))
    assert _at(there.visits[1])[0] == datetime(2026, 3, 2, 8)
    another_day = _plan(_firm(*tasks, crew=_crew("a", 4)))
    assert (another_day.paid_minutes, there.paid_minutes) == (3 * 120 + 60, 4 * 120)


def _two(*machines: Machine, crews: int = 2, promised: int | None = None) -> Firm:
    """Two jobs of half a day that want a grinder, an hour apart and half an hour from the yard."""
    work = (task("grind", 4, (1, 1), machine="grinder"),)
    return Firm(
        crews=tuple(_crew(f"crew-{n}", 2) for n in range(crews)),
        machines=machines,
        sites=(Site(id="s"), Site(id="t")),
        jobs=tuple(FirmJob(id=s, site=s, tasks=work, earliest=START, promised=promised) for s in ("s", "t")),
        travel={("s", "t"): 60, ("", "s"): 30, ("", "t"): 30},
    )


def test_one_machine_is_carried_from_site_to_site_and_two_are_not() -> None:
    # On Tuesday at eleven the second is done only if the grinder is carried over on Monday.
    tuesday = START + (24 + 11) * 60
    one = _plan(_two(Machine(id="g", kind="grinder"), promised=tuesday))
    first, second = sorted(_at(visit) for visit in one.visits)
    assert first == (datetime(2026, 3, 2, 8, 30), datetime(2026, 3, 2, 13))
    assert second[0] == datetime(2026, 3, 2, 14)
    two = _plan(_two(Machine(id="g", kind="grinder"), Machine(id="h", kind="grinder")))
    assert {_at(visit)[0] for visit in two.visits} == {datetime(2026, 3, 2, 8, 30)}


def test_a_job_that_is_promised_first_is_done_first() -> None:
    firm = _two(Machine(id="g", kind="grinder"), crews=1)
    for promised in ("s", "t"):
        jobs = tuple(
            replace(job, promised=START + (14 if job.id == promised else 36) * 60) for job in firm.jobs
        )
        plan = _plan(replace(firm, jobs=jobs))
        assert min(plan.visits, key=lambda visit: visit.start_minute).job == promised
        assert plan.late_minutes == plan.late_bound == 0


def test_lateness_that_nothing_could_prevent_is_proven() -> None:
    edges = replace(task("edges", 1, (1, 1), after=(("pour", 24, None),)), holds=("the customer signs",))
    firm = _firm(task("pour", 8.5, (1, 1)), edges)
    promised = minute(datetime(2026, 3, 3, 12, tzinfo=ZoneInfo(ZONE)))
    plan = _plan(replace(firm, jobs=(replace(firm.jobs[0], promised=promised),)))
    assert _at(plan.visits[1])[0] == datetime(2026, 3, 4, 8)
    assert plan.late_minutes == plan.late_bound == 21 * 60
    assert "waits 24 h for drying after “pour”" in plan.chains[0][-1]
    assert plan.chains[0][-1].endswith("; the customer signs.")


def test_a_greatest_lag_is_kept_by_starting_later() -> None:
    # Primed at once it would wait over the night for a pour that fits on no rest of a day.
    firm = _firm(
        task("tear-out", 4, (1, 1)),
        task("prime", 1, (1, 1), after=(("tear-out", 0, None),)),
        task("pour", 7, (1, 1), after=(("prime", 0, 4),), whole=True),
    )
    plan = _plan(firm)
    assert [_at(visit)[0].day for visit in plan.visits] == [2, 3, 3]
    assert plan.overdue_minutes == 0


def test_a_greatest_lag_that_cannot_be_kept_is_a_finding_with_its_place() -> None:
    firm = _firm(task("prime", 8, (1, 1)), task("pour", 8, (1, 1), after=(("prime", 2, 3),), whole=True))
    plan = _plan(firm)
    assert plan.problems[0].code == "firm-lag-cannot-be-kept"
    assert plan.problems[0].pointer == "/jobs/0/tasks/1/lags/0"
    assert plan.overdue_minutes > 0


WRONG = {
    "/jobs/0/site": lambda f: replace(f, sites=()),
    "/crews/0/people": lambda f: replace(f, crews=(replace(f.crews[0], people=0),)),
    "/jobs/0/tasks/0": lambda f: replace(f, crews=(replace(f.crews[0], skills=frozenset()),)),
    "/jobs/0/tasks/0/machine": lambda f: _firm(task("grind", 1, machine="grinder")),
    "/jobs/0/tasks/0/lags/0": lambda f: _firm(task("grind", 1, after=(("survey", 0, None),))),
    "/jobs/0/tasks": lambda f: _firm(),
    "/jobs/1": lambda f: replace(f, jobs=f.jobs * 2),
    "/travel/ s": lambda f: replace(f, travel={("", "s"): -1}),
    "/travel": lambda f: replace(
        f, sites=(*f.sites, Site(id="t"), Site(id="u")), travel={("", "s"): 1, ("t", "u"): 1}
    ),
    "/travel/ nowhere": lambda f: replace(f, travel={("", "nowhere"): 1}),
    "/jobs": lambda f: _firm(task("pour", 9, (1, 1), whole=True)),
}


@pytest.mark.parametrize("pointer", WRONG)
def test_what_cannot_be_planned_is_refused_with_its_place(pointer: str) -> None:
    with pytest.raises(InputRefused) as refused:
        _plan(WRONG[pointer](_firm(task("grind", 1))))
    assert pointer in [problem.pointer for problem in refused.value.problems]


def test_a_home_that_no_way_leads_to_is_refused_by_name() -> None:
    with pytest.raises(InputRefused, match="'far'") as refused:
        _plan(_firm(task("grind", 1), crew=replace(_crew(), home="far"), travel={("", "s"): 1}))
    assert [problem.pointer for problem in refused.value.problems] == ["/travel"]


def test_a_firm_without_jobs_has_an_empty_plan() -> None:
    assert _plan(replace(_firm(task("grind", 1)), jobs=())).visits == ()
