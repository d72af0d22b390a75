"""Setups that hang in the air, and sights that lead nowhere."""

from collections import Counter
from math import hypot

from slab_core.errors import Problem
from slab_core.rooms.wording import refusal
from slab_core.surveys.leveling import Node
from slab_core.surveys.model import Benchmark, ProfileLine, SetupKey, Survey
from slab_core.surveys.sights import setups_in_order, sight_rows, used_setups


def tie_problems(
    *,
    surveys: tuple[Survey, ...],
    benchmarks: tuple[Benchmark, ...],
    datum: SetupKey | None,
    tied: set[Node],
) -> tuple[Problem, ...]:
    """A refusal for each setup read from that nothing ties to the datum, and findings about the ties."""
    used = used_setups(surveys)
    problems = []
    for key, setup, pointer in setups_in_order(surveys):
        if key == datum:
            problems.append(_datum(setup.id, pointer=pointer))
        if ("setup", *key) in tied:
            continue
        problems.append(
            _untied(setup.id, pointer=pointer) if key in used else _unused(setup.id, pointer=pointer)
        )
    return (*problems, *_seen_once(surveys, benchmarks=benchmarks))


def _datum(setup: str, *, pointer: str) -> Problem:
    detail = (
        f"the job has no benchmark: heights are counted from the line of sight of setup “{setup}” (its "
        "height is 0), and thresholds must be too"
    )
    return Problem(code="datum-from-setup", detail=detail, pointer=pointer)


def _untied(setup: str, *, pointer: str) -> Problem:
    detail = (
        f"setup “{setup}” is tied to nothing, so its readings have no height; add a rod reading from it to a "
        "benchmark, or to a point that a tied setup sees too"
    )
    return refusal(code="setup-untied", detail=detail, pointer=pointer)


def _unused(setup: str, *, pointer: str) -> Problem:
    detail = f"setup “{setup}” is tied to nothing; no reading is from it, so it changes nothing"
    return Problem(code="setup-unused", detail=detail, pointer=pointer)


def _seen_once(surveys: tuple[Survey, ...], *, benchmarks: tuple[Benchmark, ...]) -> list[Problem]:
    rows = sight_rows(surveys)
    count = Counter(row.sight.target for row in rows)
    marks = {mark.id for mark in benchmarks}
    return [
        Problem(
            code="turning-point-seen-once",
            detail=(
                f"“{row.sight.target}” is no benchmark and only setup “{row.sight.setup}” sees it, so the "
                "sight ties nothing; check its name"
            ),
            pointer=f"{row.pointer}/target",
        )
        for row in rows
        if row.sight.target not in marks and count[row.sight.target] == 1
    ]


def line_findings(surveys: tuple[Survey, ...]) -> tuple[Problem, ...]:
    """Findings for lines whose readings run on past their end."""
    findings = []
    for i, survey in enumerate(surveys):
        for k, line in enumerate(survey.lines):
            (x0, y0), (x1, y1) = line.start, line.end
            run, given = line.spacing_m * (len(line.value_m) - 1), hypot(x1 - x0, y1 - y0)
            if run > given + line.spacing_m / 2:
                findings.append(_past_end(line, run_m=run, given_m=given, pointer=f"/surveys/{i}/lines/{k}"))
    return tuple(findings)


def _past_end(line: ProfileLine, *, run_m: float, given_m: float, pointer: str) -> Problem:
    detail = (
        f"the {len(line.value_m)} readings of line “{line.id}” take {run_m:.3f} m, but its ends are "
        f"{given_m:.3f} m apart; the spacing is followed: check it, the ends, and the readings"
    )
    return Problem(code="line-past-its-end", detail=detail, pointer=f"{pointer}/end")
