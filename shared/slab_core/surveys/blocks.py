"""Refusals for one block of readings, of gaps, or one line."""

from math import hypot, isfinite

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.rooms.rings import point_problems
from slab_core.rooms.wording import length, refusal
from slab_core.surveys.columns import equal_lengths, far_out, finite, rows
from slab_core.surveys.edges import rests
from slab_core.surveys.model import Gaps, HeightKind, ProfileLine, Readings

LARGEST_HEIGHT_M: dict[HeightKind, float] = {"elevation": 10_000.0, "rod": 30.0}
"""Beyond these a value is not a height in the unit that it was posted in."""

SHORTEST_EDGE_M = 0.05


def reading_problems(readings: Readings, *, setup_count: int, pointer: str) -> tuple[Problem, ...]:
    """Refusals for one block of heights at places."""
    numbers = {
        "x": readings.x_m,
        "y": readings.y_m,
        "value": readings.value_m,
        "sd": readings.sd_m,
        "position_sd": readings.position_sd_m,
    }
    found = equal_lengths(columns={**numbers, "setup": readings.setup}, pointer=pointer)
    found = found or finite(columns=numbers, pointer=pointer)
    if found:
        return found
    return (
        *far_out(columns={"x": readings.x_m, "y": readings.y_m}, pointer=pointer),
        *_absurd(readings.value_m, kind=readings.kind, pointer=pointer),
        *_not_positive(readings.sd_m, pointer=f"{pointer}/sd"),
        *_negative(readings.position_sd_m, pointer=f"{pointer}/position_sd"),
        *_setups(readings, setup_count=setup_count, pointer=f"{pointer}/setup"),
    )


def gap_problems(gaps: Gaps, *, pointer: str) -> tuple[Problem, ...]:
    """Refusals for one block of gaps under a straightedge."""
    numbers = {
        "x0": gaps.x0_m,
        "y0": gaps.y0_m,
        "x1": gaps.x1_m,
        "y1": gaps.y1_m,
        "at": gaps.at,
        "gap": gaps.gap_m,
        "sd": gaps.sd_m,
        **{
            name: column
            for name, column in (("rest0", gaps.rest0), ("rest1", gaps.rest1))
            if column is not None
        },
    }
    found = equal_lengths(columns=numbers, pointer=pointer) or finite(columns=numbers, pointer=pointer)
    if found:
        return found
    size = np.hypot(gaps.x1_m - gaps.x0_m, gaps.y1_m - gaps.y0_m)
    off = (gaps.at < 0) | (gaps.at > 1)
    share = "the share of the edge lies between 0 and 1"
    ends = f"give both ends of the edge, {length(SHORTEST_EDGE_M)} apart or more"
    ends_at = {name: numbers[name] for name in ("x0", "y0", "x1", "y1")}
    return (
        *far_out(columns=ends_at, pointer=pointer),
        *rows(
            bad=off,
            column=gaps.at,
            code="gap-off-edge",
            right=share,
            pointer=f"{pointer}/at",
        ),
        *rows(
            bad=size < SHORTEST_EDGE_M,
            column=size,
            code="edge-without-length",
            right=ends,
            pointer=f"{pointer}/x1",
            name="the edge's length",
        ),
        *_rests(gaps, size=size, pointer=pointer),
        *_not_positive(gaps.sd_m, pointer=f"{pointer}/sd"),
    )


def _rests(gaps: Gaps, *, size: Floats, pointer: str) -> tuple[Problem, ...]:
    if gaps.rest0 is None and gaps.rest1 is None:
        return ()
    low, high = rests(gaps)
    off = "an edge rests at shares of its length, 0 to 1"
    near = f"the second rest lies {length(SHORTEST_EDGE_M)} or more beyond the first"
    problems: tuple[Problem, ...] = ()
    for name, column in (("rest0", low), ("rest1", high)):
        bad = (column < 0) | (column > 1)
        problems += rows(bad=bad, column=column, code="rest-off-edge", right=off, pointer=f"{pointer}/{name}")
    close = (high - low) * size < SHORTEST_EDGE_M
    return problems or rows(
        bad=close & (size >= SHORTEST_EDGE_M),
        column=high,
        code="rests-too-near",
        right=near,
        pointer=f"{pointer}/rest1",
    )


