"""Why two estimates of a job differ."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from slab_app.actions.change_causes import causes_of
from slab_core.job import Job
from slab_core.stages import CHEAPEST
from slab_core.takeoff.model import Scope
from tests.sample_jobs import one_room_job

JOB = one_room_job(count=20)


def _causes(after: Job, *, other_alternate: bool = False) -> frozenset[str]:
    return causes_of(before=JOB, after=after, other_alternate=other_alternate)


def test_the_same_job_at_another_day_differs_in_nothing() -> None:
    later = replace(
        one_room_job(count=20),
        earliest_start=JOB.earliest_start + timedelta(days=9),
        pricing_date=JOB.earliest_start.date(),
    )
    assert _causes(later) == frozenset()


@pytest.mark.parametrize(
    ("changes", "cause"),
    [
        ({"surveys": one_room_job(count=30).surveys}, "survey"),
        ({"surveys": (), "basis": "allowance"}, "survey"),
        ({"scope": Scope(removal="tile")}, "wish"),
        ({"price_book": replace(JOB.price_book, overhead_share=Decimal("0.2"))}, "prices"),
        ({"tax_place": "Alder County"}, "prices"),
        ({"rates": replace(JOB.rates, people=4)}, "planning"),
    ],
)
def test_each_part_of_a_job_has_its_cause(changes: dict[str, Any], cause: str) -> None:
    assert _causes(replace(JOB, **changes)) == {cause}


def test_another_way_of_correction_is_a_wish_and_the_first_survey_is_none() -> None:
    assert _causes(JOB, other_alternate=True) == {"wish"}
    unseen = replace(JOB, surveys=(), basis="allowance", alternates=("allowance",), corrected_as=CHEAPEST)
    assert causes_of(before=unseen, after=JOB, other_alternate=False) == {"survey"}
