"""What an unrestricted correction is made from and what it comes to. Depths in mm, areas in m².

Unrestricted: every node has a height of its own, whatever a crew could place. So its cost is the least
that any way of working could reach, and its bound holds for all of them.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats, Mask
from slab_core.tolerance.model import Rule

OptimumStatus = Literal["optimal", "feasible", "infeasible", "unfinished"]
SAME_MM = 1e-9
Limit = Literal["gap", "greatest-grind", "greatest-fill", "keep-outs", "fixed-ranges"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lies:
    """R lies: `node` (R, 2) as (row, column), `direction` into the lattice's list, `side` +1 for a gap and -1
    for a rise, supports `a` < 0 < `b` in steps, and the `gap_mm` that is allowed."""

    node: NDArray[np.int64]
    direction: NDArray[np.int64]
    side: Floats
    a: Floats
    b: Floats
    gap_mm: Floats

    def __len__(self) -> int:
        return len(self.a)

    def only(self, chosen: NDArray[np.bool_] | NDArray[np.int64]) -> "Lies":
        """The chosen ones, by mark or by number."""
        return Lies(
            node=self.node[chosen],
            direction=self.direction[chosen],
            side=self.side[chosen],
            a=self.a[chosen],
            b=self.b[chosen],
            gap_mm=self.gap_mm[chosen],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DepthPrices:
    """Money per m²·mm, slice by slice: `per_mm[k]` up to `breaks_mm[k]`, the last one beyond all breaks.

    Raises
    ------
    ValueError
        a price is not positive or less than the one above it, or the breaks do not grow.
    """

    breaks_mm: Floats
    per_mm: Floats

    def __post_init__(self) -> None:
        if len(self.per_mm) != len(self.breaks_mm) + 1:
            raise ValueError("one price more than breaks is needed")
        if np.any(self.per_mm <= 0.0) or np.any(np.diff(self.per_mm) < 0.0):
            raise ValueError("prices must be positive and must not fall with depth")
        if np.any(np.diff(self.breaks_mm, prepend=0.0) <= 0.0):
            raise ValueError("breaks must be positive and must grow")

    def of(self, depth_mm: Floats) -> Floats:
        """Money per m² of depths >= 0."""
        edges = np.concatenate([[0.0], self.breaks_mm, [np.inf]])
        slices = [np.clip(depth_mm - edges[k], 0.0, edges[k + 1] - edges[k]) for k in range(len(self.per_mm))]
        return np.asarray(np.tensordot(self.per_mm, np.array(slices), axes=1), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Demand:
    """One floor as nodes `step_m` apart; arrays have the shape (ny, nx).

    `free` (16, ny, nx) says which steps a straightedge may take, as lattice.free_steps gives it. A node's
    fill costs `fill_weight` times `fill_prices` (area, dearer along walls), its grinding likewise. The caps
    hold everywhere; no grinding where `keep_grinder_off`, no fill where `keep_fill_off`. Where
    `lowest_mm` and `highest_mm` are finite the corrected height must lie between them (doors, hearths).
    """

    step_m: float
    heights_mm: Floats
    inside: Mask
    free: Mask
    rules: tuple[Rule, ...]
    fill_weight: Floats
    grind_weight: Floats
    fill_prices: DepthPrices
    grind_prices: DepthPrices
    greatest_grind_mm: float
    greatest_fill_mm: float
    keep_grinder_off: Mask
    keep_fill_off: Mask
    lowest_mm: Floats
    highest_mm: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxation:
    """A limit that, changed alone, would do: by how many mm at least, 0 where it would have to go."""

    limit: Limit
    least_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """Where the optimum of another demand on the same nodes may begin: changes (ny, nx), the lies that held
    them with their multipliers `y`, and the gaps of the rules then."""

    change_mm: Floats
    lies: Lies
    y: Floats
    gaps_m: tuple[float, ...]

    def at_prices(self, ratio: float) -> "Start":
        """Where prices are so many times as high, so are the multipliers."""
        return replace(self, y=ratio * self.y)

    def lies_of(self, rules: tuple[Rule, ...]) -> Lies:
        """The lies with the gaps of the rules now; of rules that had one gap, the widest."""
        gap_mm = np.zeros(len(self.lies))
        for before, rule in zip(self.gaps_m, rules, strict=True):
            same = np.abs(self.lies.gap_mm - 1e3 * before) <= SAME_MM
            gap_mm[same] = np.maximum(gap_mm[same], 1e3 * rule.gap_m)
        return replace(self.lies, gap_mm=gap_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Optimum:
    """Corrected heights = heights + fill - grind (ny, nx), zero outside; `cost` and its proven lower `bound`.

    `violation_mm` is the most that a rule is missed by, as the tolerance code measures it. Status:
    "optimal" within the wanted gap and violation, "feasible" within the violation alone, "infeasible"
    proven, "unfinished" when the budget ended before. `start` is where another may begin.
    """

    status: OptimumStatus
    corrected_mm: Floats
    fill_mm: Floats
    grind_mm: Floats
    cost: float
    bound: float
    violation_mm: float
    rounds: int
    relaxations: tuple[Relaxation, ...] = ()
    start: Start | None = None

    def gap(self) -> float:
        """Share of the cost that is not proven."""
        return 0.0 if self.cost <= 0.0 else max(0.0, (self.cost - self.bound) / self.cost)
