"""Projects so small that all orders of them can be counted out."""

from hypothesis import strategies as st

from slab_core.schedule.project.model import Project


@st.composite
def small_projects(draw: st.DrawFn) -> Project:
    """At most five activities, some of no length."""
    count = draw(st.integers(1, 5))
    resources = draw(st.integers(1, 3))
    capacities = tuple(draw(st.integers(1, 4)) for _ in range(resources))
    return Project(
        lengths=tuple(draw(st.integers(0, 4)) for _ in range(count)),
        demands=tuple(tuple(draw(st.integers(0, c)) for c in capacities) for _ in range(count)),
        capacities=capacities,
        before=tuple(tuple(j for j in range(i) if draw(st.booleans())) for i in range(count)),
    )


def in_order(project: Project, order: tuple[int, ...]) -> int:
    """The makespan of placing each as early as it can, one after the other, slot by slot."""
    starts: dict[int, int] = {}
    waiting = list(order)
    while waiting:
        i = next(i for i in waiting if all(j in starts for j in project.before[i]))
        waiting.remove(i)
        at = max((starts[j] + project.lengths[j] for j in project.before[i]), default=0)
        while not _fits(project, starts, i, at):
            at += 1
        starts[i] = at
    return max(starts[i] + project.lengths[i] for i in starts)


def _fits(project: Project, starts: dict[int, int], i: int, at: int) -> bool:
    for t in range(at, at + project.lengths[i]):
        busy = [j for j in starts if starts[j] <= t < starts[j] + project.lengths[j]]
        for k, capacity in enumerate(project.capacities):
            if project.demands[i][k] + sum(project.demands[j][k] for j in busy) > capacity:
                return False
    return True
