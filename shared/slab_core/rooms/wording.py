"""How refusals name places and lengths."""

from slab_core.errors import Problem
from slab_core.rooms.model import Point
from slab_core.units.display import inches, millimetres


def place(point: Point) -> str:
    """A point as (1.250, 3.000) m."""
    return f"({point[0]:.3f}, {point[1]:.3f}) m"


def length(metres: float) -> str:
    """A length in both systems: 12.7 mm (1/2")."""
    return f"{millimetres(metres)} ({inches(metres)})"


def refusal(*, code: str, detail: str, pointer: str) -> Problem:
    """One problem that ends the estimate as refused."""
    return Problem(code=code, detail=detail, pointer=pointer, severity="refusal")
