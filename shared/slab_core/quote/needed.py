"""How much of whole packages a job uses up, which a crew can tell when it is done."""

from slab_core.takeoff.model import TakeoffLine

NEEDED = "needed of these packages"
"""The input of a line's trace that tells it, of what is bought and in stock."""


def needed_input(line: TakeoffLine) -> dict[str, str]:
    """The input for a line of which something is left over; none for any other."""
    if line.left_over <= 0.0:
        return {}
    needed = line.net * (1.0 + line.waste_share)
    packages = (line.order + line.from_stock) * needed / (needed + line.left_over)
    return {NEEDED: f"{packages:.4f} {line.package}"}
