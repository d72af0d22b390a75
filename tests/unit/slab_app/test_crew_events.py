"""A crew's events: one for each day, with names that stay, and cancelled when a later plan lacks them."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from slab_app.calendar_text import Event
from slab_app.crew_events import Told, crew_events, with_cancelled
from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.asked import FirmQuestion
from slab_core.schedule.firm.model import Crew, Firm, FirmJob, FirmPlan, Site
from slab_core.schedule.firm.plan import plan_firm
from tests.support.firms import START, ZONE, task, week

DAY = 1440
CREW = Crew(id="a", people=2, skills=frozenset({"prepare"}), calendar=week(days=7))


def _asked(earliest: int, *, hours: float = 32) -> tuple[FirmQuestion, FirmPlan]:
    """So many person-hours of two people at one site."""
    job = FirmJob(id="j", site="s", tasks=(task("grind", hours, (2, 2)),), earliest=earliest)
    firm = Firm(crews=(CREW,), machines=(), sites=(Site(id="s"),), jobs=(job,), travel={})
    question = FirmQuestion(
        ask="plan",
        crews=firm.crews,
        machines=(),
        sites=firm.sites,
        jobs=firm.jobs,
        ways=(),
        now_minute=START,
        seconds=0,
    )
    return question, plan_firm(firm=firm, from_minute=START, budget=Budget())


def _events(earliest: int, *, hours: float = 32, owner: str = "firm") -> tuple[Event, ...]:
    question, plan = _asked(earliest, hours=hours)
    return crew_events(question=question, plan=plan, crew="a", owner=owner)


def _local(minute: int) -> datetime:
    return datetime.fromtimestamp(minute * 60, UTC).astimezone(ZoneInfo(ZONE)).replace(tzinfo=None)


def test_a_visit_over_the_night_in_which_the_clocks_change_has_a_local_day_each() -> None:
    # The clocks go forward on Sunday, 8 March 2026.
    events = _events(START + 5 * DAY)
    assert [(_local(e.start_minute), _local(e.end_minute)) for e in events] == [
        (datetime(2026, 3, 7, 8), datetime(2026, 3, 7, 17)),
        (datetime(2026, 3, 8, 8), datetime(2026, 3, 8, 16)),
    ]


def test_an_event_that_is_moved_keeps_its_uid_and_that_of_another_firm_is_another() -> None:
    before, after = _events(START), _events(START + 2 * DAY)
    assert [event.uid for event in before] == [event.uid for event in after]
    assert {e.uid for e in before}.isdisjoint(e.uid for e in _events(START, owner="other"))


def test_an_event_says_how_long_it_may_wait_and_who_settles_what() -> None:
    signed = "the crew lead signs the flatness check"
    tasks = (
        task("prime", 2, (1, 1)),
        replace(task("pour", 4, (1, 1), after=(("prime", 2, 24),)), holds=(signed,)),
    )
    question, _ = _asked(START)
    question = replace(question, jobs=(replace(question.jobs[0], tasks=tasks),))
    plan = plan_firm(firm=question.firm(), from_minute=START, budget=Budget())
    primed, poured = crew_events(question=question, plan=plan, crew="a", owner="firm")
    assert primed.description == "1 of 2 people of a"
    assert poured.description.splitlines() == [
        "1 of 2 people of a",
        "begins within 24 h of the end of “prime” (drying)",
        signed,
    ]


def _told(day: int, events: tuple[Event, ...]) -> Told:
    return Told(at=datetime.fromtimestamp((START + day * DAY) * 60, UTC), events=events)


def test_a_day_that_a_later_plan_lacks_is_cancelled_once_and_one_that_was_over_is_not() -> None:
    three, two = _events(START + DAY, hours=48), _events(START + DAY, hours=32)
    assert (len(three), len(two)) == (3, 2)
    gone = replace(three[2], cancelled=True)
    assert with_cancelled([_told(1, two), _told(0, three)]) == (*two, gone)
    assert with_cancelled([_told(2, two), _told(1, two), _told(0, three)]) == (*two, gone)
    assert with_cancelled([_told(9, two), _told(0, three)]) == two
    assert with_cancelled([_told(2, three), _told(1, two), _told(0, three)]) == three
