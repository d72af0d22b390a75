"""When a milestone of the payments is reached, by the estimate's own plan."""

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


def reached_minute(*, milestone: str, schedule: Schedule) -> int | None:
    """The UTC minute at which the last work of a milestone ends, or all work begins for start; None at
    signing, and for what the plan does not know."""
    name = "-".join(milestone.lower().replace("-", " ").split())
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
