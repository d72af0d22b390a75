"""What becomes of the probability that an earlier plan was sold with."""

from slab_core.correction.model import Plan
from slab_core.errors import Problem


def probability_gone(made: Plan) -> tuple[Problem, ...]:
    """That the plan of what is left tells none, and what stays of the finishing that it counted on."""
    sold = made.finish_kept
    if sold is None:
        return ()
    detail = (
        f"floor {made.floor_id}: the plan that is followed was to pass with {sold.probability:.0%}. Of what "
        "is left no probability is told, as how a crew pours is not drawn into a survey of its work. Its "
        f"{sold.finish_cycles} round(s) of finishing stay planned; measure the finished floor and read its "
        "tolerance report."
    )
    return (Problem(code="probability-not-told", detail=detail, severity="warning"),)
