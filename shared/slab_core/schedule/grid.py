"""The plan as whole numbers: activities by position, lengths in slots of worked time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter
from math import lcm

from slab_core.materials.rates_model import Rates
from slab_core.schedule.axis import SLOT_MINUTES, Axis
from slab_core.schedule.model import Activity
from slab_core.schedule.people import Choice

FILLS_WAITS = frozenset({"pre-cut"})
"""Work that needs nothing but hands, and so belongs into the waits of the rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """`later` starts at least, and at most if set, so many elapsed minutes after `earlier` ends."""

    earlier: int
    later: int
    least: int
    greatest: int | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One way to do an activity: so many people for so many slots."""

    people: int
    length: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Puzzle:
    """What a solver is given. `modes[i]`: fewest people first; `whole[i]`: not over a night; `loads[i]` count
    on the day on which the activity begins, and no day has more than `day_load`, unless that is 0;
    `fills_waits[i]`: done where other work leaves people idle; `order` is a topological order."""

    modes: tuple[tuple[Mode, ...], ...]
    machines: tuple[str, ...]
    whole: tuple[bool, ...]
    loads: tuple[int, ...]
    day_load: int
    fills_waits: tuple[bool, ...]
    links: tuple[Link, ...]
    crew: int
    order: tuple[int, ...]
    before: tuple[tuple[Link, ...], ...]
    after: tuple[tuple[Link, ...], ...]

    @property
    def count(self) -> int:
        """Number of activities."""
        return len(self.modes)

    def shortest(self, index: int) -> int:
        """Slots of an activity with the most people."""
        return self.modes[index][-1].length

    def without_greatest(self, *, from_minutes: int = 0) -> Puzzle:
        """The same with every greatest lag of so many minutes or more dropped."""
        links = tuple(
            replace(link, greatest=None) if (link.greatest or 0) >= from_minutes else link
            for link in self.links
        )
        before, after = _by(links, self.count, False), _by(links, self.count, True)
        return replace(self, links=links, before=before, after=after)

    def settled_on(self, modes: tuple[Mode, ...]) -> Puzzle:
        """The same with no choice left."""
        return replace(self, modes=tuple((mode,) for mode in modes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """A start slot and a mode for every activity."""

    starts: tuple[int, ...]
    modes: tuple[Mode, ...]

    def end(self, index: int) -> int:
        """The slot after an activity's last one."""
        return self.starts[index] + self.modes[index].length

    @property
    def finish(self) -> int:
        """The slot after the last one worked."""
        return max(self.end(i) for i in range(len(self.starts)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A plan, a proven bound on its finish, and whether the two are equal."""

    places: Places
    bound: int
    optimal: bool


def puzzle_of(
    *,
    activities: tuple[Activity, ...],
    choices: tuple[tuple[Choice, ...], ...],
    crew: int,
    longest_day: int,
    rates: Rates | None = None,
) -> Puzzle:
    """Whole numbers for the solvers. A day takes as many bags of pours as `rates` say, or any number.

    What should not run over a night has only the modes that fit into a day; if none does it may split: the
    caller reports it.

    Raises
    ------
    ValueError
        when activities wait for each other in a circle.
    """
    links = _links(activities)
    modes, whole = [], []
    for activity, several in zip(activities, choices, strict=True):
        all_modes = tuple(Mode(people=c.people, length=-(-c.minutes // SLOT_MINUTES)) for c in several)
        fit = tuple(m for m in all_modes if m.length <= longest_day)
        whole.append(not activity.splits_over_nights and bool(fit))
        modes.append(fit if whole[-1] else all_modes)
    return Puzzle(
        modes=tuple(modes),
        machines=tuple(activity.machine for activity in activities),
        whole=tuple(whole),
        loads=tuple(_load(activity, rates) for activity in activities),
        day_load=_day_load(rates) if rates else 0,
        fills_waits=tuple(activity.code in FILLS_WAITS for activity in activities),
        links=links,
        crew=crew,
        order=_order(activities, links),
        before=_by(links, len(activities), False),
        after=_by(links, len(activities), True),
    )


def _load(activity: Activity, rates: Rates | None) -> int:
    return activity.bags * (_day_load(rates) // rates.most_bags(free=activity.free)) if rates else 0


def _day_load(rates: Rates) -> int:
    """A day in a unit of which a bag is a whole number, poured either way."""
    return lcm(rates.bags_per_day, rates.free_bags_per_day)


def ready_slot(*, axis: Axis, end: int, least: int) -> int:
    """The first slot in which work may start that waits `least` elapsed minutes after an end."""
    return end if least <= 0 else max(end, axis.slot_from(axis.end_minute(end) + least))


def overdue(*, axis: Axis, link: Link, places: Places) -> int:
    """Elapsed minutes by which a greatest lag is exceeded; 0 when it is kept or there is none."""
    if link.greatest is None:
        return 0
    waited = axis.start_minute(places.starts[link.later]) - axis.end_minute(places.end(link.earlier))
    return max(0, waited - link.greatest)


def _links(activities: tuple[Activity, ...]) -> tuple[Link, ...]:
    place = {activity.id: i for i, activity in enumerate(activities)}
    return tuple(
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
