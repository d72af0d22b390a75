"""Is this a scan of this floor, in metres?"""

import numpy as np

from slab_core.errors import InputRefused, refuse
from slab_core.numerics.grid import Floats

TALLEST_M = 50.0
"""A building's storeys, or a stair's; a scan that is higher is in another unit."""

UNITS = (("mm", 1000.0), ("cm", 100.0), ("in", 1 / 0.0254), ("ft", 1 / 0.3048), ("km", 0.001))


def check_extent(*, extent_m: Floats, floor_width_m: float, read: int) -> None:
    """Raises InputRefused for a scan without points, or whose size is not one of a building about the floor.

    `extent_m` is (low x, y, z, high x, y, z); `floor_width_m` the longer side of the floor's frame.
    """
    if not read:
        raise refuse(code="scan-empty", detail="The scan holds no points.")
    width, depth, tall = extent_m[3:] - extent_m[:3]
    wide = float(max(width, depth))
    if tall > TALLEST_M:
        raise _units(f"The scan is {tall:,.4g} m high, if its unit is the metre.", wide, floor_width_m)
    if wide < floor_width_m / 50:
        detail = (
            f"The scan is {wide:,.4g} m wide, if its unit is the metre, and the floor {floor_width_m:,.4g} m."
        )
        raise _units(detail, wide, floor_width_m)


def check_overlap(*, inside: int, read: int, extent_m: Floats, floor_width_m: float) -> None:
    """Raises InputRefused when none of the points lies on the floor."""
    if inside:
        return
    x, y, _ = (extent_m[:3] + extent_m[3:]) / 2
    wide = float(np.max((extent_m[3:] - extent_m[:3])[:2]))
    if wide > 20 * floor_width_m:
        detail = (
            f"The scan is {wide:,.4g} m wide, if its unit is the metre, and the floor {floor_width_m:,.4g} m."
        )
        raise _units(detail, wide, floor_width_m)
    raise refuse(
        code="scan-outside-floor",
        detail=f"None of the {read:,} points lies on the floor; the scan's middle is {x:,.3f} m, {y:,.3f} m "
        "from its origin. Give the scan's origin and turn in the job's coordinates, or targets for both.",
    )


def _units(what: str, wide_m: float, floor_width_m: float) -> InputRefused:
    """The unit in which the scan would be a few times as wide as the floor is named as a guess."""
    fits = {name: abs(np.log(wide_m / floor_width_m / per_m)) for name, per_m in UNITS if wide_m > 0}
    guess = min(fits, key=lambda name: fits[name], default="")
    advice = f" In {guess} it would fit the floor." if guess and fits[guess] < np.log(3.0) else ""
    return refuse(code="scan-unit-doubtful", detail=f"{what}{advice} Say which unit the file is in.")
