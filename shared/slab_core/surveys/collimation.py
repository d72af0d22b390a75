"""The two-peg check: how much a level's line of sight rises, and what that does to each rod reading."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.surveys.model import Collimation, PegReadings, PegTest, Setup, SetupKey, Survey

_SLOPE_DIGITS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class LineOfSight:
    """A setup's line of sight rises by `slope` per metre; its unknown distances are 0 to `reach_m`."""

    slope: float = 0.0
    slope_sd: float = 0.0
    reach_m: float = 0.0

    def excess(self, distance_m: Floats) -> tuple[Floats, Floats]:
        """How much too much was read at these distances (NaN: unknown), and its standard deviation.

        At an unknown distance it is that of half the reach, and the spread of a distance that may be
        anything up to the reach goes into its standard deviation. What the check leaves unsure of the
        slope is one error of all readings; here it widens each of them by its full size.
        """
        unknown = np.isnan(distance_m)
        distance = np.where(unknown, self.reach_m / 2, distance_m)
        spread = np.where(unknown, self.reach_m / sqrt(12.0), 0.0)
        sd = np.hypot(self.slope_sd * np.hypot(distance, spread), self.slope * spread)
        return np.asarray(self.slope * distance), np.asarray(sd)


def slope_of(test: PegTest) -> tuple[float, float]:
    """Slope of the line of sight (metres per metre, rising is positive) and its standard deviation.

    The readings to two pegs differ by the pegs' true difference and by the slope times the difference
    of their distances; from two stands both follow. Any text on levelling derives it for equal sights.
    """
    base = _further(test.near) - _further(test.middle)
    return (_apart(test.near) - _apart(test.middle)) / base, 2.0 * test.sd_m / abs(base)


def base_m(test: PegTest) -> float:
    """The difference of distances that the slope is found over; the longer the surer."""
    return abs(_further(test.near) - _further(test.middle))


def collimations(surveys: tuple[Survey, ...]) -> tuple[Collimation, ...]:
    """What every two-peg check found, in order, rounded to a nanometre per metre."""
    return tuple(_found(survey, test) for survey in surveys for test in survey.peg_tests)


def _found(survey: Survey, test: PegTest) -> Collimation:
    slope, sd = (round(value, _SLOPE_DIGITS) for value in slope_of(test))
    return Collimation(survey=survey.id, instrument=test.instrument, slope=slope, slope_sd=sd)


def check_of(survey: Survey, setup: Setup) -> PegTest | None:
    """The check that counts for a setup: its instrument's own, else that of every instrument."""
    by_instrument = {test.instrument: test for test in survey.peg_tests}
    return by_instrument.get(setup.instrument) or by_instrument.get("")


def lines_of_sight(surveys: tuple[Survey, ...]) -> Mapping[SetupKey, LineOfSight]:
    """Of every setup with a two-peg check."""
    found = {}
    for survey in surveys:
        for setup in survey.setups if survey.peg_tests else ():
            test = check_of(survey, setup)
            if test is not None:
                slope, sd = slope_of(test)
                reach = _reach(survey) or _longest(test)
                found[(survey.id, setup.id)] = LineOfSight(slope=slope, slope_sd=sd, reach_m=reach)
    return found


def distances(setup: Setup, *, x_m: Floats, y_m: Floats) -> Floats:
    """How far the places are from the setup; NaN, all of them, if nobody says where it stands."""
    if setup.place is None:
        return np.full(len(x_m), np.nan)
    return np.asarray(np.hypot(x_m - setup.place[0], y_m - setup.place[1]))


def _reach(survey: Survey) -> float:
    """Diagonal of everything that was read: a level in or beside it is seldom farther from a reading."""
    ends = [end for line in survey.lines for end in (line.start, line.end)]
    x = np.concatenate([np.array([x for x, _ in ends]), *(block.x_m for block in survey.readings)])
    y = np.concatenate([np.array([y for _, y in ends]), *(block.y_m for block in survey.readings)])
    return hypot(float(np.ptp(x)), float(np.ptp(y))) if len(x) else 0.0


def _longest(test: PegTest) -> float:
    stands = (test.middle, test.near)
    return max(distance for at in stands for distance in (at.distance_a_m, at.distance_b_m))


def _apart(stand: PegReadings) -> float:
    return stand.rod_a_m - stand.rod_b_m


def _further(stand: PegReadings) -> float:
    return stand.distance_a_m - stand.distance_b_m
