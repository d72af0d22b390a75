"""Why a job is done when it is: hand-made waits, each of which is named for what it is."""

from dataclasses import replace
from datetime import date, time, timedelta

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.model import Crew, Firm, FirmJob, Machine, Site, Task
from slab_core.schedule.firm.plan import plan_firm
from slab_core.schedule.model import Calendar
from tests.support.firms import MONDAY, START, task, week

DAY = 1440
CREW = Crew(id="a", people=2, skills=frozenset({"prepare"}), calendar=week())


def _chain(
    *tasks: Task,
    crew: Crew = CREW,
    site: Site | None = None,
    earliest: int = START,
    machines: tuple[Machine, ...] = (),
    travel: dict[tuple[str, str], int] | None = None,
) -> tuple[str, ...]:
    firm = Firm(
        crews=(crew,),
        machines=machines,
        sites=(site or Site(id="s"),),
        jobs=(FirmJob(id="j", site="s", tasks=tasks, earliest=earliest),),
        travel=travel or {},
    )
    (chain,) = plan_firm(firm=firm, from_minute=START, budget=Budget()).chains
    return chain


def _dried(hours: float) -> tuple[Task, Task]:
    return task("pour", 8.5, (1, 1)), task("edges", 1, (1, 1), after=(("pour", hours, None),))


def test_day_three_waits_for_the_second_pour_to_dry() -> None:
    first, second = task("pour-1", 8.5, (1, 1)), task("pour-2", 8.5, (1, 1), after=(("pour-1", 0, None),))
    chain = _chain(first, second, task("edges", 1, (1, 1), after=(("pour-2", 15, None),)))
    assert chain == (
        "Mon 2026-03-02 08:00: “pour 1” of job j begins as early as the job may, then for the crew's next "
        "shift.",
        "Tue 2026-03-03 08:00: “pour 2” of job j comes after “pour 1”, then for the crew's next shift.",
        "Wed 2026-03-04 08:00: “edges” of job j waits 15 h for drying after “pour 2”.",
    )


def test_holidays_and_days_on_which_the_customer_lets_nobody_in_are_named() -> None:
    calendar = week(holidays=(date(2026, 3, 3), date(2026, 3, 7)))
    shut = Site(id="s", blocked=(date(2026, 3, 4), date(2026, 3, 5), date(2026, 3, 9)))
    chain = _chain(*_dried(1), crew=replace(CREW, calendar=calendar), site=shut)
    # Saturday is no day of the crew's, and Monday the 9th comes later.
    assert chain[1] == (
        "Fri 2026-03-06 08:00: “edges” of job j waits 1 h for drying after “pour”, then for the crew's next "
        "shift (the customer lets nobody in on Wed 2026-03-04 and Thu 2026-03-05; Tue 2026-03-03 is a "
        "holiday)."
    )


def test_hours_of_the_site_are_told_from_those_of_the_crew() -> None:
    afternoons: Calendar = week(shifts=((time(13), time(17)),))
    chain = _chain(*_dried(1), site=Site(id="s", allowed=afternoons))
    assert chain[0].startswith("Mon 2026-03-02 13:00")
    assert chain[0].endswith("begins as early as the job may, then for the site's hours.")
    early = _chain(*_dried(1), site=Site(id="s", allowed=week(shifts=((time(6), time(20)),))))
    assert early[1].endswith("then for the crew's next shift.")


def test_pieces_that_follow_at_once_are_one_sentence_and_who_settles_something_keeps_his_own() -> None:
    names = [f"spread-{n}" for n in range(1, 6)]
    spreads = [
        task(name, 0.5, (1, 1), after=((before, 0, None),))
        for before, name in zip(["prime", *names], names, strict=False)
    ]
    chain = _chain(task("prime", 1, (1, 1)), *spreads)
    assert chain[1:] == (
        "Mon 2026-03-02 09:00: “spread 1” to “spread 5” of job j follow at once, 5 pieces of work.",
    )
    spreads[2] = replace(spreads[2], holds=("the crew lead signs",))
    signed = _chain(task("prime", 1, (1, 1)), *spreads)
    assert [sentence.split(": ")[1] for sentence in signed[1:]] == [
        "“spread 1” and “spread 2” of job j follow at once, 2 pieces of work.",
        "“spread 3” of job j comes after “spread 2”; the crew lead signs.",
        "“spread 4” and “spread 5” of job j follow at once, 2 pieces of work.",
    ]


def test_a_crew_with_people_to_spare_is_not_waited_for() -> None:
    # Both wait for delivery; the one who surveys until then leaves another free.
    delivered = START + 10 * 60
    chain = _chain(task("survey", 2, (1, 1)), task("lay", 1, (1, 1), not_before=delivered))
    assert chain == ("Mon 2026-03-02 10:00: “lay” of job j waits for what has to be there first.",)
    lone = _chain(
        task("survey", 2.5, (1, 1)),
        task("lay", 1, (1, 1), not_before=delivered),
        crew=replace(CREW, people=1),
    )
    assert lone[-1].startswith("Mon 2026-03-02 10:30: “lay” of job j waits for the crew")


def test_what_must_be_followed_soon_is_held_back_for_it() -> None:
    # On Monday afternoon no pour of seven hours fits any more, so priming waits for the next morning.
    chain = _chain(
        task("tear-out", 4, (1, 1)),
        task("prime", 1, (1, 1), after=(("tear-out", 0, None),)),
        task("pour", 7, (1, 1), after=(("prime", 0, 4),), whole=True),
    )
    assert chain[1].endswith("comes after “tear out”; it is held back so that “pour” follows within 4 h.")


def test_whole_work_that_no_rest_of_a_day_holds_says_so() -> None:
    chain = _chain(task("prime", 4, (1, 1)), task("pour", 6, (1, 1), after=(("prime", 0, None),), whole=True))
    assert chain[1].endswith("comes after “prime”, then for a day that it fits into whole.")
    assert chain[1].startswith(f"{MONDAY + timedelta(days=1):%a %Y-%m-%d} 08:00")


def test_a_start_that_suits_the_plan_says_when_it_could_have_been() -> None:
    # Dry at two on Monday; waiting for it would be paid, and on Tuesday it is on the way to another job.
    dried = (task("patch", 3, (1, 1)), task("clean", 1, (1, 1), after=(("patch", 2.5, None),)))
    firm = Firm(
        crews=(replace(CREW, people=1),),
        machines=(),
        sites=(Site(id="s"), Site(id="t")),
        jobs=(
            FirmJob(id="j", site="s", tasks=dried, earliest=START),
            FirmJob(id="k", site="t", tasks=(task("lay", 4, (1, 1)),), earliest=START + DAY),
        ),
        travel={("", "s"): 30, ("s", "t"): 5, ("", "t"): 30},
    )
    (chain,) = plan_firm(firm=firm, from_minute=START, budget=Budget()).chains
    assert chain[1:] == (
        "Tue 2026-03-03 08:30: “clean” of job j waits 2.5 h for drying after “patch”; it could start from "
        "Mon 2026-03-02 14:00 on and starts when it suits the plan.",
        "Tue 2026-03-03 09:35: “lay” of job k waits for the crew, before at work on “clean” of job j.",
    )
