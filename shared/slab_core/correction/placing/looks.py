"""How the cheapest heights are looked for again and again, each time from what was found before.

What areas cost is priced by the depths of the heights before. Whole passes, whole bags and what has to be
mended make each floor some hundredths dearer or cheaper than one beside it, so the least of a few looks,
one of them with less of the reserve, costs less than the first that passes.
"""

from dataclasses import replace

from slab_core.correction.optimum.model import Demand
from slab_core.correction.placing.area_prices import with_areas
from slab_core.correction.placing.shapes import Shape, Wanted, wanted_demand
from slab_core.correction.task import Task

RESERVE_SHARES = (1.0, 1.0, 0.75)
"""So much of the reserve is kept in each look."""


def demand_of(share: float, *, task: Task, wanted: Wanted, before: Shape | None, pours: bool) -> Demand:
    """What one look asks for; nothing was found before the first, which leaves out what areas cost."""
    demand = wanted_demand(task=task, wanted=replace(wanted, reserve_m=share * wanted.reserve_m))
    return demand if before is None else with_areas(task=task, shape=before, demand=demand, pours=pours)
