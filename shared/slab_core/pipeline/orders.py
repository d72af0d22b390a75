"""For each stage: which values and earlier results decide it, and the call that computes it.

An order is cheap to make; nothing that only the computation needs is loaded before it runs, so that
a step whose result is already stored costs a look-up.
"""

from collections.abc import Callable

from slab_core.job import Job
from slab_core.pipeline.counted_orders import quote_order, schedule_order, takeoff_order
from slab_core.pipeline.measured_orders import (
    rooms_order,
    scans_order,
    surface_order,
    surveys_order,
    tolerance_order,
)
from slab_core.pipeline.order import Earlier, Order
from slab_core.pipeline.planned_orders import correction_order, layout_order
from slab_core.scans.model import ReadScan
from slab_core.stages import StepSpec


def order(*, job: Job, step: StepSpec, earlier: Earlier, read: ReadScan | None = None) -> Order:
    """What the step has to compute; `read` reads the files of a job that has scans.

    Raises
    ------
    KeyError
        for a stage that this version of the code does not know.
    InputRefused
        when the targets of the job's scans do not place them.
    """
    if step.stage == "scans":
        assert read is not None, "a job with scans needs something that reads their files"
        return scans_order(job, step, earlier, read)
    return _ORDERS[step.stage](job, step, earlier)


_ORDERS: dict[str, Callable[[Job, StepSpec, Earlier], Order]] = {
    "rooms": rooms_order,
    "surveys": surveys_order,
    "surface": surface_order,
    "tolerance": tolerance_order,
    "correction": correction_order,
    "layout": layout_order,
    "takeoff": takeoff_order,
    "schedule": schedule_order,
    "quote": quote_order,
}
