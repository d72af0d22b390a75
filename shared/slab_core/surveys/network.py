"""Tying all setups of all surveys together by least squares."""

from dataclasses import dataclass, field
from math import sqrt

from slab_core.errors import InputRefused, Problem
from slab_core.rooms.model import Rooms
from slab_core.surveys.check import check_surveys, row_count
from slab_core.surveys.collimation import collimations
from slab_core.surveys.disagreement import Observation, disagreement
from slab_core.surveys.doubles import double_findings
from slab_core.surveys.leveling import Adjusted, Difference, Node, adjust_differences, components
from slab_core.surveys.model import Benchmark, Closure, Network, SetupHeight, SetupKey, Survey
from slab_core.surveys.placing import place_readings
from slab_core.surveys.rows import height_rows
from slab_core.surveys.sight_findings import sight_findings
from slab_core.surveys.sights import (
    Row,
    benchmark_differences,
    datum_setup,
    setups_in_order,
    sight_rows,
)
from slab_core.surveys.stretched import stretched_findings
from slab_core.surveys.ties import line_findings, tie_problems

_HEIGHT_DIGITS = 6
"""Setup heights are rounded to 0.001 mm, so that they can be part of a digest."""

_RESIDUAL_DIGITS = 9


@dataclass(slots=True)
class _Result:
    heights: dict[Node, tuple[float, float]] = field(default_factory=dict)
    closures: dict[str, Closure] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)


def adjust(
    *,
    rooms: Rooms,
    benchmarks: tuple[Benchmark, ...],
    surveys: tuple[Survey, ...],
    scanned: frozenset[str] = frozenset(),
) -> Network:
    """Heights of all setups above the datum, closures, and what a person must look at.

    Unknown are the heights of setups, of turning points and of benchmarks that are not exact; each
    sight observes a difference with its setup's accuracy, after what a two-peg check says of its line
    of sight is taken off. Turning points of one name are one point in all surveys. Floors that are
    `scanned` need no readings.

    Raises
    ------
    InputRefused
        with every problem of `check_surveys`.
    """
    refused = check_surveys(surveys=surveys, benchmarks=benchmarks)
    if refused:
        raise InputRefused(refused)
    datum = datum_setup(surveys=surveys, benchmarks=benchmarks)
    result = _adjusted(surveys=surveys, benchmarks=benchmarks, datum=datum)
    heights = _setup_heights(surveys, result=result)
    rows = height_rows(surveys=surveys, heights={(h.survey, h.setup): h.height_m for h in heights})
    strays, places = place_readings(rooms=rooms, surveys=surveys, rows=rows, scanned=scanned)
    ties = tie_problems(surveys=surveys, benchmarks=benchmarks, datum=datum, tied=set(result.heights))
    closures = tuple(result.closures.values())
    return Network(
        setup_heights=heights,
        closures=closures,
        largest_closure_m=max((abs(closure.residual_m) for closure in closures), default=0.0),
        reading_count=sum(row_count(survey) for survey in surveys),
        problems=(
            *ties,
            *result.problems,
            *sight_findings(surveys),
            *line_findings(surveys),
            *stretched_findings(surveys),
            *places,
            *double_findings(rows=rows, surveys=surveys),
        ),
        strays=strays,
        collimations=collimations(surveys),
    )


def _adjusted(
    *, surveys: tuple[Survey, ...], benchmarks: tuple[Benchmark, ...], datum: SetupKey | None
) -> _Result:
    result = _Result()
    rows = sight_rows(surveys)
    if datum is not None:
        result.heights[("setup", *datum)] = (0.0, 0.0)
    for nodes in components(links=[row.nodes() for row in rows]):
        own = tuple(row for row in rows if row.nodes()[0] in nodes)
        _adjust_component(own, nodes=nodes, benchmarks=benchmarks, datum=datum, result=result)
    order = {row.pointer: k for k, row in enumerate(rows)}
    result.closures = dict(sorted(result.closures.items(), key=lambda item: order[item[0]]))
    return result


def _adjust_component(
    rows: tuple[Row, ...],
    *,
    nodes: set[Node],
    benchmarks: tuple[Benchmark, ...],
    datum: SetupKey | None,
    result: _Result,
) -> None:
    known, marks = benchmark_differences(benchmarks=benchmarks, nodes=nodes)
    if datum is not None and ("setup", *datum) in nodes:
        known[("setup", *datum)] = 0.0
    if not known and not marks:
        return
    observations = (
        *(_sight_observation(row) for row in rows),
        *_mark_observations(benchmarks, marks, rows=rows),
    )
    adjusted = adjust_differences(differences=tuple(o.difference for o in observations), known=known)
    for node in nodes:
        result.heights[node] = (adjusted.height_m[node], adjusted.sd_m[node])
    for k, row in enumerate(rows):
        result.closures[row.pointer] = _closure(row, k=k, adjusted=adjusted)
    problem = disagreement(observations=observations, adjusted=adjusted)
    result.problems.extend([problem] if problem else [])


def _sight_observation(row: Row) -> Observation:
    name = f"the sight from setup “{row.sight.setup}” to “{row.sight.target}” (survey “{row.survey}”)"
    setups = (row.sight.setup,)
    return Observation(difference=row.difference(), name=name, setups=setups, pointer=row.pointer)


def _mark_observations(
    benchmarks: tuple[Benchmark, ...], marks: tuple[tuple[int, Difference], ...], *, rows: tuple[Row, ...]
) -> tuple[Observation, ...]:
    return tuple(
        Observation(
            difference=difference,
            name=f"the height of benchmark “{benchmarks[k].id}”",
            setups=tuple(row.sight.setup for row in rows if row.sight.target == benchmarks[k].id),
            pointer=f"/benchmarks/{k}",
        )
        for k, difference in marks
    )


def _closure(row: Row, *, k: int, adjusted: Adjusted) -> Closure:
    return Closure(
        survey=row.survey,
        setup=row.sight.setup,
        target=row.sight.target,
        residual_m=round(float(adjusted.residual_m[k]), _RESIDUAL_DIGITS) + 0.0,
        expected_sd_m=row.sd_m * sqrt(float(adjusted.redundancy[k])),
    )


def _setup_heights(surveys: tuple[Survey, ...], *, result: _Result) -> tuple[SetupHeight, ...]:
    found = []
    for (survey, setup), _, _ in setups_in_order(surveys):
        if ("setup", survey, setup) in result.heights:
            height, sd = result.heights[("setup", survey, setup)]
            height, sd = round(height, _HEIGHT_DIGITS), round(sd, _HEIGHT_DIGITS)
            found.append(SetupHeight(survey=survey, setup=setup, height_m=height, sd_m=sd))
    return tuple(found)
