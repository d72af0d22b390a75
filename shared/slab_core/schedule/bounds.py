"""What no plan can beat: earliest starts, and the least time the crew and each machine need."""

from slab_core.schedule.axis import Axis
from slab_core.schedule.grid import Puzzle, ready_slot


def heads(*, puzzle: Puzzle, axis: Axis) -> list[int]:
    """The earliest start slot of every activity if the crew were endless."""
    earliest = [0] * puzzle.count
    for index in puzzle.order:
        for link in puzzle.before[index]:
            end = earliest[link.earlier] + puzzle.shortest(link.earlier)
            earliest[index] = max(earliest[index], ready_slot(axis=axis, end=end, least=link.least))
        start = earliest[index]
        if puzzle.whole[index] and start + puzzle.shortest(index) > axis.day_end(start):
            earliest[index] = axis.day_end(start)
    return earliest


def finish_bound(*, puzzle: Puzzle, heads: list[int]) -> int:
    """A slot before which no plan can have ended."""
    rows = range(puzzle.count)
    longest = max(heads[i] + puzzle.shortest(i) for i in rows)
    effort = sum(min(mode.people * mode.length for mode in puzzle.modes[i]) for i in rows)
    alone = [_in_turn(puzzle, heads, group) for group in one_at_a_time(puzzle=puzzle)]
    return max([longest, -(-effort // puzzle.crew), *alone])


def one_at_a_time(*, puzzle: Puzzle) -> tuple[tuple[int, ...], ...]:
    """Groups of activities of which no two can run at once: those of one machine, and those that each take
    more than half the crew."""
    rows = range(puzzle.count)
    groups = [tuple(i for i in rows if puzzle.machines[i] == m) for m in sorted(set(puzzle.machines) - {""})]
    groups.append(tuple(i for i in rows if 2 * puzzle.modes[i][0].people > puzzle.crew))
    return tuple(group for group in groups if len(group) > 1)


def _in_turn(puzzle: Puzzle, heads: list[int], group: tuple[int, ...]) -> int:
    """The greatest bound over the group's activities that cannot start before some slot."""
    by_head = sorted(group, key=lambda i: heads[i])
    lengths = [puzzle.shortest(i) for i in by_head]
    return max(heads[i] + sum(lengths[n:]) for n, i in enumerate(by_head))
