"""Surveys that cannot be computed with are refused with the row named."""

from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest

from slab_core.surveys.check import check_surveys
from slab_core.surveys.model import Benchmark, Gaps, ProfileLine, Readings, Setup, Sight, Survey

N = 20


def column(value: float, n: int = N) -> np.ndarray:
    return np.full(n, value)


ROD = Readings(
    kind="rod",
    x_m=np.arange(N, dtype=float),
    y_m=column(1.0),
    value_m=column(1.4),
    setup=np.zeros(N, dtype=np.int32),
    sd_m=column(0.0007),
    position_sd_m=column(0.05),
)
LEVELS = replace(ROD, kind="elevation", setup=np.full(N, -1, dtype=np.int32))
GAPS = Gaps(
    x0_m=column(0.0, 3),
    y0_m=column(1.0, 3),
    x1_m=column(2.0, 3),
    y1_m=column(1.0, 3),
    at=np.array([0.0, 0.5, 1.0]),
    gap_m=column(0.003, 3),
    sd_m=column(0.0003, 3),
)
LINE = ProfileLine(
    id="l", kind="rod", start=(0, 0), end=(3, 0), spacing_m=0.3, value_m=column(1.4, 11), setup="a"
)
SURVEY = Survey(
    id="first",
    setups=(Setup(id="a"),),
    sights=(Sight(setup="a", target="bm", rod_m=1.5),),
    readings=(ROD, LEVELS),
    gaps=(GAPS,),
    lines=(LINE,),
)
MARK = Benchmark(id="bm", elevation_m=10.0)


def found(*surveys: Survey, benchmarks: tuple[Benchmark, ...] = (MARK,)) -> list[tuple[str, str]]:
    problems = check_surveys(surveys=surveys, benchmarks=benchmarks)
    assert all(problem.severity == "refusal" and problem.detail for problem in problems)
    return [(problem.code, problem.pointer) for problem in problems]


def at(values: np.ndarray, row: int, value: float) -> np.ndarray:
    changed = values.copy()
    changed[row] = value
    return changed


def test_a_sound_survey_has_no_problems() -> None:
    assert found(SURVEY) == []


def test_no_survey_and_an_empty_one_are_refused() -> None:
    none = replace(
        ROD, **{f: np.empty(0) for f in ("x_m", "y_m", "value_m", "setup", "sd_m", "position_sd_m")}
    )
    assert found() == [("no-survey", "/surveys")]
    assert found(SURVEY, Survey(id="second")) == [("empty-survey", "/surveys/1")]
    assert found(Survey(id="only", readings=(none,))) == [("empty-survey", "/surveys/0")]


def test_what_else_is_wrong_with_an_empty_survey_is_said_at_once() -> None:
    bare = Survey(
        id="later", setups=(Setup(id="a", sd_m=0.0),), sights=(Sight(setup="b", target="bm", rod_m=1.5),)
    )
    assert found(bare) == [
        ("empty-survey", "/surveys/0"),
        ("sd-not-positive", "/surveys/0/setups/0/sd"),
        ("unknown-setup", "/surveys/0/sights/0/setup"),
    ]


@pytest.mark.parametrize(
    ("changed", "code", "pointer"),
    [
        (replace(ROD, value_m=ROD.value_m[:-1]), "columns-unequal", ""),
        (replace(ROD, x_m=np.ones((N, 1))), "columns-unequal", ""),
        (replace(ROD, value_m=at(ROD.value_m, 17, nan)), "not-finite", "/value/17"),
        (replace(ROD, x_m=at(ROD.x_m, 3, inf)), "not-finite", "/x/3"),
        (replace(ROD, y_m=at(ROD.y_m, 6, -2e5)), "too-far-out", "/y/6"),
        (replace(ROD, position_sd_m=at(ROD.x_m, 3, nan)), "not-finite", "/position_sd/3"),
        (replace(ROD, value_m=at(ROD.value_m, 4, 1400.0)), "value-absurd", "/value/4"),
        (replace(ROD, sd_m=at(ROD.sd_m, 5, 0.0)), "sd-not-positive", "/sd/5"),
        (replace(ROD, position_sd_m=at(ROD.sd_m, 5, -0.1)), "sd-negative", "/position_sd/5"),
        (replace(ROD, setup=at(ROD.setup, 2, 1)), "unknown-setup", "/setup/2"),
        (replace(ROD, setup=at(ROD.setup, 2, -1)), "unknown-setup", "/setup/2"),
        (replace(LEVELS, setup=ROD.setup[:]), "elevation-with-setup", "/setup/0"),
    ],
)
def test_an_unsound_column_is_refused_with_the_row_named(changed: Readings, code: str, pointer: str) -> None:
    assert found(replace(SURVEY, readings=(LEVELS, changed)))[0] == (code, f"/surveys/0/readings/1{pointer}")


