"""Why a doorway got what it got, in words."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.ramps.options import MOST_WHOLE
from slab_core.correction.ramps.ramped import Chosen
from slab_core.correction.task import Task
from slab_core.units.display import feet_inches, inches, millimetres


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One combination over all doors and what the plan with it costs, infinite where there is none; where it
    was not worked out, what it costs at least."""

    chosen: tuple[Chosen, ...]
    cost: float
    worked_out: bool = True


ON_PLANES = "These are the costs of floors brought to planes."
"""What a floor that is not brought to one adds."""

_SAID = {
    "as-is": "leaving it as it is",
    "ramp": "a ramp",
    "transition": "another transition",
    "cut": "cutting the door",
}


def why(one: Chosen, *, task: Task, chosen: tuple[Chosen, ...], weighed: list[Weighed], missed: int) -> str:
    """What is done at the doorway, and what each other way there would cost, doing the best elsewhere; and
    whether all choices over the doorways `missed` were weighed."""
    cost = min(each.cost for each in weighed if each.chosen == chosen)
    others = []
    for way, said in _SAID.items():
        if way == one.way:
            continue
        there = [each for each in weighed if _way_at(one.door, chosen=each.chosen) == way]
        if there:
            others.append(_compared(min(there, key=lambda each: each.cost), said=said, cost=cost))
    detail = f"{task.doors[one.door].said()}: {_done(one)}"
    said = f"{detail}; {', '.join(others)}." if others else f"{detail}."
    if missed <= MOST_WHOLE:
        return said
    some = f"Of the choices over the {missed} doorways that are missed {len(weighed)} were weighed, not all"
    return f"{said} {some}; another may cost less."


def _compared(other: Weighed, *, said: str, cost: float) -> str:
    if other.cost == np.inf:
        return f"{said}: no plan was found"
    return f"{said} costs {'' if other.worked_out else 'at least '}{other.cost - cost:.2f} more"


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
