"""Inputs of a line's trace that later readers look for."""

from slab_core.takeoff.model import TakeoffLine

NEEDED = "needed of these packages"
"""How much of whole packages, bought and in stock, the job uses up: a crew can tell when it is done."""

FORMULA = "quantity from "
"""Heads the input that names the stage of a quantity and its formula."""


def needed_input(line: TakeoffLine) -> dict[str, str]:
    """The input for a line of which something is left over; none for any other, and for takeoffs from before
    lines told what a package holds."""
    if line.left_over <= 0.0 or line.package_size <= 0.0:
        return {}
    packages = line.order + line.from_stock - line.left_over / line.package_size
    return {NEEDED: f"{max(0.0, packages):.4f} {line.package}"}
