"""Sets of planes: those whose heights at three points far apart lie in given ranges."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.feasible import caps
from slab_core.correction.work import Case
from slab_core.numerics.grid import Floats

SUPPORTS = np.array([[1.0, 0.0, 0.8], [1.0, -0.8, -0.6], [1.0, 0.8, -0.6]])
"""(1, u, v) of the three points: heights there are SUPPORTS @ (a, b, c)."""

FROM_HEIGHTS = np.linalg.inv(SUPPORTS)
"""(a, b, c) = FROM_HEIGHTS @ heights; a row over (a, b, c) becomes one over heights by row @ FROM_HEIGHTS."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Box:
    """Planes with `low_mm` <= heights at the three points <= `high_mm`."""

    low_mm: Floats
    high_mm: Floats

    def middle(self) -> Floats:
        """Heights of the plane in the middle."""
        return np.asarray((self.low_mm + self.high_mm) / 2, dtype=np.float64)

    def halves(self) -> tuple["Box", "Box"]:
        """Cut across the widest range."""
        k = int(np.argmax(self.high_mm - self.low_mm))
        cut = self.middle()[k]
        high, low = self.high_mm.copy(), self.low_mm.copy()
        high[k] = low[k] = cut
        return Box(low_mm=self.low_mm, high_mm=high), Box(low_mm=low, high_mm=self.high_mm)

    def depth_range(self, *, case: Case) -> tuple[Floats, Floats]:
        """Least and greatest plane - slab at every node, within the limits, in mm."""
        nodes = case.nodes
        shares = np.column_stack([np.ones_like(nodes.u), nodes.u, nodes.v]) @ FROM_HEIGHTS
        middle = shares @ self.middle() - nodes.z_mm
        half = np.abs(shares) @ ((self.high_mm - self.low_mm) / 2)
        within = caps(case, grind_mm=case.grind_cap_mm, fill_mm=case.fill_cap_mm)
        return np.maximum(middle - half, -within.grind_mm), np.minimum(middle + half, within.fill_mm)


def whole_box(*, case: Case) -> Box:
    """Far wider than any plane that passes near the slab."""
    z = case.nodes.z_mm
    reach = 100.0 * (float(np.ptp(z)) + case.grind_cap_mm + case.fill_cap_mm + 100.0)
    return Box(low_mm=np.full(3, z.min() - reach), high_mm=np.full(3, z.max() + reach))
