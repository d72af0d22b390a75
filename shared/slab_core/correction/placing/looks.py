"""How the cheapest heights are looked for again and again, each time from what was found before.

What areas cost is priced by the depths of the heights before. Whole passes, whole bags and what has to be
mended make each floor some hundredths dearer or cheaper than one beside it, so the least of a few looks with
other reserves and other prices of thin fill costs less than the first that passes.
"""

from dataclasses import replace
from typing import NamedTuple

from slab_core.correction.optimum.model import Demand
from slab_core.correction.placing.area_prices import with_areas
from slab_core.correction.placing.shapes import Shape, Wanted, wanted_demand
from slab_core.correction.task import Task


class Look(NamedTuple):
    """The share of a reserve that is kept, and by how much deeper fill counts where areas are priced."""

    share: float
    thin_mm: float


LOOKS = (Look(1.0, 0.0), Look(1.0, 0.6), Look(0.75, 0.6))


def demand_of(look: Look, *, task: Task, wanted: Wanted, before: Shape | None, pours: bool) -> Demand:
    """What one look asks for; nothing was found before the first, which leaves out what areas cost."""
    demand = wanted_demand(task=task, wanted=replace(wanted, reserve_m=look.share * wanted.reserve_m))
    if before is None:
        return demand
    return with_areas(task=task, shape=before, demand=demand, thin_mm=look.thin_mm, pours=pours)
