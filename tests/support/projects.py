"""Projects for tests and benchmarks: a reader of the literature's files, and a generator of hard ones."""

import re
from pathlib import Path

import numpy as np

from slab_core.schedule.project.model import Project


def read_project(path: Path) -> Project:
    """A single-mode project of the format of Kolisch and Sprecher's library (`.sm`)."""
    text = path.read_text()
    after = _rows(text, "PRECEDENCE RELATIONS")
    work = _rows(text, "REQUESTS/DURATIONS")
    before: list[list[int]] = [[] for _ in after]
    for job, _, _, *followers in after:
        for other in followers:
            before[other - 1].append(job - 1)
    return Project(
        lengths=tuple(row[2] for row in work),
        demands=tuple(tuple(row[3:]) for row in work),
        capacities=tuple(_rows(text, "RESOURCEAVAILABILITIES")[0]),
        before=tuple(map(tuple, before)),
    )


def _rows(text: str, title: str) -> list[list[int]]:
    """The lines of whole numbers of one section."""
    section = text.split(title, 1)[1].split("*****", 1)[0]
    lines = (line.split() for line in section.splitlines())
    return [[int(word) for word in words] for words in lines if words and all(map(_is_number, words))]


def _is_number(word: str) -> bool:
    return re.fullmatch(r"\d+", word) is not None


def generated_project(
    *, seed: int, count: int, complexity: float, factor: float, strength: float, resources: int = 4
) -> Project:
    """A random project by the parameters that Kolisch, Sprecher and Drexl (1995) describe (from memory).

    `complexity` is the mean number of arcs that no other path implies, for an activity, with start and end
    counted; `factor` the share of resources that an activity uses; `strength` 0 gives each resource the
    greatest demand of one activity, 1 the peak of the plan of earliest starts. Lengths and demands are even
    over 1 to 10, and nothing has more than three predecessors or successors.
    """
    rng = np.random.default_rng(seed)
    lengths = rng.integers(1, 11, count)
    before = _network(rng, count=count, arcs=round(complexity * (count + 2)))
    demands = np.where(_used(rng, count, resources, factor), rng.integers(1, 11, (count, resources)), 0)
    least = demands.max(axis=0)
    peak = _peak(lengths, demands, before)
    capacities = least + np.round(strength * np.maximum(0, peak - least)).astype(int)
    return Project(
        lengths=tuple(map(int, lengths)),
        demands=tuple(tuple(map(int, row)) for row in demands),
        capacities=tuple(int(max(1, c)) for c in capacities),
        before=tuple(tuple(sorted(row)) for row in before),
    )


def _network(rng: np.random.Generator, *, count: int, arcs: int) -> list[set[int]]:
    """Predecessors: each activity after the first three gets one, each but the last three a successor, and
    then arcs that nothing implies until there are enough, as far as chance finds them."""
    before: list[set[int]] = [set() for _ in range(count)]
    after: list[set[int]] = [set() for _ in range(count)]

    def join(earlier: int, later: int) -> None:
        before[later].add(earlier)
        after[earlier].add(later)

    for later in range(3, count):
        room = [i for i in range(later) if len(after[i]) < 3]
        join(int(rng.choice(room)), later)
    for earlier in range(count - 3):
        room = [j for j in range(earlier + 1, count) if len(before[j]) < 3]
        if not after[earlier] and room:
            join(earlier, int(rng.choice(room)))
    for _ in range(200 * arcs):
        ends = sum(not row for row in before) + sum(not row for row in after)
        if sum(map(len, before)) + ends >= arcs:
            break
        earlier, later = sorted(int(i) for i in rng.choice(count, 2, replace=False))
        fits = len(after[earlier]) < 3 and len(before[later]) < 3
        if fits and not _implied(before, after, earlier, later):
            join(earlier, later)
    return before


def _implied(before: list[set[int]], after: list[set[int]], earlier: int, later: int) -> bool:
    """Whether the arc follows from others, or would make another one follow."""
    ahead, behind = _reach(after, earlier), _reach(before, later)
    if later in ahead:
        return True
    sources, sinks = _reach(before, earlier) | {earlier}, _reach(after, later) | {later}
    return any(after[i] & sinks for i in sources) or earlier in behind


def _reach(steps: list[set[int]], start: int) -> set[int]:
    found: set[int] = set()
    waiting = [start]
    while waiting:
        for other in steps[waiting.pop()] - found:
            found.add(other)
            waiting.append(other)
    return found


def _used(rng: np.random.Generator, count: int, resources: int, factor: float) -> np.ndarray:
    """Which activity uses which resource: at least one each, `factor` of all."""
    used = np.zeros((count, resources), dtype=bool)
    used[np.arange(count), rng.integers(0, resources, count)] = True
    free = np.flatnonzero(~used.ravel())
    more = max(0, round(factor * count * resources) - count)
    used.ravel()[rng.permutation(free)[:more]] = True
    return used


def _peak(lengths: np.ndarray, demands: np.ndarray, before: list[set[int]]) -> np.ndarray:
    """The most of each resource that is in use at once if everything starts as early as it can."""
    starts = np.zeros(len(lengths), dtype=int)
    for later, earlier in enumerate(before):
        starts[later] = max((starts[i] + lengths[i] for i in earlier), default=0)
    use = np.zeros((int((starts + lengths).max()), demands.shape[1]), dtype=int)
    for start, length, row in zip(starts, lengths, demands, strict=True):
        use[start : start + length] += row
    return use.max(axis=0)


def broken(project: Project, starts: tuple[int, ...]) -> list[str]:
    """What a schedule breaks, counted slot by slot; nothing when it is right."""
    found = [
        f"{later} starts at {starts[later]}, before {earlier} ends, which started at {starts[earlier]}"
        for later in range(project.count)
        for earlier in project.before[later]
        if starts[later] < starts[earlier] + project.lengths[earlier]
    ]
    found += [f"{i} starts at {start}" for i, start in enumerate(starts) if start < 0]
    for t in range(max(start + length for start, length in zip(starts, project.lengths, strict=True))):
        busy = [i for i in range(project.count) if starts[i] <= t < starts[i] + project.lengths[i]]
        for k, capacity in enumerate(project.capacities):
            use = sum(project.demands[i][k] for i in busy)
            if use > capacity:
                found.append(f"at {t} resource {k} is used {use} times of {capacity}")
    return found
