"""Which moisture reading holds for which spread, where a result would expire and the test is taken again."""

from dataclasses import dataclass

from slab_core.takeoff.model import Task

LATE = 0.75
"""A further test is set once this share of the spreads before it is laid, so that it has settled when they
are (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Retest:
    """A test taken again in a phase: the positions of the test, its reading, and the spreads it holds for.

    A later one is set after the spread `after` and read after the spread `before`, both by position; the
    first one has neither: it goes by the order of work.
    """

    test: int
    reading: int
    spreads: tuple[int, ...]
    after: int | None = None
    before: int | None = None


def retests_of(*, tasks: tuple[Task, ...]) -> tuple[Retest, ...]:
    """Every test taken again; the spreads of its phase are shared out evenly and in their order."""
    found: list[Retest] = []
    for phase in sorted({task.phase for task in tasks if task.code == "moisture-retest"}):
        tests = _rows(tasks, "moisture-retest", phase)
        readings = _rows(tasks, "moisture-reread", phase)
        spreads = _rows(tasks, "spread", phase)
        earlier: tuple[int, ...] = ()
        for n, (test, reading) in enumerate(zip(tests, readings, strict=True)):
            mine = tuple(row for j, row in enumerate(spreads) if j * len(tests) // len(spreads) == n)
            after = earlier[int(LATE * len(earlier))] if earlier else None
            before = earlier[-1] if earlier else None
            found.append(Retest(test=test, reading=reading, spreads=mine, after=after, before=before))
            earlier = mine
    return tuple(found)


def _rows(tasks: tuple[Task, ...], code: str, phase: int) -> list[int]:
    return [i for i, task in enumerate(tasks) if task.code == code and task.phase == phase]
