"""By when each hold point of the takeoff has to be settled in a plan."""

from slab_core.schedule.model import Activity, Placed, PlacedHold
from slab_core.takeoff.model import Hold


def placed_holds(
    *, holds: tuple[Hold, ...], activities: tuple[Activity, ...], placed: tuple[Placed, ...]
) -> tuple[PlacedHold, ...]:
    """Each with the first activity that waits for it, what is due first before the rest; holds of work that
    is not in the plan are left out."""
    found = []
    for hold in holds:
        waiting = [place for one, place in zip(activities, placed, strict=True) if one.code in hold.before]
        if waiting:
            first = min(waiting, key=lambda place: place.start_minute)
            found.append(
                PlacedHold(
                    code=hold.code,
                    what=hold.what,
                    who=hold.who,
                    rule=hold.rule,
                    source=hold.source,
                    activity=first.activity,
                    by_minute=first.start_minute,
                )
            )
    return tuple(sorted(found, key=lambda one: one.by_minute))
