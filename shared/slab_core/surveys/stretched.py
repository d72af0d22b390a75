"""Distances down from a stretched line, as linear observations of the floor under it."""

from math import hypot

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.rooms.wording import length
from slab_core.surveys.instruments import SOURCE, USUAL_LINE
from slab_core.surveys.model import StretchedLine, Survey

_NO_SAG_M = 0.0001
"""An assumed sag of less than this is lost in any reading."""

_GRAVITY = 9.80665
"""Metres per second squared."""


def span_m(line: StretchedLine) -> float:
    """How far apart the line's ends are."""
    return hypot(line.end[0] - line.start[0], line.end[1] - line.start[1])


def shares(line: StretchedLine) -> Floats:
    """Where along the line each reading is, 0 at its start and 1 at its end."""
    return np.asarray(line.along_m / span_m(line))


def reading_places(line: StretchedLine) -> tuple[Floats, Floats]:
    """Under which places the readings were taken: x and y in metres."""
    (x0, y0), (x1, y1), share = line.start, line.end, shares(line)
    return np.asarray(x0 + share * (x1 - x0)), np.asarray(y0 + share * (y1 - y0))


def sag_is_given(line: StretchedLine) -> bool:
    """Whether the sag, or what it follows from, was measured."""
    return line.sag_m is not None or line.tension_n is not None


def middle_sag_m(line: StretchedLine) -> float:
    """How far the line hangs through in its middle: w L²/(8 T), a parabola.

    A catenary differs from it by a share of the order of the square of sag over length, less than a
    micrometre for any line that one would level with.
    """
    if line.sag_m is not None:
        return line.sag_m
    mass, tension = USUAL_LINE.kg_per_metre, USUAL_LINE.tension_n
    if line.kg_per_metre is not None and line.tension_n is not None:
        mass, tension = line.kg_per_metre, line.tension_n
    return mass * _GRAVITY * span_m(line) ** 2 / (8.0 * tension)


def end_weights(line: StretchedLine) -> tuple[Floats, Floats]:
    """What each reading weighs the line's start and its end with, on a straight line between them."""
    share = shares(line)
    return 1.0 - share, share


def line_height_m(line: StretchedLine) -> Floats:
    """Height of the hanging line at each reading: above the datum, or above a chord of the floor."""
    first, second = end_weights(line)
    return np.asarray(first * line.start_height_m + second * line.end_height_m - _sag(line))


def reading_sd_m(line: StretchedLine) -> Floats:
    """Standard deviation of each reading with that of the ends' heights and of a sag that is only assumed.

    An assumed sag is as unsure as it is large. Errors of the ends and of the sag are one for the whole
    line; here they widen each of its readings.
    """
    ends = line.end_sd_m * np.hypot(*end_weights(line))
    unsure = 0.0 if sag_is_given(line) else _sag(line)
    return np.asarray(np.sqrt(line.sd_m**2 + ends**2 + np.square(unsure)))


def _sag(line: StretchedLine) -> Floats:
    first, second = end_weights(line)
    return np.asarray(4.0 * first * second * middle_sag_m(line))


def stretched_findings(surveys: tuple[Survey, ...]) -> tuple[Problem, ...]:
    """A finding for each line whose sag had to be assumed."""
    return tuple(
        _assumed(line, pointer=f"/surveys/{i}/stretched_lines/{k}")
        for i, survey in enumerate(surveys)
        for k, line in enumerate(survey.stretched_lines)
        if not sag_is_given(line) and middle_sag_m(line) > _NO_SAG_M
    )


def _assumed(line: StretchedLine, *, pointer: str) -> Problem:
    usual = f"{1000 * USUAL_LINE.kg_per_metre:g} g per m, pulled with {USUAL_LINE.tension_n:g} N"
    detail = (
        f"nobody says how far stretched line “{line.id}” hangs through: {length(middle_sag_m(line))} in its "
        f"middle are assumed, as of a line of {usual} ({SOURCE}), and count as unsure by as much; give its "
        "sag, or its mass and tension"
    )
    return Problem(code="line-sag-assumed", detail=detail, pointer=pointer)