def test_a_column_that_is_all_bad_names_twenty_rows_and_counts_the_rest() -> None:
    long = Readings(
        kind="elevation",
        x_m=column(0.0, 1000),
        y_m=column(0.0, 1000),
        value_m=column(nan, 1000),
        setup=np.full(1000, -1, dtype=np.int32),
        sd_m=column(0.001, 1000),
        position_sd_m=column(0.0, 1000),
    )
    problems = check_surveys(surveys=(Survey(id="s", readings=(long,)),), benchmarks=())
    assert len(problems) == 20
    assert "980 more" in problems[-1].detail


@pytest.mark.parametrize(
    ("changed", "code", "pointer"),
    [
        (replace(GAPS, at=np.array([0.0, 0.5, 1.2])), "gap-off-edge", "/at/2"),
        (replace(GAPS, at=np.array([-0.1, 0.5, 1.0])), "gap-off-edge", "/at/0"),
        (replace(GAPS, x1_m=at(GAPS.x1_m, 1, 0.0)), "edge-without-length", "/x1/1"),
        (replace(GAPS, y1_m=at(GAPS.y1_m, 2, 2e5)), "too-far-out", "/y1/2"),
        (replace(GAPS, gap_m=at(GAPS.gap_m, 1, nan)), "not-finite", "/gap/1"),
        (replace(GAPS, sd_m=at(GAPS.sd_m, 1, -1.0)), "sd-not-positive", "/sd/1"),
        (replace(GAPS, y0_m=GAPS.y0_m[:2]), "columns-unequal", ""),
        (replace(GAPS, rest0=column(0.0, 2)), "columns-unequal", ""),
        (replace(GAPS, rest0=at(column(0.2, 3), 1, nan)), "not-finite", "/rest0/1"),
        (replace(GAPS, rest0=at(column(0.2, 3), 1, -0.2)), "rest-off-edge", "/rest0/1"),
        (replace(GAPS, rest1=at(column(0.8, 3), 2, 1.2)), "rest-off-edge", "/rest1/2"),
        (
            replace(GAPS, rest0=column(0.5, 3), rest1=at(column(0.9, 3), 0, 0.51)),
            "rests-too-near",
            "/rest1/0",
        ),
    ],
)
def test_an_unsound_gap_is_refused(changed: Gaps, code: str, pointer: str) -> None:
    assert found(replace(SURVEY, gaps=(changed,))) == [(code, f"/surveys/0/gaps/0{pointer}")]


@pytest.mark.parametrize(
    ("changed", "code", "pointer"),
    [
        (replace(LINE, value_m=column(1.4, 1)), "line-too-short", "/value"),
        (replace(LINE, value_m=at(LINE.value_m, 10, nan)), "not-finite", "/value/10"),
        (replace(LINE, spacing_m=0.0), "spacing-not-positive", "/spacing"),
        (replace(LINE, spacing_m=nan), "spacing-not-positive", "/spacing"),
        (replace(LINE, end=(0, 0)), "line-without-length", "/end"),
        (replace(LINE, end=(nan, 0)), "not-finite", "/end/0"),
        (replace(LINE, setup="b"), "unknown-setup", "/setup"),
        (replace(LINE, kind="elevation"), "elevation-with-setup", "/setup"),
        (replace(LINE, sd_m=0.0), "sd-not-positive", "/sd"),
        (replace(LINE, position_sd_m=-1.0), "sd-negative", "/position_sd"),
        (replace(LINE, value_m=at(LINE.value_m, 2, 55.0)), "value-absurd", "/value/2"),
    ],
)
def test_an_unsound_line_is_refused(changed: ProfileLine, code: str, pointer: str) -> None:
    assert found(replace(SURVEY, lines=(changed,))) == [(code, f"/surveys/0/lines/0{pointer}")]


@pytest.mark.parametrize(
    ("sight", "code", "pointer"),
    [
        (Sight(setup="b", target="bm", rod_m=1.5), "unknown-setup", "/setup"),
        (Sight(setup="a", target="", rod_m=1.5), "target-missing", "/target"),
        (Sight(setup="a", target="bm", rod_m=nan), "not-a-rod-reading", "/rod"),
        (Sight(setup="a", target="bm", rod_m=1500.0), "not-a-rod-reading", "/rod"),
    ],
)
def test_an_unsound_sight_is_refused(sight: Sight, code: str, pointer: str) -> None:
    assert found(replace(SURVEY, sights=(sight,))) == [(code, f"/surveys/0/sights/0{pointer}")]


def test_setups_benchmarks_and_ids_are_checked_too() -> None:
    bad = replace(SURVEY, setups=(Setup(id="a"), Setup(id="a", sd_m=0.0)), lines=(LINE, LINE))
    marks = (MARK, replace(MARK, sd_m=-1.0), Benchmark(id="hill", elevation_m=inf))
    assert set(found(bad, bad, benchmarks=marks)) >= {
        ("survey-id-duplicate", "/surveys/1/id"),
        ("benchmark-id-duplicate", "/benchmarks/1/id"),
        ("sd-not-positive", "/benchmarks/1/sd"),
        ("not-a-height", "/benchmarks/2/elevation"),
        ("setup-id-duplicate", "/surveys/0/setups/1/id"),
        ("sd-not-positive", "/surveys/0/setups/1/sd"),
        ("line-id-duplicate", "/surveys/0/lines/1/id"),
    }
