"""Amounts in the words of tolerance problems, in inches and in millimetres."""

from math import isfinite

from slab_core.units.display import feet_inches


def edge(length_m: float) -> str:
    return f"an edge of {feet_inches(length_m)} ({length_m:.2f} m)"


def nearest(what: str, *, away_m: float) -> str:
    """How far the nearest of something is, where there is one."""
    if not isfinite(away_m):
        return f"there is no {what}"
    return f"the nearest {what} is {feet_inches(away_m, denominator=2)} ({away_m:.2f} m) away"
