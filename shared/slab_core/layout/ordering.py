"""From the boards of a plan to what is ordered: never the plan's own least."""

from math import ceil

from slab_core.materials.model import Covering


def to_open_m2(*, bought_m2: float, covering: Covering) -> float:
    """Boards to open for a plan that takes `bought_m2`: what a crew needs beyond it, and culls of all that.

    The plan chooses among some fifty open boards and none of its pieces is miscut, so it is never ordered.
    """
    return bought_m2 * (1.0 + covering.beyond_plan_share) / (1.0 - covering.cull_share)


def cartons_to_order(*, bought_m2: float, covering: Covering) -> int:
    """Whole cartons for the boards to open, and the spare, once for the job."""
    opened_m2 = to_open_m2(bought_m2=bought_m2, covering=covering)
    return ceil(opened_m2 / covering.carton_m2 - 1e-9) + covering.spare_cartons
