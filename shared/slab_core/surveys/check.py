"""Everything about surveys that cannot be computed with, each with its place and what would be right."""

from collections.abc import Iterable, Iterator
from functools import partial
from math import isfinite
from typing import Protocol, TypeVar

from slab_core.errors import Problem
from slab_core.rooms.rings import point_problems
from slab_core.rooms.wording import refusal
from slab_core.surveys.blocks import LARGEST_HEIGHT_M, gap_problems, line_problems, reading_problems
from slab_core.surveys.model import Benchmark, Setup, Sight, Survey
from slab_core.surveys.peg_check import distance_problems, peg_problems, repeated_tests
from slab_core.surveys.stretched_check import stretched_problems

Item = TypeVar("Item", contravariant=True)


class Check(Protocol[Item]):
    """Refusals for one item that was posted at a pointer."""

    def __call__(self, item: Item, /, *, pointer: str) -> tuple[Problem, ...]: ...


def check_surveys(*, surveys: tuple[Survey, ...], benchmarks: tuple[Benchmark, ...]) -> tuple[Problem, ...]:
    """All refusals of a job's surveys; empty if `adjust` can take them.

    Rows and pointers (RFC 6901) count from 0; texts count rows from 1.
    """
    if not surveys:
        detail = (
            "the job has no survey; give at least one with its readings, or ask for a quote before tear-out "
            "with the basis allowance"
        )
        return (refusal(code="no-survey", detail=detail, pointer="/surveys"),)
    return (
        *_duplicates("survey", (survey.id for survey in surveys), pointer="/surveys"),
        *_duplicates("benchmark", (benchmark.id for benchmark in benchmarks), pointer="/benchmarks"),
        *_each(benchmarks, _benchmark, pointer="/benchmarks"),
        *_each(surveys, _survey, pointer="/surveys"),
    )


def unused_surveys(*, surveys: tuple[Survey, ...]) -> tuple[Problem, ...]:
    """The refusal of surveys beside an allowance, which would be passed over; empty where there are none."""
    if not surveys:
        return ()
    detail = (
        f"an estimate of an allowance takes no surveys, and there are {len(surveys)}: leave them out "
        "(give []), or leave out the basis to use them"
    )
    return (refusal(code="survey-unused", detail=detail, pointer="/surveys"),)


def row_count(survey: Survey) -> int:
    """How many readings of every kind a survey has."""
    heights = sum(len(block.value_m) for block in survey.readings)
    along = sum(len(line.value_m) for line in survey.lines)
    stretched = sum(len(line.value_m) for line in survey.stretched_lines)
    return heights + along + stretched + sum(len(block.gap_m) for block in survey.gaps)


def _survey(survey: Survey, *, pointer: str) -> tuple[Problem, ...]:
    setups = tuple(setup.id for setup in survey.setups)
    sighted = partial(_sight, setups=setups)
    return (
        *_empty(survey, pointer=pointer),
        *_duplicates("setup", setups, pointer=f"{pointer}/setups"),
        *_duplicates("line", (line.id for line in survey.lines), pointer=f"{pointer}/lines"),
        *_each(survey.setups, _setup, pointer=f"{pointer}/setups"),
        *_each(survey.sights, sighted, pointer=f"{pointer}/sights"),
        *_each(
            survey.readings, partial(reading_problems, setup_count=len(setups)), pointer=f"{pointer}/readings"
        ),
        *_each(survey.gaps, gap_problems, pointer=f"{pointer}/gaps"),
        *_each(survey.lines, partial(line_problems, setups=setups), pointer=f"{pointer}/lines"),
        *_duplicates(
            "stretched-line",
            (line.id for line in survey.stretched_lines),
            pointer=f"{pointer}/stretched_lines",
        ),
        *_each(survey.stretched_lines, stretched_problems, pointer=f"{pointer}/stretched_lines"),
        *repeated_tests(survey.peg_tests, pointer=f"{pointer}/peg_tests"),
        *_each(survey.peg_tests, partial(peg_problems, setups=survey.setups), pointer=f"{pointer}/peg_tests"),
    )


def _empty(survey: Survey, *, pointer: str) -> tuple[Problem, ...]:
    if row_count(survey) or survey.scans:
        return ()
    detail = f"survey “{survey.id}” is empty; give readings of some kind, or leave the survey out"
    return (refusal(code="empty-survey", detail=detail, pointer=pointer),)


def _each(items: Iterable[Item], check: Check[Item], *, pointer: str) -> Iterator[Problem]:
    for k, item in enumerate(items):
        yield from check(item, pointer=f"{pointer}/{k}")


def _duplicates(what: str, ids: Iterable[str], *, pointer: str) -> tuple[Problem, ...]:
    seen: dict[str, int] = {}
    problems = []
    for k, id_ in enumerate(ids):
        if id_ in seen:
            name = what.replace("-", " ")
            detail = f"{name}s {seen[id_] + 1} and {k + 1} are both called “{id_}”; give each its own id"
            problems.append(refusal(code=f"{what}-id-duplicate", detail=detail, pointer=f"{pointer}/{k}/id"))
        seen.setdefault(id_, k)
    return tuple(problems)


def _benchmark(mark: Benchmark, *, pointer: str) -> tuple[Problem, ...]:
    if not isfinite(mark.elevation_m) or abs(mark.elevation_m) > LARGEST_HEIGHT_M["elevation"]:
        detail = f"benchmark “{mark.id}” is at {mark.elevation_m:g} m; give its height in the job's datum"
        return (refusal(code="not-a-height", detail=detail, pointer=f"{pointer}/elevation"),)
    if isfinite(mark.sd_m) and mark.sd_m >= 0:
        return ()
    detail = f"benchmark “{mark.id}” has the accuracy {mark.sd_m:g} m; give 0 for exact or a positive sd"
    return (refusal(code="sd-not-positive", detail=detail, pointer=f"{pointer}/sd"),)


def _setup(setup: Setup, *, pointer: str) -> tuple[Problem, ...]:
    problems: tuple[Problem, ...] = ()
    if setup.place is not None:
        what = f"place of setup “{setup.id}”"
        problems = tuple(point_problems(point=setup.place, pointer=f"{pointer}/place", what=what))
    if isfinite(setup.sd_m) and setup.sd_m > 0:
        return problems
    detail = f"setup “{setup.id}” has the accuracy {setup.sd_m:g} m; a reading's sd is greater than 0"
    return (*problems, refusal(code="sd-not-positive", detail=detail, pointer=f"{pointer}/sd"))


def _sight(sight: Sight, *, setups: tuple[str, ...], pointer: str) -> tuple[Problem, ...]:
    problems = []
    if sight.setup not in setups:
        detail = f"the sight to “{sight.target}” names setup “{sight.setup}”, which its survey does not have"
        problems.append(refusal(code="unknown-setup", detail=detail, pointer=f"{pointer}/setup"))
    if not sight.target:
        detail = "a sight names no target; name a benchmark or a point that another setup sees too"
        problems.append(refusal(code="target-missing", detail=detail, pointer=f"{pointer}/target"))
    if not isfinite(sight.rod_m) or abs(sight.rod_m) > LARGEST_HEIGHT_M["rod"]:
        detail = f"the rod reading to “{sight.target}” is {sight.rod_m:g} m; check its unit"
        problems.append(refusal(code="not-a-rod-reading", detail=detail, pointer=f"{pointer}/rod"))
    if sight.distance_m is not None:
        what = f"“{sight.target}”"
        problems += distance_problems(sight.distance_m, what=what, pointer=f"{pointer}/distance")
    return tuple(problems)
