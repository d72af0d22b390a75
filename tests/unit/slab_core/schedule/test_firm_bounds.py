"""The bound of what is paid: reached where a plan wastes nothing, and below every plan that can be found."""

from dataclasses import replace
from math import hypot

from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm import Crew, Firm, FirmJob, FirmPlan, Site
from slab_core.schedule.firm_plan import plan_firm
from tests.support.firms import START, task, week

ALONE = Crew(id="a", people=1, skills=frozenset({"prepare"}), calendar=week())


def _plan(travel: dict[tuple[str, str], int], hours: dict[str, float], crew: Crew = ALONE) -> FirmPlan:
    """A job of so many hours at each site, planned."""
    firm = Firm(
        crews=(crew,),
        machines=(),
        sites=tuple(Site(id=site) for site in hours),
        jobs=tuple(
            FirmJob(id=site, site=site, tasks=(task("grind", much, (1, 1)),), earliest=START)
            for site, much in hours.items()
        ),
        travel=travel,
    )
    return plan_firm(firm=firm, from_minute=START, budget=Budget())


def test_full_days_at_one_site_are_proven_best() -> None:
    # 8.5 h of shifts less an hour of driving: 7.5 h of work a day, three days.
    plan = _plan({("", "s"): 30}, {"s": 22.5})
    assert plan.paid_minutes == plan.paid_bound == 3 * 510
    assert plan.gap == 0


def test_a_drive_in_the_break_between_two_sites_is_allowed_for() -> None:
    # s lies on the way to t: 8:20 to 12:00 at s, the break on the road, 12:30 to 16:10 at t.
    plan = _plan({("", "s"): 20, ("s", "t"): 30, ("", "t"): 50}, {"s": 220 / 60, "t": 220 / 60})
    assert plan.paid_bound <= 440 + 100 <= plan.paid_minutes


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
