"""A project as the literature poses it: activities with lengths, demands on resources, and an order."""

from __future__ import annotations

from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

from slab_core.errors import refuse


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """The resource-constrained project scheduling problem, in whole units of time.

    `lengths[i]` and `demands[i][k]` of activity i, `capacities[k]` of resource k; `before[i]` are the
    activities that must have ended when i starts.
    """

    lengths: tuple[int, ...]
    demands: tuple[tuple[int, ...], ...]
    capacities: tuple[int, ...]
    before: tuple[tuple[int, ...], ...]

    @property
    def count(self) -> int:
        """Number of activities."""
        return len(self.lengths)

    @property
    def after(self) -> tuple[tuple[int, ...], ...]:
        """For each activity those that wait for it."""
        rows: list[list[int]] = [[] for _ in self.lengths]
        for later, earlier in enumerate(self.before):
            for one in earlier:
                rows[one].append(later)
        return tuple(tuple(row) for row in rows)

    def order(self) -> tuple[int, ...]:
        """A topological order. Raises graphlib.CycleError where there is none."""
        graph = {i: list(earlier) for i, earlier in enumerate(self.before)}
        return tuple(TopologicalSorter(graph).static_order())

    def tails(self) -> tuple[int, ...]:
        """The longest path from each activity's start to the end of the project."""
        longest = [0] * self.count
        after = self.after
        for i in reversed(self.order()):
            longest[i] = self.lengths[i] + max((longest[j] for j in after[i]), default=0)
        return tuple(longest)


def check(project: Project) -> None:
    """See that the project can be done at all.

    Raises
    ------
    InputRefused
        naming the activity: a negative length or demand, a demand beyond the capacity, an unknown
        predecessor, or a circle.
    """
    if len({project.count, len(project.demands), len(project.before)}) != 1:
        raise refuse(
            code="project-uneven",
            detail=f"{project.count} lengths, {len(project.demands)} rows of demands and "
            f"{len(project.before)} of predecessors; all three must be as many as activities",
        )
    for i, length in enumerate(project.lengths):
        if length < 0:
            raise _wrong(f"/lengths/{i}", f"activity {i} has the length {length}; it must not be negative")
        _check_demands(project, i)
        for earlier in project.before[i]:
            if not 0 <= earlier < project.count:
                raise _wrong(
                    f"/before/{i}",
                    f"activity {i} waits for {earlier}; known are 0 to {project.count - 1}",
                )
    try:
        project.order()
    except CycleError as error:
        circle = ", ".join(map(str, error.args[1]))
        raise _wrong("/before", f"activities wait for each other in a circle: {circle}") from None


def _check_demands(project: Project, i: int) -> None:
    if len(project.demands[i]) != len(project.capacities):
        raise _wrong(
            f"/demands/{i}",
            f"activity {i} has {len(project.demands[i])} demands for {len(project.capacities)} resources",
        )
    for k, (demand, capacity) in enumerate(zip(project.demands[i], project.capacities, strict=True)):
        if not 0 <= demand <= capacity:
            raise _wrong(
                f"/demands/{i}/{k}",
                f"activity {i} demands {demand} of resource {k}; it must be 0 to {capacity}, the capacity",
            )


def _wrong(pointer: str, detail: str) -> Exception:
    return refuse(code="project-impossible", detail=detail, pointer=pointer)
