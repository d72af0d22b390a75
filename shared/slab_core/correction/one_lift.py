"""Compounds that are poured in one lift alone: two of them would be thinner than they can be poured.

Where the greatest lift is less than twice the least there are depths between that no lifts make, and fill
that runs out to the slab passes through them on its way to any greater depth. So nothing is filled deeper
than one lift, whatever the limits would allow.
"""

from slab_core.correction.model import Limits
from slab_core.errors import Problem
from slab_core.materials.model import Compound
from slab_core.units.display import in_both

_HAIR_M = 1e-9


def is_one_lift(compound: Compound) -> bool:
    """Whether it cannot be poured in two lifts; what runs out to a feather always can."""
    return not compound.featheredge and compound.greatest_lift_m < 2.0 * compound.least_lift_m - _HAIR_M


def greatest_fill_m(*, compound: Compound, limits: Limits) -> float:
    """The deepest fill that the limits allow and the compound's lifts make."""
    if is_one_lift(compound):
        return min(limits.greatest_fill_m, compound.greatest_lift_m)
    return limits.greatest_fill_m


def is_held_to_one(*, compound: Compound, limits: Limits) -> bool:
    """Whether that allows less than the limits would."""
    return greatest_fill_m(compound=compound, limits=limits) < limits.greatest_fill_m


def one_lift_told(*, compound: Compound, limits: Limits, bags: int, subject: str) -> tuple[Problem, ...]:
    """A finding where that holds a plan that pours, below what its limits would allow."""
    if not bags or not is_held_to_one(compound=compound, limits=limits):
        return ()
    least, greatest = in_both(compound.least_lift_m), in_both(compound.greatest_lift_m)
    detail = (
        f"{subject}: nothing is filled deeper than {greatest}, the greatest lift of “{compound.name}”, "
        f"though the limits allow {in_both(limits.greatest_fill_m)}: that is less than twice its least lift, "
        f"{least}, so fill a little deeper could be poured neither in one lift nor in two. Check both in the "
        "catalogue, or take a compound with a wider range where more fill would be cheaper"
    )
    return (Problem(code="one-lift-only", detail=detail),)
