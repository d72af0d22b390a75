"""Readings count on where nothing was done since they were taken, and nowhere else."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from slab_core.correction.resurvey.readings import kept_readings, lines_gone, readings_of_the_day
from slab_core.correction.resurvey.standing import EarlierPlan, Followed, work_ids
from slab_core.correction.resurvey.works import works_of
from slab_core.errors import InputRefused
from slab_core.surveys.model import Observations, ProfileLine, Survey
from tests.invented_floors import LIFTED, rectangle, work
from tests.sample_jobs import hump_and_hollow

HUMP, FAR = (1.6, 3.4), (5.8, 4.8)


@cache
def _followed() -> Followed:
    job = work(
        floor=rectangle(width_m=6.0, length_m=5.0), height_m=hump_and_hollow, columns=60, compound=LIFTED
    )
    earlier = EarlierPlan(plan=job.plan(), began=job.surface.height, lift_m=LIFTED.greatest_lift_m)
    return Followed(estimate="first", plans=(earlier,), readings=1)


def _hump() -> str:
    """The id of the area over the hump."""
    (plan,) = (earlier.plan for earlier in _followed().plans)
    areas = [area for area in plan.grind_areas if np.hypot(area.at[0] - HUMP[0], area.at[1] - HUMP[1]) < 0.5]
    return areas[0].id


def _seen(*rows: tuple[int, tuple[float, float], tuple[float, float]]) -> Observations:
    """Observations of survey i at one place, with a second place that is weighed too if it is another."""
    x = np.array([[a[0], b[0], a[0]] for _, a, b in rows])
    y = np.array([[a[1], b[1], a[1]] for _, a, b in rows])
    weight = np.array([[1.0, 0.0 if a == b else -1.0, 0.0] for _, a, b in rows])
    count = len(rows)
    return Observations(
        x_m=x,
        y_m=y,
        weight=weight,
        value_m=np.arange(count, dtype=np.float64),
        sd_m=np.full(count, 0.0007),
        position_sd_m=np.zeros(count),
        pointer=tuple(f"/surveys/{i}/readings/0/value/{k}" for k, (i, _, _) in enumerate(rows)),
    )


def test_old_readings_go_where_work_was_done_and_stay_elsewhere() -> None:
    surveys = (Survey(id="before"), Survey(id="after", after=(_hump(),)))
    seen = _seen((0, HUMP, HUMP), (0, FAR, FAR), (1, HUMP, HUMP), (1, FAR, FAR))
    kept = kept_readings(floor_id="floor-1", observations=seen, surveys=surveys, followed=_followed())
    assert kept.observations.value_m.tolist() == [1.0, 2.0, 3.0]
    assert len(kept.observations.pointer) == 3
    (told,) = kept.problems
    assert (told.code, told.pointer) == ("readings-superseded", "/surveys/0")
    assert "1 reading(s)" in told.detail


def test_a_gap_goes_with_any_of_its_places() -> None:
    surveys = (Survey(id="before"), Survey(id="after", after=(_hump(),)))
    seen = _seen((0, FAR, HUMP), (0, FAR, FAR), (1, HUMP, HUMP))
    kept = kept_readings(floor_id="floor-1", observations=seen, surveys=surveys, followed=_followed())
    assert kept.observations.value_m.tolist() == [1.0, 2.0]


def test_nothing_goes_where_nothing_is_done() -> None:
    seen = _seen((0, HUMP, HUMP), (1, FAR, FAR))
    surveys = (Survey(id="before"), Survey(id="again"))
    kept = kept_readings(floor_id="floor-1", observations=seen, surveys=surveys, followed=_followed())
    assert kept.observations is seen
    assert kept.problems == ()


def test_a_survey_that_reads_none_of_the_work_it_names_is_refused_by_its_place() -> None:
    surveys = (Survey(id="before"), Survey(id="after", after=(_hump(),)))
    seen = _seen((0, HUMP, HUMP), (1, FAR, FAR))
    with pytest.raises(InputRefused) as refused:
        kept_readings(floor_id="floor-1", observations=seen, surveys=surveys, followed=_followed())
    (problem,) = refused.value.problems
    assert (problem.code, problem.pointer) == ("worked-area-unread", "/surveys/1/after")


def test_a_scan_is_compared_with_readings_only_where_nothing_was_done_between_the_two() -> None:
    surveys = (Survey(id="before"), Survey(id="after", after=(_hump(),)), Survey(id="too", after=(_hump(),)))
    seen = _seen((0, HUMP, HUMP), (0, FAR, FAR), (1, HUMP, HUMP), (2, HUMP, HUMP))

    def told(survey: int) -> list[float]:
        kept = readings_of_the_day(
            floor_id="floor-1", survey=survey, observations=seen, surveys=surveys, followed=_followed()
        )
        return [float(value) for value in kept.value_m]

    assert told(0) == [0.0, 1.0]
    assert told(1) == told(2) == [1.0, 2.0, 3.0]


def test_measured_lines_go_whole_where_they_cross_later_work() -> None:
    line = ProfileLine(
        id="across", kind="elevation", start=(0.2, HUMP[1]), end=(5.8, HUMP[1]), spacing_m=0.3,
        value_m=np.zeros(10),
    )  # fmt: skip
    clear = replace(line, id="clear", start=(0.2, 4.9), end=(5.8, 4.9))
    surveys = (Survey(id="before", lines=(line, clear)), Survey(id="after", after=(_hump(),), lines=(line,)))
    gone = lines_gone(floor_id="floor-1", surveys=surveys, followed=_followed())
    assert gone == {"/surveys/0/lines/0/value"}


def test_every_work_of_a_plan_has_its_own_nodes_and_volume() -> None:
    (earlier,) = _followed().plans
    works = {one.id: one for one in works_of(earlier)}
    assert set(works) == set(work_ids(earlier.plan))
    ground = sum(one.depth for one in works.values() if one.kind == "grind")
    filled = sum(one.depth for one in works.values() if one.kind != "grind")
    assert np.array_equal(ground, earlier.plan.grind)
    assert np.array_equal(filled, earlier.plan.fill)
