"""A tiny job's plan against the exact least of what is paid, found by trying every day in every way."""

from dataclasses import dataclass
from datetime import time
from functools import cache

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.model import Crew, Firm, FirmJob, Site, Task
from slab_core.schedule.firm.plan import plan_firm
from tests.support.firms import START, task, week

STEP, DAY, SHIFT = 30, 48, 17
"""Everything is whole half hours, so that some cheapest plan is too; a day's one shift lasts 17 of them."""
LAST_DAY, NEVER = 9, 10**9
MIDNIGHT = START - START % 1440

Ends = tuple[tuple[int, int], ...]
"""When tasks ended that others wait for."""


@dataclass(frozen=True)
class Row:
    """A job's tasks one after the other: ways to do each (crew, people, length), whether it ends on its day,
    and its waits (task, length); `way` to the site and as far back."""

    ways: tuple[tuple[tuple[int, int, int], ...], ...]
    whole: tuple[bool, ...]
    waits: tuple[tuple[tuple[int, int], ...], ...]
    way: int

    @property
    def closes(self) -> int:
        """When a crew has to leave."""
        return SHIFT - self.way


def _row(firm: Firm) -> Row:
    (job,) = firm.jobs
    place = {one.id: n for n, one in enumerate(job.tasks)}
    return Row(
        ways=tuple(
            tuple(
                (n, choice.people, choice.minutes // STEP)
                for n, crew in enumerate(firm.crews)
                for choice in one.choices
                if one.skill in crew.skills and choice.people <= crew.people
            )
            for one in job.tasks
        ),
        whole=tuple(one.whole for one in job.tasks),
        waits=tuple(
            tuple((place[lag.after], lag.least_minutes // STEP) for lag in one.lags) for one in job.tasks
        ),
        way=firm.travel["", job.site] // STEP,
    )


def _exact(row: Row) -> int:
    """Least person-minutes paid: each crew's most people for as long as it is out, day by day."""

    @cache
    def from_day(day: int, task: int, left: int, way: tuple[int, int, int], ends: Ends) -> int:
        """What is paid from a day on, with `left` of a task still to do in its way."""
        if task == len(row.ways):
            return 0
        if day == LAST_DAY:
            return NEVER
        if not left:
            idle = next_day(day, task, 0, way, ends)
            return min(idle, within(day, row.way, task, ends, {}))
        crew, people, _ = way
        until = min(row.way + left, row.closes)
        out = {crew: (row.way, until, people)}
        if row.way + left > row.closes:
            return paid(out) + next_day(day, task, row.way + left - row.closes, way, ends)
        return within(day, until, task + 1, (*ends, (task, day * DAY + until)), out)

    def next_day(day: int, task: int, left: int, way: tuple[int, int, int], ends: Ends) -> int:
        """Of ends only how far they still reach, so that like days are looked at once."""
        waits = dict(sorted(wait for waits in row.waits[task:] for wait in waits))  # the longest of each
        still = tuple((one, max(end, (day + 1) * DAY - waits[one])) for one, end in ends if one in waits)
        return from_day(day + 1, task, left, way, still)

    def paid(out: dict[int, tuple[int, int, int]]) -> int:
        return sum(most * (last - first + 2 * row.way) for first, last, most in out.values())

    def within(day: int, at: int, task: int, ends: Ends, out: dict[int, tuple[int, int, int]]) -> int:
        """The rest of a day and what follows; `out` is from when until when each crew works, and how many."""
        none = (0, 0, 0)
        best = paid(out) + next_day(day, task, 0, none, ends) if out else NEVER
        if task == len(row.ways):
            return best
        known = dict(ends)
        released = max([at, *(known[after] + wait - day * DAY for after, wait in row.waits[task])])
        for start in range(released, row.closes):
            for way in row.ways[task]:
                crew, people, length = way
                end = start + length
                first, _, most = out.get(crew, (start, start, 0))
                now = out | {crew: (first, min(end, row.closes), max(most, people))}
                if end <= row.closes:
                    best = min(best, within(day, end, task + 1, (*ends, (task, day * DAY + end)), now))
                elif not row.whole[task]:
                    best = min(best, paid(now) + next_day(day, task, end - row.closes, way, ends))
        return best

    return STEP * from_day(0, 0, 0, (0, 0, 0), ())


def _firm(halves: tuple[int, int, int, int], way: int, people: int, apart: bool) -> Firm:
    """Strip, pour, edges, boards and the hand-over of one floor, which drying spreads over days. Of two crews
    the first does everything, or else each its own trade."""
    strip, pour, edges, boards = halves
    skills = ({"prepare"}, {"floors"}) if apart else ({"prepare", "floors"}, {"prepare"})
    tasks = (
        task("strip", 3 * strip, (2, 3)),
        task("pour", 1.5 * pour, (3, 3), after=(("strip", 2, None),), whole=True),
        task("edges", edges, (1, 2), after=(("pour", 18, None),)),
        task("lay", 3 * boards, (2, 3), skill="floors", after=(("pour", 44, None), ("edges", 4, None))),
        task("hand-over", 2, (1, 1), skill="floors", after=(("lay", 24, None),), whole=True),
    )
    return _one_job(tasks, way, (people, 3), skills)


def _one_job(
    tasks: tuple[Task, ...], way: int, people: tuple[int, int], skills: tuple[set[str], set[str]]
) -> Firm:
    calendar = week(shifts=((time(8), time(16, 30)),), days=7, zone="UTC")
    crews = tuple(
        Crew(id=f"crew-{n}", people=many, skills=frozenset(each), calendar=calendar)
        for n, (many, each) in enumerate(zip(people, skills, strict=True))
    )
    job = FirmJob(id="j", site="s", tasks=tasks, earliest=MIDNIGHT)
    return Firm(crews=crews, machines=(), sites=(Site(id="s"),), jobs=(job,), travel={("", "s"): STEP * way})


def _planned_at_least(firm: Firm) -> None:
    plan = plan_firm(firm=firm, from_minute=MIDNIGHT, budget=Budget())
    assert plan.paid_bound <= _exact(_row(firm)) == plan.paid_minutes


@given(
    st.tuples(st.integers(1, 5), st.integers(1, 9), st.integers(1, 6), st.integers(1, 7)),
    st.integers(0, 3),
    st.integers(3, 4),
    st.booleans(),
)
@example((1, 9, 1, 5), 1, 3, False)  # two lay later than three would, 26 minutes for each one saved
@settings(max_examples=15, deadline=None, derandomize=True)
def test_a_job_of_tasks_in_a_row_is_planned_at_the_exact_least_and_no_bound_is_above_it(
    halves: tuple[int, int, int, int], way: int, people: int, apart: bool
) -> None:
    _planned_at_least(_firm(halves, way, people, apart))


@pytest.mark.parametrize(
    ("tasks", "way", "skills"),
    [
        (  # two people begin the stripping, who are dearer than three but share the next day's journey
            (
                task("strip", 15, (2, 3)),
                task("pour", 3, (2, 2), after=(("strip", 0, None),)),
                task("edges", 0.5, (1, 1), after=(("pour", 20, None),)),
            ),
            3,
            ({"prepare", "floors"}, {"prepare"}),
        ),
        (  # the boards let an evening pass, so that the trim needs no journey of its own
            (
                task("strip", 2.5, (1, 1), whole=True),
                task("pour", 9, (2, 3), after=(("strip", 1, None),), whole=True),
                task(
                    "lay",
                    2,
                    (2, 2),
                    skill="floors",
                    after=(("pour", 0, None), ("strip", 4, None)),
                    whole=True,
                ),
                task("trim", 3, (2, 2), skill="floors", after=(("lay", 0, None),)),
            ),
            2,
            ({"floors"}, {"prepare"}),
        ),
        (  # the edges let a day pass and wait for the boards
            (
                task("pour", 3, (2, 2)),
                task("edges", 0.5, (1, 1), skill="floors", after=(("pour", 0, None),), whole=True),
                task(
                    "lay",
                    5,
                    (2, 2),
                    skill="floors",
                    after=(("edges", 1, None), ("pour", 30, None)),
                    whole=True,
                ),
            ),
            3,
            ({"floors"}, {"prepare"}),
        ),
        (  # the edges begin later on their day, just before the boards may
            (
                task("strip", 1.5, (1, 1)),
                task("pour", 12, (2, 3), skill="floors", after=(("strip", 4, None),), whole=True),
                task("edges", 2, (1, 2), after=(("pour", 0, None), ("strip", 2, None))),
                task("lay", 9, (2, 3), after=(("edges", 0, None), ("pour", 44, None))),
            ),
            2,
            ({"prepare", "floors"}, {"prepare"}),
        ),
    ],
)
def test_what_is_dear_or_late_by_itself_is_found_where_it_shares_a_journey(
    tasks: tuple[Task, ...], way: int, skills: tuple[set[str], set[str]]
) -> None:
    _planned_at_least(_one_job(tasks, way, (3, 3), skills))
