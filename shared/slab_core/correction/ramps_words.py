"""Why a doorway got what it got, in words."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.ramps import Chosen
from slab_core.correction.task import Task
from slab_core.units.display import feet_inches, inches, millimetres


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One combination over all doors and what the plan with it costs; infinite where there is none."""

    chosen: tuple[Chosen, ...]
    cost: float


_SAID = {
    "as-is": "leaving it as it is",
    "ramp": "a ramp",
    "transition": "another transition",
    "cut": "cutting the door",
}


def why(one: Chosen, *, task: Task, chosen: tuple[Chosen, ...], weighed: list[Weighed]) -> str:
    """What is done at the doorway, and what each other way there would cost, doing the best elsewhere."""
    cost = min(each.cost for each in weighed if each.chosen == chosen)
    others = []
    for way, said in _SAID.items():
        if way == one.way:
            continue
        costs = [each.cost for each in weighed if _way_at(one.door, chosen=each.chosen) == way]
        if costs:
            least = min(costs)
            others.append(
                f"{said} costs {least - cost:.2f} more" if least < np.inf else f"{said}: no plan was found"
            )
    detail = f"opening {task.doors[one.door].opening.id}: {_done(one)}"
    return f"{detail}; {', '.join(others)}." if others else f"{detail}."


def _way_at(door: int, *, chosen: tuple[Chosen, ...]) -> str:
    return next((one.way for one in chosen if one.door == door), "as-is")


def _done(one: Chosen) -> str:
    if one.way == "transition":
        return "another transition takes the difference"
    if one.way == "cut":
        return "the door is cut"
    side = "up" if one.rise_m > 0 else "down"
    height = abs(one.rise_m)
    return f"a ramp of {feet_inches(one.length_m)} {side} to it by {inches(height)} ({millimetres(height)})"
