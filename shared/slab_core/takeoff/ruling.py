"""What a rule says of a job: a finding for whoever reads it, and the hold point that it makes of the work."""

from dataclasses import dataclass

from slab_core.errors import Problem
from slab_core.takeoff.model import Hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruling:
    """One of the two may lack: what nobody measured only holds, what changes no work is only told."""

    problem: Problem | None = None
    hold: Hold | None = None


def told(rulings: tuple[Ruling, ...]) -> tuple[Problem, ...]:
    """The findings among them."""
    return tuple(ruling.problem for ruling in rulings if ruling.problem is not None)


def held(rulings: tuple[Ruling, ...], *, finished: frozenset[str]) -> tuple[Hold, ...]:
    """The hold points among them, but for work that is done."""
    return tuple(
        ruling.hold
        for ruling in rulings
        if ruling.hold is not None and not finished.issuperset(ruling.hold.before)
    )
