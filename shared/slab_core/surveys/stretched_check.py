"""Refusals for one stretched line."""

from math import isfinite

import numpy as np

from slab_core.errors import Problem
from slab_core.rooms.rings import point_problems
from slab_core.rooms.wording import length, refusal
from slab_core.surveys.blocks import LARGEST_HEIGHT_M, SHORTEST_EDGE_M
from slab_core.surveys.columns import equal_lengths, finite, rows
from slab_core.surveys.model import StretchedLine
from slab_core.surveys.stretched import middle_sag_m, span_m

HIGHEST_BLOCK_M = 3.0
"""Ends of a line that stand on the floor stand no higher."""

_DEEPEST_SAG = 0.05
"""Share of its length that no line hangs through which one would measure from."""

_ROUNDING_M = 1e-6


def stretched_problems(line: StretchedLine, *, pointer: str) -> tuple[Problem, ...]:
    """Refusals for one stretched line and its readings."""
    name = f"stretched line “{line.id}”"
    numbers = {"distance": line.along_m, "value": line.value_m, "sd": line.sd_m}
    ends = (("start", line.start), ("end", line.end))
    lost = tuple(
        problem
        for end, at in ends
        for problem in point_problems(point=at, pointer=f"{pointer}/{end}", what=f"{end} of {name}")
    )
    lost += equal_lengths(columns=numbers, pointer=pointer)
    lost = lost or finite(columns=numbers, pointer=pointer) or _extent(line, name=name, pointer=pointer)
    return lost or (
        *_columns(line, pointer=pointer),
        *_heights(line, name=name, pointer=pointer),
        *_accuracy(line, name=name, pointer=pointer),
        *_sag(line, name=name, pointer=pointer),
    )


def _extent(line: StretchedLine, *, name: str, pointer: str) -> tuple[Problem, ...]:
    if not len(line.value_m):
        detail = f"{name} has no readings; give at least one, or leave the line out"
        return (refusal(code="line-too-short", detail=detail, pointer=f"{pointer}/value"),)
    if span_m(line) >= SHORTEST_EDGE_M:
        return ()
    detail = f"{name} starts and ends at one place; give its ends {length(SHORTEST_EDGE_M)} apart or more"
    return (refusal(code="line-without-length", detail=detail, pointer=f"{pointer}/end"),)


def _columns(line: StretchedLine, *, pointer: str) -> tuple[Problem, ...]:
    span, most = span_m(line), LARGEST_HEIGHT_M["rod"]
    off = (line.along_m < 0) | (line.along_m > span + _ROUNDING_M)
    return (
        *rows(
            bad=off,
            column=line.along_m,
            code="off-the-line",
            right=f"the line is {span:.3f} m long: distances count from its start, 0 to that",
            pointer=f"{pointer}/distance",
        ),
        *rows(
            bad=np.abs(line.value_m) > most,
            column=line.value_m,
            code="value-absurd",
            right=f"readings down from a line lie within {most:g} m of 0: check the unit",
            pointer=f"{pointer}/value",
        ),
        *rows(
            bad=line.sd_m <= 0,
            column=line.sd_m,
            code="sd-not-positive",
            right="a standard deviation is greater than 0",
            pointer=f"{pointer}/sd",
        ),
    )


def _heights(line: StretchedLine, *, name: str, pointer: str) -> tuple[Problem, ...]:
    problems = []
    for end, height in (("start", line.start_height_m), ("end", line.end_height_m)):
        low, high = (0.0, HIGHEST_BLOCK_M) if line.ends == "floor" else (-10_000.0, 10_000.0)
        if isfinite(height) and low <= height <= high:
            continue
        right = (
            f"above the floor there it is 0 to {HIGHEST_BLOCK_M:g} m"
            if line.ends == "floor"
            else "give it in the job's datum"
        )
        detail = f"the {end} of {name} is at a height of {height:g} m; {right}"
        problems.append(refusal(code="not-a-height", detail=detail, pointer=f"{pointer}/{end}_height"))
    return tuple(problems)


def _accuracy(line: StretchedLine, *, name: str, pointer: str) -> tuple[Problem, ...]:
    return tuple(
        refusal(
            code="sd-negative",
            detail=f"{name} has the {what} accuracy {sd:g} m; it is 0 or greater",
            pointer=f"{pointer}/{field}",
        )
        for field, what, sd in (
            ("end_sd", "ends'", line.end_sd_m),
            ("position_sd", "position's", line.position_sd_m),
        )
        if not (isfinite(sd) and sd >= 0)
    )


def _sag(line: StretchedLine, *, name: str, pointer: str) -> tuple[Problem, ...]:
    pulled = (("kg_per_metre", line.kg_per_metre), ("tension_n", line.tension_n))
    given = [field for field, value in pulled if value is not None]
    if line.sag_m is not None and given:
        detail = f"{name} has a sag and also {given[0]}; give the sag, or what it follows from, not both"
        return (refusal(code="sag-twice", detail=detail, pointer=f"{pointer}/{given[0]}"),)
    if len(given) == 1:
        missing = next(field for field, value in pulled if value is None)
        detail = f"the sag of {name} follows from mass and tension together; give {missing} too, or the sag"
        return (refusal(code="sag-half-given", detail=detail, pointer=f"{pointer}/{missing}"),)
    for field, value in pulled:
        if value is not None and not (isfinite(value) and value > 0):
            detail = f"{field} of {name} is {value:g}; it is greater than 0"
            return (refusal(code="sag-absurd", detail=detail, pointer=f"{pointer}/{field}"),)
    return _depth(line, name=name, pointer=pointer)


def _depth(line: StretchedLine, *, name: str, pointer: str) -> tuple[Problem, ...]:
    sag, most = middle_sag_m(line), _DEEPEST_SAG * span_m(line)
    if isfinite(sag) and 0 <= sag <= most:
        return ()
    detail = f"{name} would hang through by {sag:g} m; a taut line of its length does by 0 to {most:.3f} m"
    field = "tension_n" if line.sag_m is None else "sag"
    return (refusal(code="sag-absurd", detail=detail, pointer=f"{pointer}/{field}"),)
