"""How wide a floor is as a test section, however it is turned."""

import shapely

from slab_core.rooms.model import Floor

CLOSE_M = 1e-3


def width_m(floor: Floor) -> float:
    """Twice the distance by which all outer walls can be moved inwards before nothing is left, in metres
    and whole centimetres: the last millimetre of what is left is lost in rounding.

    A rectangle's shorter side, the side of the larger arm of an L or of the largest room-like part; of a
    round room the diameter. What stands amid the floor does not count: lines pass beside a column.
    """
    outline = shapely.Polygon(floor.shell)
    low, high = 0.0, float(shapely.minimum_bounding_radius(outline))
    while high - low > CLOSE_M / 2:
        middle = (low + high) / 2
        # Corners stay sharp: rounded inner ones would let an L be a sixth wider than its arms.
        if outline.buffer(-middle, join_style="mitre").is_empty:
            high = middle
        else:
            low = middle
    return round(2.0 * high, 2)
