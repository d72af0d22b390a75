"""How late a visit may start: the judge of plans agrees, and hand-made cases have just so much room."""

from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.model import Crew, Firm, FirmJob, FirmPlan, Site, Visit
from slab_core.schedule.firm.plan import plan_firm
from tests.support.firms import START, broken, invented_firm, task, ways_of, week, worked_from


def _at_once() -> Budget:
    return Budget(deadline_s=0.0)


@given(st.integers(0, 10_000), st.booleans())
@settings(max_examples=6, deadline=None)
def test_every_visit_may_start_as_late_as_said(seed: int, own_homes: bool) -> None:
    firm = invented_firm(seed=seed, crews=3, jobs=4, weeks=6, own_homes=own_homes)
    plan = plan_firm(firm=firm, from_minute=START, budget=_at_once())
    if plan.overdue_minutes:
        return
    ways = ways_of(firm)
    late = _late(firm, plan.visits)
    for n in range(seed % 4, len(plan.visits), 4):
        visit, latest = plan.visits[n], plan.latest_start_minute[n]
        other = worked_from(firm, visit, latest, travel=ways)
        visits = (*plan.visits[:n], other, *plan.visits[n + 1 :])
        assert broken(firm, visits, travel=ways) == []
        assert _late(firm, visits) == late


def _late(firm: Firm, visits: tuple[Visit, ...]) -> dict[str, int]:
    due = {job.id: job.promised or 0 for job in firm.jobs}
    return {job: max(0, max(v.end_minute for v in visits if v.job == job) - due[job]) for job in due}


def _line(promised_hours: float | None) -> FirmPlan:
    """Two hours, a day's drying, two hours more, by one person in sight of the yard."""
    tasks = (task("pour", 2, (1, 1)), task("edges", 2, (1, 1), after=(("pour", 24, None),)))
    promised = None if promised_hours is None else START + round(promised_hours * 60)
    firm = Firm(
        crews=(Crew(id="a", people=1, skills=frozenset({"prepare"}), calendar=week()),),
        machines=(),
        sites=(Site(id="s"),),
        jobs=(FirmJob(id="j", site="s", tasks=tasks, earliest=START, promised=promised),),
        travel={},
    )
    return plan_firm(firm=firm, from_minute=START, budget=Budget())


def test_a_chain_has_as_much_room_as_its_promise_leaves() -> None:
    # Monday 8 to 10, drying until Tuesday 10, then to Tuesday noon; promised for Tuesday 17:00.
    plan = _line(24 + 17)
    starts = [visit.start_minute for visit in plan.visits]
    assert [at - START for at in starts] == [8 * 60, 34 * 60]
    assert [at - START for at in plan.latest_start_minute] == [8 * 60, 39 * 60]


def test_a_late_job_has_no_room_and_an_unpromised_one_ends_when_it_likes() -> None:
    late = _line(24 + 11)
    assert list(late.latest_start_minute) == [visit.start_minute for visit in late.visits]
    free = _line(None)
    assert free.latest_start_minute[0] == free.visits[0].start_minute
    assert free.latest_start_minute[1] > free.visits[1].start_minute + 7 * 1440
