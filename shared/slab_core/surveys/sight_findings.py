"""What two-peg checks tell a person: a level to be adjusted, and corrections made without a distance."""

from collections.abc import Iterator

import numpy as np

from slab_core.errors import Problem
from slab_core.rooms.wording import length
from slab_core.surveys.collimation import base_m, check_of, lines_of_sight, slope_of
from slab_core.surveys.instruments import (
    LASER_COLLIMATION,
    LEVEL_COLLIMATION,
    LEVEL_COLLIMATION_SOURCE,
    SOURCE,
)
from slab_core.surveys.model import PegTest, Setup, Survey
from slab_core.surveys.sights import setups_in_order, used_setups

_SURE_SD = 1.959964
"""Standard deviations that chance exceeds, on either side, once in 20."""


def sight_findings(surveys: tuple[Survey, ...]) -> tuple[Problem, ...]:
    """Findings for lines of sight out of level, for checks too rough to say so, and unknown distances."""
    return (
        *(
            problem
            for i, survey in enumerate(surveys)
            for k, test in enumerate(survey.peg_tests)
            for problem in _of_test(
                test, instrument=_instrument(survey, test), pointer=f"/surveys/{i}/peg_tests/{k}"
            )
        ),
        *_unknown_distances(surveys),
    )


def _instrument(survey: Survey, test: PegTest) -> str:
    """What was checked: as the check says, else as all setups say that it counts for."""
    kinds = {setup.instrument for setup in survey.setups if check_of(survey, setup) is test}
    return test.instrument or (kinds.pop() if len(kinds) == 1 else "")


def _of_test(test: PegTest, *, instrument: str, pointer: str) -> Iterator[Problem]:
    slope, sd = slope_of(test)
    most = LASER_COLLIMATION.get(instrument, LEVEL_COLLIMATION)
    source = SOURCE if instrument in LASER_COLLIMATION else LEVEL_COLLIMATION_SOURCE
    unsure = _SURE_SD * sd
    if abs(slope) - unsure > most:
        yield Problem(
            code="collimation-too-large",
            detail=(
                f"the line of sight {'rises' if slope > 0 else 'falls'} by {_both(abs(slope))}, "
                f"known to ±{_per_metre(unsure)}, where {_both(most)} is allowed ({source}); it is taken off "
                "the readings: have the level adjusted"
            ),
            pointer=pointer,
        )
    elif unsure > most:
        yield Problem(
            code="peg-test-too-rough",
            detail=(
                f"this check finds the line of sight only to ±{_per_metre(unsure)} (95 %), where "
                f"{_both(most)} is allowed ({source}): over {base_m(test):.1f} m it cannot tell a good "
                "level from a bad one; set the pegs farther apart or read the rod more finely"
            ),
            pointer=pointer,
        )


def _unknown_distances(surveys: tuple[Survey, ...]) -> Iterator[Problem]:
    lines, used = lines_of_sight(surveys), used_setups(surveys)
    by_id = {survey.id: survey for survey in surveys}
    for key, setup, pointer in setups_in_order(surveys):
        if key not in lines:
            continue
        sights = sum(sight.setup == setup.id and sight.distance_m is None for sight in by_id[key[0]].sights)
        missing = _missing(setup, sights=sights, has_readings=key in used)
        if not missing:
            continue
        line = lines[key]
        _, unsure = line.excess(np.array([np.nan]))
        yield Problem(
            code="sight-distance-unknown",
            detail=(
                f"setup “{setup.id}” has a two-peg check, but {' and '.join(missing)}; there its line of "
                f"sight ({_per_metre(abs(line.slope))} out) is taken off as at {line.reach_m / 2:.1f} m, and "
                f"{length(float(unsure[0]))} go into the readings' accuracy"
            ),
            pointer=pointer,
        )


def _missing(setup: Setup, *, sights: int, has_readings: bool) -> list[str]:
    missing = []
    if setup.place is None and has_readings:
        missing.append("no place, so that the distances of its readings are unknown: give its place")
    if sights:
        missing.append(f"{sights} of its sights have no distance: give it")
    return missing


def _per_metre(slope: float) -> str:
    return f"{1000 * slope:.2f} mm per m"


def _both(slope: float) -> str:
    """In both systems."""
    return f"{_per_metre(slope)} ({1200 * slope:.2f} in per 100 ft)"
