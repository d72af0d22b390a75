"""When a milestone of the payments is reached, by the estimate's own plan."""

from difflib import get_close_matches

from slab_core.schedule.model import Schedule
from slab_core.takeoff.codes import TASK

SIGNING = "signing"
"""The milestone at which a deposit is due."""

CORRECTION = frozenset(
    {"grind", "hand-grind", "bond-grind", "edge-grind", "pins", "dams", "prime", "pour", "edges", "patch"}
    | {"skim", "polish", "finish", "verify"}
)
_GROUPS = {"correction": CORRECTION, "laying": frozenset({"spread"})}
KNOWN = "signing, start, after correction, after laying, hand-over, or any task such as tear-out or pour"
"""What has a date, in words."""


_POINTS = (SIGNING, "start", "hand-over", "finish")
_WORK = (*_GROUPS, *TASK)
_NAMES = (*_POINTS, *(f"after-{work}" for work in _WORK))


def is_milestone(name: str) -> bool:
    """Whether some plan can reach it."""
    plain = plain_name(name)
    return plain in _POINTS or plain.removeprefix("after-") in _WORK


def no_milestone(name: str) -> str:
    """That it is none, with the likeliest one and what there is."""
    near = get_close_matches(plain_name(name), _NAMES, n=1)
    meant = f" (is {near[0]!r} meant?)" if near else ""
    return f"no plan says when {name!r} is reached{meant}; there are {KNOWN}"


def plain_name(milestone: str) -> str:
    """Without capitals, its words joined by hyphens."""
    return "-".join(milestone.lower().replace("-", " ").split())


def reached_minute(*, milestone: str, schedule: Schedule) -> int | None:
    """The UTC minute at which the last work of a milestone ends, or all work begins for start; None at
    signing, and for what the plan does not know."""
    name = plain_name(milestone)
    if not schedule.placed or name == SIGNING:
        return None
    if name == "start":
        return schedule.start_minute
    if name in ("hand-over", "finish"):
        return schedule.finish_minute
    work = name.removeprefix("after-")
    codes = _GROUPS.get(work, frozenset({work} if work in TASK else ()))
    ours = {activity.id for activity in schedule.activities if activity.code in codes}
    ends = [placed.end_minute for placed in schedule.placed if placed.activity in ours]
    return max(ends, default=None)
