"""Case 12 of the trade's plausibility cases, from the takeoff through the schedule.

Common practice, no single source: 300 ft², floating floor out, 24 bags, 6 mh and 3 mh by hand, a hearth, 15
ft of T-molding, 60 ft of base and 15 ft of carpet edge take 85-125 PH and 5-6 days for three people, of which
the days of pouring, edges and what follows wait on drying. Cases 10 and 11 stand beside the takeoff and the
layout.
"""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget
from slab_core.schedule import starter as calendars
from slab_core.schedule.model import Schedule
from slab_core.schedule.plan import schedule
from tests.takeoff_jobs import whole_job

TUESDAY = datetime(2026, 4, 21, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def planned() -> Schedule:
    """The days of the job, with the adhesive that need not wait for the moisture result."""
    catalogue = replace(starter.catalogue(), adhesive=starter.barrier_adhesive())
    return schedule(
        takeoff=whole_job(),
        rates=starter.rates(),
        climate=Climate(),
        compound=catalogue.compound,
        primer=catalogue.primer,
        adhesive=catalogue.adhesive,
        calendar=calendars.calendar("UTC"),
        earliest_start=TUESDAY,
        budget=Budget(),
    )


def test_case_12_the_whole_job_takes_85_to_125_person_hours_with_the_way_there() -> None:
    hours = sum(line.order for line in whole_job().lines if line.unit == "PH")
    assert 85 <= hours <= 125


def test_case_12_three_people_are_on_site_for_five_or_six_days(planned: Schedule) -> None:
    assert 5 <= planned.site_days <= 6


def test_case_12_what_follows_a_pour_waits_a_night_for_it_to_dry(planned: Schedule) -> None:
    day = {placed.activity: placed for placed in planned.placed}
    what = {activity.id: activity for activity in planned.activities}
    poured = max(day[id].last_day for id, activity in what.items() if activity.code == "pour")
    edges = min(day[id].first_day for id, activity in what.items() if activity.code == "edges")
    assert edges > poured
    assert any("waits" in line and "dry" in line for line in planned.critical)
