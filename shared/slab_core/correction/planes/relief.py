"""By how much a limit would have to give way for a plane to be allowed."""

from math import ceil

from slab_core.correction.feasible import caps
from slab_core.correction.planes.least_miss import MET_MM, least_miss
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange, said_all
from slab_core.units.display import inches, millimetres
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

FREE = 1e6
"""A cap in mm that holds nothing back."""

DOORWAYS = "ramps, other transitions and cut doors are weighed where options.doorways allows them"

CLOSE_MM = 0.01
SHOWN_M = INCH_M / 32


def what_would_do(*, task: Task, worst_mm: float) -> str:
    """Each limit that would do if it alone gave way, and the least by which; `worst_mm` is the greatest miss
    of the plane that misses the doorways least."""
    deeper = [
        f"{at_least(more)} more of {what}"
        for what, more in more_needed(task=task, doors=task.doors).items()
        if more < FREE
    ]
    ranges = f"ranges that reach {at_least(worst_mm)} further at the {said_all(task.doors)} that are missed"
    ways = f"; {DOORWAYS}" if any(door.is_door for door in task.doors) else ""
    return f"What would do: {', or '.join([*deeper, ranges])}{ways}."


def more_needed(*, task: Task, doors: tuple[DoorRange, ...]) -> dict[str, float]:
    """How much more grinding, and how much more fill, in mm, would let a plane of the family meet the doors;
    FREE where that alone never does. What is forbidden altogether is not in it, nor fill that the
    compound's one lift holds."""
    may_grow = {"grinding": not task.limits.no_grinding, "fill": task.family.fills and not task.case.one_lift}
    return {
        what: _more(task, doors=doors, grind_grows=what == "grinding")
        for what, grows in may_grow.items()
        if grows
    }


def at_least(mm: float) -> str:
    """Rounded up to what a tape shows, so that it is never too little."""
    metres = max(1, ceil(round(mm * 1e-3 / SHOWN_M, 6))) * SHOWN_M
    return f"{inches(metres)} ({millimetres(ceil(metres * 1e4 - 1e-6) / 1e4)})"


def _more(task: Task, *, doors: tuple[DoorRange, ...], grind_grows: bool) -> float:
    """By bisection: planes exist from some value on."""
    if not _is_enough(task, doors=doors, more_mm=FREE, grind_grows=grind_grows):
        return FREE
    low, high = 0.0, 1.0
    while not _is_enough(task, doors=doors, more_mm=high, grind_grows=grind_grows):
        low, high = high, 2.0 * high
    while high - low > CLOSE_MM:
        middle = (low + high) / 2.0
        if _is_enough(task, doors=doors, more_mm=middle, grind_grows=grind_grows):
            high = middle
        else:
            low = middle
    return high


def _is_enough(task: Task, *, doors: tuple[DoorRange, ...], more_mm: float, grind_grows: bool) -> bool:
    case = task.case
    wider = caps(
        case,
        grind_mm=case.grind_cap_mm + more_mm * grind_grows,
        fill_mm=case.fill_cap_mm + more_mm * (not grind_grows),
    )
    found = least_miss(task=task, doors=doors, caps=wider)
    return found is not None and found.worst_mm <= MET_MM
