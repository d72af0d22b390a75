"""Activities in words: what is done, and of several alike which one."""

import re

from slab_core.schedule.model import Activity

BAY = re.compile(r"-bay(\d+)-lift(\d+)(?:-part(\d+))?$")


def names(activities: tuple[Activity, ...]) -> tuple[str, ...]:
    """For each activity its work, in small letters: "mix, pour and strike off bay 2" or "spread 3".

    Floor and phase are named where the job has more than one, a lift where a bay has more than one.
    """
    floors = {a.floor for a in activities if a.floor}
    phases = {a.phase for a in activities if a.phase}
    lifts = any(_lift(part_of(a)) > 1 for a in activities)
    return tuple(_name(a, floors=len(floors) > 1, phases=len(phases) > 1, lifts=lifts) for a in activities)


def part_of(activity: Activity) -> str:
    """The part that an id ends in: a pour, a spread, the pours of a priming; "" where there is one only."""
    head = "/".join(part for part in (activity.floor or "job", str(activity.phase), activity.code) if part)
    return activity.id.removeprefix(head).lstrip("/")


def _name(activity: Activity, *, floors: bool, phases: bool, lifts: bool) -> str:
    text = f"{activity.what[:1].lower()}{activity.what[1:]}{_part(activity, lifts=lifts)}"
    where = [f"floor {activity.floor}"] if floors and activity.floor else []
    where += [f"phase {activity.phase}"] if phases and activity.phase else []
    return f"{text} ({', '.join(where)})" if where else text


def _part(activity: Activity, *, lifts: bool) -> str:
    part = part_of(activity)
    if not part:
        return ""
    if activity.code == "spread":
        return f", spread {part}"
    if activity.code == "pre-cut":
        return _spreads(part.split("+"))
    if activity.code in ("moisture-retest", "moisture-reread"):
        return f", {part.replace('-', ' ')}"
    if part.startswith("lift"):
        return f" for {part.replace('lift', 'lift ')}"
    pours = [_pour(one, lifts=lifts) for one in part.split("+")]
    return f" {' and '.join(pours)}"


def _spreads(parts: list[str]) -> str:
    if len(parts) == 1:
        return f" for spread {parts[0]}"
    return f" for spreads {parts[0]} to {parts[-1]}"


def _pour(part: str, *, lifts: bool) -> str:
    found = BAY.search(part)
    if found is None:
        return part
    lift = f", lift {found[2]}" if lifts else ""
    share = f", part {found[3]}" if found[3] else ""
    return f"bay {found[1]}{lift}{share}"


def _lift(part: str) -> int:
    found = BAY.search(part)
    return int(found[2]) if found else 1
