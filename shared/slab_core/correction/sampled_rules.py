"""Rules that not every lay of the edge has to keep, in a plan.

A plan brings every lay of an edge within its gap. So a rule that nine in ten lays keep is no demand of a
plan where the slab keeps it as it is: bringing all of them within would be more than was asked for. What is
planned without it is looked at again, and where the rule is then broken the plan is made with it.
"""

from collections.abc import Callable
from dataclasses import replace

from slab_core.correction.model import Plan
from slab_core.numerics.grid import to_metres
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.model import ToleranceReport


def by_demanded(
    make: Callable[[ToleranceReport], Plan], *, report: ToleranceReport, floor: Floor, surface: Surface
) -> Plan:
    """The plan by the rules that the slab breaks or every lay has to keep, if the others are kept after it;
    else by all rules. Its re-check is of all rules."""
    kept = tuple(found for found in report.rules if found.rule.share < 1.0 and found.passes)
    if not kept:
        return make(report)
    demanded = tuple(found for found in report.rules if found not in kept)
    made = make(replace(report, rules=demanded))
    if made.solve.status == "infeasible":
        return made
    after = check_heights(
        floor=floor,
        grid=made.grid,
        heights_m=to_metres(surface.height + made.fill - made.grind),
        inside=surface.inside,
        rules=tuple(found.rule for found in kept),
    )
    if not all(found.passes for found in after):
        return make(report)
    return replace(made, after=(*made.after, *after))
