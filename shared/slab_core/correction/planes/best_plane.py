"""The best plane of one task and a bound that no allowed plane can beat, by branch and bound over boxes."""

from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import count

import numpy as np

from slab_core.correction.family import ANY_PLANE, FAMILIES
from slab_core.correction.feasible import Caps, caps, caps_of
from slab_core.correction.kernels import FLAT_MM
from slab_core.correction.planes.box import FROM_HEIGHTS, Box, whole_box
from slab_core.correction.planes.cheapest import Lowest, heights_of, lowest_relaxed, tightened
from slab_core.correction.planes.relaxation import (
    DayPrices,
    Relaxation,
    by_volume,
    day_prices,
    relax,
    value_and_gradient,
)
from slab_core.correction.planes.search import Spot, improve, improved_from, spot_at
from slab_core.correction.task import Task, restricted
from slab_core.correction.work import SKIN_MM, Case, work_of_plane
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

MOST_BRANCHINGS = 30
LEAST_BRANCHINGS = 12
BRANCHED_NODES = 360_000
"""Nodes looked at over all branchings: a room of 30 m² gets all 30 in about 0.2 s, a hall fewer."""

GOOD_GAP = 0.02
LEVEL_STEP_MM = 0.4
POLISHED = 3
NARROWER = tuple(family for family in FAMILIES.values() if family is not ANY_PLANE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Best:
    """The cheapest plane met and the proven bound."""

    abc_mm: Floats
    bound: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """A box still open: no plane in it is cheaper than `bound`; `guess` was the best of its relaxation."""

    box: Box
    bound: float
    guess: Floats | None


class _Tree:
    """Open parts, cheapest bound first, and the best plane so far."""

    def __init__(self, *, task: Task, budget: Budget) -> None:
        self.task, self.budget = task, budget
        self.best: Spot | None = None
        self.heap: list[tuple[float, int, _Part]] = []
        self.order = count()
        self.caps = caps_of(task.case)
        self.takes_any = task.family is ANY_PLANE
        self.prices = day_prices(costs=task.case.costs, several_days=_takes_days(task))

    def least_cost(self) -> float:
        return np.inf if self.best is None else self.best.work.cost

    def offer(self, spot: Spot | None) -> None:
        if spot is not None and spot.work.cost < self.least_cost():
            self.best = spot

    def relax(self, box: Box) -> Relaxation:
        return relax(case=self.task.case, box=box, prices=self.prices)

    def lowest(self, *, box: Box, relaxation: Relaxation, starts: tuple[Floats, ...]) -> Lowest:
        return lowest_relaxed(
            task=self.task, relaxation=relaxation, box=box, caps=self.caps, beat=self.least_cost(),
            budget=self.budget, starts=starts,
        )  # fmt: skip

    def push(self, part: _Part) -> None:
        heappush(self.heap, (part.bound, next(self.order), part))

    def open_bound(self) -> float:
        return min(self.heap[0][0] if self.heap else np.inf, self.least_cost())


def best_plane(*, task: Task, budget: Budget, beat: float = np.inf) -> Best | None:
    """None if no allowed plane exists or none was found.

    Stops within 2 % of the bound, after 30 branchings (down to 12 on large floors), at the deadline, or where
    nothing better can cost less than `beat`; the bound holds in every case. Of any planes it is never dearer
    than the best that the same search finds in a narrower family, as it tries those too; so a narrower family
    takes no plane that branching alone comes by.
    """
    tree = _Tree(task=task, budget=budget)
    case, box = task.case, whole_box(case=task.case)
    relaxation = tree.relax(box)
    root = tree.lowest(box=box, relaxation=relaxation, starts=_guesses(task))
    if root.abc_mm is None:
        return None
    tree.offer(_from_starts(tree=tree, relaxation=relaxation, box=box, root=root.abc_mm))
    if tree.takes_any:
        for family in NARROWER:
            tree.offer(_quickly(task=restricted(task, family=family), budget=budget))
    _settle(tree=tree, lowest=root, relaxation=relaxation, box=box)
    rounding = _rounding(task=task, dearest=tree.prices[-1])
    for _ in range(max(LEAST_BRANCHINGS, min(MOST_BRANCHINGS, BRANCHED_NODES // len(case.nodes.z_mm)))):
        good = tree.least_cost() - tree.open_bound() <= GOOD_GAP * tree.least_cost()
        dearer = tree.open_bound() - rounding >= beat
        if not tree.heap or ((good or dearer) and tree.best is not None) or budget.left_s() <= 0.0:
            break
        _branch(tree=tree, part=heappop(tree.heap)[2])
    if tree.best is None:
        return None
    bound = tree.open_bound() - rounding
    best = improved_from(task=task, spot=tree.best, budget=budget) if tree.takes_any else tree.best
    return Best(abc_mm=best.abc_mm, bound=bound)


def least_of_planes(*, task: Task, budget: Budget) -> float:
    """What no plane of the task costs less than: the bound before any branching, which takes a fraction of
    the search. Infinite if no plane is allowed."""
    tree, box = _Tree(task=task, budget=budget), whole_box(case=task.case)
    root = tree.lowest(box=box, relaxation=tree.relax(box), starts=_guesses(task))
    if root.abc_mm is None:
        return np.inf
    return max(0.0, root.bound - _rounding(task=task, dearest=tree.prices[-1]))


def least_volume(*, task: Task, budget: Budget) -> float | None:
    """What the cheapest plane of the task costs by volume alone, within 1 %: its fill and grinding without
    areas, films left, starts, days and whole bags. None if no plane is allowed."""
    relaxation = by_volume(case=task.case, fills=task.family.fills)
    found = lowest_relaxed(
        task=task, relaxation=relaxation, box=whole_box(case=task.case), caps=caps_of(task.case),
        beat=np.inf, budget=budget, starts=_guesses(task),
    )  # fmt: skip
    if found.abc_mm is None:
        return None
    return float(value_and_gradient(case=task.case, relaxation=relaxation, abc_mm=found.abc_mm)[0])


def _quickly(*, task: Task, budget: Budget) -> Spot | None:
    """The best plane of a narrower family without any branching."""
    tree, box = _Tree(task=task, budget=budget), whole_box(case=task.case)
    relaxation = tree.relax(box)
    root = tree.lowest(box=box, relaxation=relaxation, starts=_guesses(task))
    if root.abc_mm is None:
        return None
    return _from_starts(tree=tree, relaxation=relaxation, box=box, root=root.abc_mm)


def _from_starts(*, tree: _Tree, relaxation: Relaxation, box: Box, root: Floats) -> Spot | None:
    """The best plane near those of the relaxation; in a narrower family improved as far as it goes."""
    task, budget = tree.task, tree.budget
    starts = (root, *_one_sided(tree=tree, relaxation=relaxation, box=box, near=root))
    if task.family.level and task.level_mm is None:
        starts = (*starts, *_levels(task))
    if tree.takes_any:
        return improve(task=task, starts=starts, budget=budget)
    found = (spot_at(task=task, abc_mm=start) for start in starts)
    allowed = sorted((spot for spot in found if spot is not None), key=lambda spot: spot.work.cost)
    polished = [improved_from(task=task, spot=spot, budget=budget) for spot in allowed[:POLISHED]]
    return min(polished, key=lambda spot: spot.work.cost, default=None)


def _levels(task: Task) -> tuple[Floats, ...]:
    """Level planes through the whole height of the slab: of one number all can be tried."""
    z = task.case.nodes.z_mm
    return tuple(np.array([a, 0.0, 0.0]) for a in np.arange(float(z.min()), float(z.max()), LEVEL_STEP_MM))


def _branch(*, tree: _Tree, part: _Part) -> None:
    """Solve both halves of a part and keep what may still hold something cheaper."""
    for half in part.box.halves():
        relaxation = tree.relax(half)
        starts = [half.middle()]
        if part.guess is not None:
            starts.append(np.clip(heights_of(part.guess), half.low_mm, half.high_mm))
        planes = tuple(FROM_HEIGHTS @ heights for heights in starts)
        lowest = tree.lowest(box=half, relaxation=relaxation, starts=planes)
        if lowest.abc_mm is not None and tree.takes_any:
            tree.offer(spot_at(task=tree.task, abc_mm=lowest.abc_mm))
        # The parent's bound holds for its halves too, and a half may have been solved less closely.
        lowest = replace(lowest, bound=max(lowest.bound, part.bound))
        _settle(tree=tree, lowest=lowest, relaxation=relaxation, box=half)


def _settle(*, tree: _Tree, lowest: Lowest, relaxation: Relaxation, box: Box) -> None:
    """Drop the box if nothing in it can be cheaper than what is known, else keep what is left of it."""
    beat = tree.least_cost()
    if lowest.bound >= beat:
        return
    rest = tightened(lowest=lowest, relaxation=relaxation, box=box, beat=beat)
    if rest is not None:
        tree.push(_Part(box=rest, bound=lowest.bound, guess=lowest.abc_mm))


def _one_sided(*, tree: _Tree, relaxation: Relaxation, box: Box, near: Floats) -> tuple[Floats, ...]:
    """The best planes of filling alone (a whole lift up, if the compound needs one), there and in keep-out
    zones alone, and of grinding alone."""
    case = tree.task.case
    every = [
        caps(case, grind_mm=-case.least_mm, fill_mm=case.fill_cap_mm),
        caps(case, grind_mm=case.grind_cap_mm, fill_mm=min(SKIN_MM - 0.02, case.fill_cap_mm)),
    ]
    if case.nodes.unground.any():
        every.append(_lifted_in_zones(case))
    found = [
        lowest_relaxed(
            task=tree.task, relaxation=relaxation, box=box, caps=one, beat=np.inf, budget=tree.budget,
            starts=(near,),
        )
        for one in every
    ]  # fmt: skip
    return tuple(lowest.abc_mm for lowest in found if lowest.abc_mm is not None)


def _lifted_in_zones(case: Case) -> Caps:
    """A whole lift up where no key can be ground in, but may be filled."""
    nodes, usual = case.nodes, caps_of(case)
    lifted = nodes.unground & ~nodes.unfilled
    return Caps(grind_mm=np.where(lifted, -case.least_mm, usual.grind_mm), fill_mm=usual.fill_mm)


def _guesses(task: Task) -> tuple[Floats, ...]:
    """The plane of least squares and planes above it, where the cheapest one usually lies."""
    nodes = task.case.nodes
    design = np.column_stack([np.ones_like(nodes.u), nodes.u, nodes.v])
    fit, *_ = np.linalg.lstsq(design, nodes.z_mm, rcond=None)
    spread = float(np.std(nodes.z_mm - design @ fit))
    return tuple(fit + np.array([share * spread, 0.0, 0.0]) for share in (0.0, 1.0, 2.0))


def _takes_days(task: Task) -> bool:
    """Whether filling takes more than a day where the cheapest plane usually lies."""
    bags = work_of_plane(case=task.case, abc_mm=_guesses(task)[1]).quantities.unrounded_bags
    return bags > task.case.costs.bags_per_day


def _rounding(*, task: Task, dearest: DayPrices) -> float:
    """The most that rounding heights to storage steps could save."""
    area, costs = float(task.case.nodes.area_m2.sum()), task.case.costs
    per_mm = max(costs.bags_per_m2_mm * dearest.per_bag, costs.hours_per_m2_mm * dearest.per_hour)
    return FLAT_MM * area * per_mm
