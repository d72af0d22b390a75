"""A plan that may still be thrown away: what takes long and decides nothing waits until it is kept."""

from collections.abc import Callable
from dataclasses import dataclass

from slab_core.correction.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pending:
    """`rest` adds to the plan, or to the same plan with other findings, what nobody chooses by: the bound of
    the cheapest floor, where to measure next."""

    plan: Plan
    rest: Callable[[Plan], Plan]

    def finished(self) -> Plan:
        """The whole plan."""
        return self.rest(self.plan)


def as_it_is(plan: Plan) -> Pending:
    """A plan that lacks nothing."""
    return Pending(plan=plan, rest=lambda plan: plan)
