"""The plan as whole numbers: activities by position, durations in slots of worked time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter

from slab_core.schedule.axis import SLOT_MINUTES, Axis
from slab_core.schedule.model import Activity


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """`later` starts at least, and at most if set, so many elapsed minutes after `earlier` ends."""

    earlier: int
    later: int
    least: int
    greatest: int | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Puzzle:
    """What a solver is given. `whole[i]`: not over a night. `order` is a topological order."""

    durations: tuple[int, ...]
    people: tuple[int, ...]
    machines: tuple[str, ...]
    whole: tuple[bool, ...]
    links: tuple[Link, ...]
    crew: int
    order: tuple[int, ...]
    before: tuple[tuple[Link, ...], ...]
    after: tuple[tuple[Link, ...], ...]

    @property
    def count(self) -> int:
        """Number of activities."""
        return len(self.durations)

    def without_greatest(self) -> Puzzle:
        """The same with every greatest lag dropped."""
        links = tuple(replace(link, greatest=None) for link in self.links)
        return replace(
            self, links=links, before=_by(links, self.count, False), after=_by(links, self.count, True)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A start slot for every activity, a proven bound on the last end, and the name of its quality."""

    starts: tuple[int, ...]
    bound: int
    optimal: bool

    def finish(self, puzzle: Puzzle) -> int:
        """The slot after the last one worked."""
        return max(s + d for s, d in zip(self.starts, puzzle.durations, strict=True))


def puzzle_of(*, activities: tuple[Activity, ...], crew: int, longest_day: int) -> Puzzle:
    """Whole numbers for the solvers.

    An activity longer than any day may split over a night even if it should not: the caller reports it.

    Raises
    ------
    ValueError
        when activities wait for each other in a circle.
    """
    place = {activity.id: i for i, activity in enumerate(activities)}
    links = tuple(
        Link(
            earlier=place[lag.after],
            later=place[activity.id],
            least=lag.least_minutes,
            greatest=lag.greatest_minutes,
            why=lag.why,
        )
        for activity in activities
        for lag in activity.lags
    )
    durations = tuple(-(-activity.work_minutes // SLOT_MINUTES) for activity in activities)
    pairs = zip(activities, durations, strict=True)
    return Puzzle(
        durations=durations,
        people=tuple(activity.people for activity in activities),
        machines=tuple(activity.machine for activity in activities),
        whole=tuple(not a.splits_over_nights and d <= longest_day for a, d in pairs),
        links=links,
        crew=max([crew, *(activity.people for activity in activities)]),
        order=_order(activities, links),
        before=_by(links, len(activities), False),
        after=_by(links, len(activities), True),
    )


def ready_slot(*, axis: Axis, end: int, least: int) -> int:
    """The first slot in which work may start that waits `least` elapsed minutes after an end."""
    return end if least <= 0 else max(end, axis.slot_from(axis.end_minute(end) + least))


def overdue(*, axis: Axis, link: Link, end: int, start: int) -> int:
    """Elapsed minutes by which a greatest lag is exceeded; 0 when it is kept or there is none."""
    if link.greatest is None:
        return 0
    return max(0, axis.start_minute(start) - axis.end_minute(end) - link.greatest)


def _order(activities: tuple[Activity, ...], links: tuple[Link, ...]) -> tuple[int, ...]:
    graph: dict[int, list[int]] = {i: [] for i in range(len(activities))}
    for link in links:
        graph[link.later].append(link.earlier)
    try:
        return tuple(TopologicalSorter(graph).static_order())
    except CycleError as error:
        names = ", ".join(activities[i].id for i in error.args[1])
        raise ValueError(f"activities wait for each other in a circle: {names}") from None


def _by(links: tuple[Link, ...], count: int, earlier: bool) -> tuple[tuple[Link, ...], ...]:
    rows: list[list[Link]] = [[] for _ in range(count)]
    for link in links:
        rows[link.earlier if earlier else link.later].append(link)
    return tuple(tuple(row) for row in rows)
