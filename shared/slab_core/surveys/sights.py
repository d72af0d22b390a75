"""The sights of all surveys as height differences, and the datum they are tied to."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from slab_core.surveys.collimation import LineOfSight, lines_of_sight
from slab_core.surveys.leveling import Difference, Node
from slab_core.surveys.model import Benchmark, Setup, SetupKey, Sight, Survey

EXACT_BELOW_M = 1e-6
"""A benchmark known better than this is taken as exact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One sight of one survey, with where it was posted.

    `rod_m` and its `sd_m` are those of a level line of sight, as far as a two-peg check tells.
    """

    survey: str
    sight: Sight
    rod_m: float
    sd_m: float
    pointer: str

    def nodes(self) -> tuple[Node, Node]:
        """The setup and the point that this sight ties together."""
        return ("setup", self.survey, self.sight.setup), ("point", self.sight.target)

    def difference(self) -> Difference:
        """The setup's line of sight is the rod reading above the point."""
        setup, point = self.nodes()
        return Difference(upper=setup, lower=point, value_m=self.rod_m, sd_m=self.sd_m)


def sight_rows(surveys: tuple[Survey, ...]) -> tuple[Row, ...]:
    """Every sight, in order."""
    lines = lines_of_sight(surveys)
    return tuple(
        _row(
            survey, sight=sight, line=lines.get((survey.id, sight.setup)), pointer=f"/surveys/{i}/sights/{k}"
        )
        for i, survey in enumerate(surveys)
        for k, sight in enumerate(survey.sights)
    )


def _row(survey: Survey, *, sight: Sight, line: LineOfSight | None, pointer: str) -> Row:
    sd = next(setup.sd_m for setup in survey.setups if setup.id == sight.setup)
    distance = np.array([np.nan if sight.distance_m is None else sight.distance_m])
    too_much, unsure = (line or LineOfSight()).excess(distance)
    return Row(
        survey=survey.id,
        sight=sight,
        rod_m=sight.rod_m - float(too_much[0]),
        sd_m=float(np.hypot(sd, unsure[0])),
        pointer=pointer,
    )


def setups_in_order(surveys: tuple[Survey, ...]) -> Iterator[tuple[SetupKey, Setup, str]]:
    """Every setup with its key and pointer."""
    for i, survey in enumerate(surveys):
        for k, setup in enumerate(survey.setups):
            yield (survey.id, setup.id), setup, f"/surveys/{i}/setups/{k}"


def used_setups(surveys: tuple[Survey, ...]) -> set[SetupKey]:
    """Setups from which places on the floor were read."""
    used: set[SetupKey] = set()
    for survey in surveys:
        for readings in survey.readings:
            if readings.kind == "rod":
                numbers = np.unique(readings.setup).tolist()
                used.update((survey.id, survey.setups[number].id) for number in numbers)
        used.update((survey.id, line.setup) for line in survey.lines if line.kind == "rod")
    return used


def datum_setup(*, surveys: tuple[Survey, ...], benchmarks: tuple[Benchmark, ...]) -> SetupKey | None:
    """The setup whose line of sight is the datum, if nothing else gives one.

    That is the first one read from, and only in a job without benchmarks and without elevations,
    whose own datum a setup of height 0 would contradict.
    """
    if benchmarks or any(_has_elevations(survey) for survey in surveys):
        return None
    used = used_setups(surveys)
    return next((key for key, _, _ in setups_in_order(surveys) if key in used), None)


def _has_elevations(survey: Survey) -> bool:
    placed = any(block.kind == "elevation" and len(block.value_m) for block in survey.readings)
    return placed or any(line.kind == "elevation" for line in survey.lines)


def benchmark_differences(
    *, benchmarks: tuple[Benchmark, ...], nodes: set[Node]
) -> tuple[dict[Node, float], tuple[tuple[int, Difference], ...]]:
    """Of the benchmarks among `nodes`: exact heights, and observed ones with the benchmark's number."""
    known: dict[Node, float] = {}
    observed = []
    for k, mark in enumerate(benchmarks):
        node: Node = ("point", mark.id)
        if node in nodes and mark.sd_m < EXACT_BELOW_M:
            known[node] = mark.elevation_m
        elif node in nodes:
            difference = Difference(upper=node, lower=None, value_m=mark.elevation_m, sd_m=mark.sd_m)
            observed.append((k, difference))
    return known, tuple(observed)