def line_problems(line: ProfileLine, *, setups: tuple[str, ...], pointer: str) -> tuple[Problem, ...]:
    """Refusals for one profile line."""
    name = f"line “{line.id}”"
    ends = (("start", line.start), ("end", line.end))
    lost = tuple(
        p
        for end, at in ends
        for p in point_problems(point=at, pointer=f"{pointer}/{end}", what=f"{end} of {name}")
    )
    lost += equal_lengths(columns={"value": line.value_m}, pointer=pointer)
    lost = lost or finite(columns={"value": line.value_m}, pointer=pointer)
    return lost or (
        *_line_shape(line, name=name, pointer=pointer),
        *_line_accuracy(line, name=name, pointer=pointer),
        *_line_setup(line, name=name, setups=setups, pointer=f"{pointer}/setup"),
        *_absurd(line.value_m, kind=line.kind, pointer=pointer),
    )


def _line_shape(line: ProfileLine, *, name: str, pointer: str) -> tuple[Problem, ...]:
    problems = []
    if len(line.value_m) < 2:
        detail = f"{name} has {len(line.value_m)} readings; a line needs at least 2"
        problems.append(refusal(code="line-too-short", detail=detail, pointer=f"{pointer}/value"))
    if not (isfinite(line.spacing_m) and line.spacing_m > 0):
        detail = f"{name} has a spacing of {line.spacing_m:g} m; it is greater than 0"
        problems.append(refusal(code="spacing-not-positive", detail=detail, pointer=f"{pointer}/spacing"))
    if hypot(line.end[0] - line.start[0], line.end[1] - line.start[1]) < SHORTEST_EDGE_M:
        detail = f"{name} starts and ends at one place; give its ends {length(SHORTEST_EDGE_M)} apart or more"
        problems.append(refusal(code="line-without-length", detail=detail, pointer=f"{pointer}/end"))
    return tuple(problems)


def _line_accuracy(line: ProfileLine, *, name: str, pointer: str) -> tuple[Problem, ...]:
    problems = []
    if not (isfinite(line.sd_m) and line.sd_m > 0):
        detail = f"{name} has the accuracy {line.sd_m:g} m; a reading's sd is greater than 0"
        problems.append(refusal(code="sd-not-positive", detail=detail, pointer=f"{pointer}/sd"))
    if not (isfinite(line.position_sd_m) and line.position_sd_m >= 0):
        detail = f"{name} has the position's accuracy {line.position_sd_m:g} m; it is 0 or greater"
        problems.append(refusal(code="sd-negative", detail=detail, pointer=f"{pointer}/position_sd"))
    return tuple(problems)


def _line_setup(
    line: ProfileLine, *, name: str, setups: tuple[str, ...], pointer: str
) -> tuple[Problem, ...]:
    if line.kind == "rod" and line.setup not in setups:
        detail = f"{name} is read from setup “{line.setup}”, which its survey does not have"
        return (refusal(code="unknown-setup", detail=detail, pointer=pointer),)
    if line.kind == "elevation" and line.setup:
        detail = f"{name} holds elevations and names setup “{line.setup}”; leave it out, or post rod readings"
        return (refusal(code="elevation-with-setup", detail=detail, pointer=pointer),)
    return ()


def _setups(readings: Readings, *, setup_count: int, pointer: str) -> tuple[Problem, ...]:
    setup = readings.setup
    if readings.kind == "rod":
        right = f"a rod reading is from one of the survey's {setup_count} setups, counted from 0"
        bad = (setup < 0) | (setup >= setup_count)
        return rows(bad=bad, column=setup, code="unknown-setup", right=right, pointer=pointer)
    right = "an elevation has no setup (-1); post rod readings if it is read from one"
    return rows(bad=setup != -1, column=setup, code="elevation-with-setup", right=right, pointer=pointer)


def _absurd(values: Floats, *, kind: HeightKind, pointer: str) -> tuple[Problem, ...]:
    limit = LARGEST_HEIGHT_M[kind]
    right = f"{kind} readings lie within {limit:g} m of 0: check the unit"
    bad = np.abs(values) > limit
    return rows(bad=bad, column=values, code="value-absurd", right=right, pointer=f"{pointer}/value")


def _not_positive(sd: Floats, *, pointer: str) -> tuple[Problem, ...]:
    right = "a standard deviation is greater than 0"
    return rows(bad=sd <= 0, column=sd, code="sd-not-positive", right=right, pointer=pointer)


def _negative(sd: Floats, *, pointer: str) -> tuple[Problem, ...]:
    right = "a standard deviation is 0 or greater"
    return rows(bad=sd < 0, column=sd, code="sd-negative", right=right, pointer=pointer)
