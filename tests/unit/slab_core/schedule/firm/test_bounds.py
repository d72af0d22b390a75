"""The bound of what is paid: reached where a plan wastes nothing, and below every plan that can be found."""

from dataclasses import replace
from datetime import time
from math import hypot

from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.arrays import arrays_of
from slab_core.schedule.firm.bounds import least_paid
from slab_core.schedule.firm.model import Crew, Firm, FirmJob, FirmPlan, Site
from slab_core.schedule.firm.plan import plan_firm
from tests.support.firms import START, task, week

ALONE = Crew(id="a", people=1, skills=frozenset({"prepare"}), calendar=week())


def _firm(travel: dict[tuple[str, str], int], hours: dict[str, float], crew: Crew) -> Firm:
    """A job of so many hours at each site."""
    return Firm(
        crews=(crew,),
        machines=(),
        sites=tuple(Site(id=site) for site in hours),
        jobs=tuple(
            FirmJob(id=site, site=site, tasks=(task("grind", much, (1, 1)),), earliest=START)
            for site, much in hours.items()
        ),
        travel=travel,
    )


def _plan(travel: dict[tuple[str, str], int], hours: dict[str, float], crew: Crew = ALONE) -> FirmPlan:
    return plan_firm(firm=_firm(travel, hours, crew), from_minute=START, budget=Budget())


def test_full_days_at_one_site_are_proven_best() -> None:
    # 8.5 h of shifts less an hour of driving: 7.5 h of work a day, three days.
    plan = _plan({("", "s"): 30}, {"s": 22.5})
    assert plan.paid_minutes == plan.paid_bound == 3 * 510
    assert plan.gap == 0


def test_a_drive_in_the_break_between_two_sites_is_allowed_for() -> None:
    # s lies on the way to t: 8:20 to 12:00 at s, the break on the road, 12:30 to 16:10 at t.
    plan = _plan({("", "s"): 20, ("s", "t"): 30, ("", "t"): 50}, {"s": 220 / 60, "t": 220 / 60})
    assert plan.paid_bound <= 440 + 100 <= plan.paid_minutes


def test_a_site_that_a_break_leaves_time_for_on_the_way_back_is_allowed_for() -> None:
    # t is 50 min away, s on the way at 20. From 6:50 to 13:40 at t, which is as long as one that works there
    # alone can stay; the break is driven through, and from 14:10 to 14:40 s gets half an hour for nothing.
    crew = replace(ALONE, calendar=week(shifts=((time(6), time(13, 40)), (time(14, 10), time(15)))))
    firm = _firm({("", "s"): 20, ("s", "t"): 30, ("", "t"): 50}, {"s": 30 / 60, "t": 410 / 60}, crew)
    assert least_paid(arrays_of(firm=firm, from_minute=START, days=14)) <= 440 + 100


PLACES = st.tuples(st.integers(-20, 20), st.integers(-20, 20))


@given(
    st.lists(st.tuples(PLACES, st.integers(20, 1500)), min_size=1, max_size=4),
    st.integers(0, 6),
    st.sampled_from(("", "home", "s0")),
)
@settings(max_examples=60, deadline=None)
def test_no_plan_of_one_person_pays_less_than_the_bound(
    sites: list[tuple[tuple[int, int], int]], parking: int, home: str
) -> None:
    at = {"": (0, 0), home: (-9, 4)} | {f"s{n}": place for n, (place, _) in enumerate(sites)}
    travel = {
        (a, b): parking + round(2 * hypot(at[a][0] - at[b][0], at[a][1] - at[b][1]))
        for a in at
        for b in at
        if a < b
    }
    hours = {f"s{n}": minutes / 60 for n, (_, minutes) in enumerate(sites)}
    plan = _plan(travel, hours, replace(ALONE, home=home))
    assert plan.paid_bound <= plan.paid_minutes


SHIFTS = (
    ((0, 540),),
    ((0, 240), (270, 540)),
    ((0, 120), (150, 260), (300, 540)),
)
"""Minutes from six in the morning."""


@given(
    st.lists(st.tuples(PLACES, st.integers(0, 300)), min_size=1, max_size=4),
    st.sampled_from(SHIFTS),
    st.sampled_from(("", "home", "s0")),
    st.integers(1, 5),
)
@settings(max_examples=300, deadline=None)
def test_no_day_that_is_driven_as_it_may_be_costs_less_than_the_bound(
    stops: list[tuple[tuple[int, int], int]],
    shifts: tuple[tuple[int, int], ...],
    home: str,
    slow: int,
) -> None:
    """Each stop is left at a drawn minute, in a shift or a break; at the last one the day is worked out."""
    at = {"": (0, 0), home: (-9, 4)} | {f"s{n}": place for n, (place, _) in enumerate(stops)}
    travel = {
        (a, b): round(slow * hypot(at[a][0] - at[b][0], at[a][1] - at[b][1])) for a in at for b in at if a < b
    }

    def way(a: str, b: str) -> int:
        return 0 if a == b else travel[min(a, b), max(a, b)]

    names = [f"s{n}" for n in range(len(stops))]
    arrived, journey, worked = way(home, "s0"), way(home, "s0"), dict[str, int]()
    for n, name in enumerate(names):
        last = n + 1 == len(names)
        onward = way(name, home if last else names[n + 1])
        left = shifts[-1][1] - onward if last else max(arrived, stops[n][1])
        worked[name] = sum(max(0, min(end, left) - max(begin, arrived)) for begin, end in shifts)
        journey, arrived = journey + onward, left + onward
    if min(worked.values()) < 1 or left < way(home, "s0"):
        return
    hours = tuple((_clock(begin), _clock(end)) for begin, end in shifts)
    crew = replace(ALONE, home=home, calendar=week(shifts=hours))
    firm = _firm(travel, {name: much / 60 for name, much in worked.items()}, crew)
    bound = least_paid(arrays_of(firm=firm, from_minute=START, days=14))
    assert bound <= sum(worked.values()) + journey


def _clock(minutes: int) -> time:
    return time(6 + minutes // 60, minutes % 60)
