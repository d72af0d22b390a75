"""Ways that follow the cheapest heights: by trowel and grinder alone, or poured in part."""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from slab_core.correction.optimum.model import Demand
from slab_core.correction.placing.depths import Depths, workable
from slab_core.correction.placing.divided import divided_mm, skimmed_mm
from slab_core.correction.placing.in_part import fitted_again, thrifty, with_pours
from slab_core.correction.placing.looks import RESERVE_SHARES, demand_of
from slab_core.correction.placing.mended import Mender
from slab_core.correction.placing.shapes import Shapes, Wanted, most_reserve_m
from slab_core.correction.placing.spots import Draft, by_trowel, mended, placed_of
from slab_core.correction.placing.weighing import Found, Weighing
from slab_core.correction.placing_error import is_for_a_trowel
from slab_core.correction.task import Task
from slab_core.correction.unit_costs import SCREED_BAY_M
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

HAND, PART = "by hand", "poured in part"

RESERVES_M = (0.0002, 0.0006, 0.0012)
"""So much tighter than planned are heights looked for, as films left out, whole passes and the nodes between
those of the coarser lattice take some of it; the more is tried where the less does not pass."""

PART_RESERVES_M: tuple[float, ...] = (*RESERVES_M, 0.0024)
"""The last for slabs whose humps are ground to the limit beside a pour, which bends only at its pins."""

NARROW_BAY_M = 1.6
"""An edge of 6 ft rides strips this wide: where the floor bends under the wide ones."""

STRIPS = ((SCREED_BAY_M, True), (SCREED_BAY_M, False), (NARROW_BAY_M, False))
"""Widths of the strips of pours, and whether all pours lie in the same strips."""

MUCH_LESS = 0.94
"""Of what the smallest reserve that passes costs: so much makes it worth looking once more (from memory)."""

TOO_ROUGH = "a rule is too tight for a trowel: half of it is less than a patch is usually off"

UNPLACED = Found(passes=False, over_m=np.inf)

REFITS, HOPELESS = 2, 0.8
"""Pins are fitted again while that leaves no more than this share of what the floor departs too much."""

GAINED = 0.5
"""Of what a floor departs too much, so much more reserve is asked for at least (from memory)."""

KEPT_PASSES = 2

KEPT_FILL_MM = 0.3
"""So much of what a trowel can place is kept for mending."""


def weigh_followed(*, task: Task, weighing: Weighing, budget: Budget) -> float | None:
    """Weigh both; what the cheapest heights met cost by volume alone, at the prices of the unrestricted
    optimum, if there are any.

    Nothing is poured in part where a day of it and the least fill cost more than what is done by hand, and
    nothing at all under a rule that no trowel keeps.
    """
    if not all(is_for_a_trowel(rule) for rule in task.rules):
        for kind in (HAND, PART):
            weighing.rule_out(kind=kind, why=TOO_ROUGH)
        return None
    mender, shapes = Mender(task=task, budget=budget), Shapes(task=task, budget=budget)
    volume = _by_hand(task=task, shapes=shapes, mender=mender, weighing=weighing, budget=budget)
    costs, placing = task.case.costs, task.placing
    by_pour = costs.bags_per_m2_mm * costs.per_bag
    share = by_pour / placing.least_per_m2_mm()
    if volume is not None and weighing.least_cost() <= costs.per_pour_day + share * volume:
        return shapes.least_cost
    reserves_m = _that_tell(PART_RESERVES_M, task=task)
    for price in (placing.least_per_m2_mm(), by_pour):
        reserves_m = _in_part(
            task=task, fill_price=price, reserves_m=reserves_m, shapes=shapes, mender=mender,
            weighing=weighing, budget=budget,
        )  # fmt: skip
    return shapes.least_cost if np.isfinite(shapes.least_cost) else None


def _by_hand(
    *, task: Task, shapes: Shapes, mender: Mender, weighing: Weighing, budget: Budget
) -> float | None:
    """What the first heights cost by volume at a trowel's price, if there are any. Places that are too wide
    for a patch are divided, and the heights looked for again with that."""
    first_cost, deepest = None, task.placing.greatest_depth_mm - KEPT_FILL_MM
    for reserve_m in _that_tell(RESERVES_M, task=task):
        wanted = Wanted(
            fill_price=task.placing.least_per_m2_mm(),
            greatest_fill_mm=min(task.case.fill_cap_mm, deepest),
            reserve_m=reserve_m,
            kept_grind_mm=KEPT_PASSES * SKIN_MM,
        )
        shape, passed = None, False
        most_mm = np.full(len(task.case.nodes.z_mm), np.inf)
        for share in RESERVE_SHARES:
            demand = demand_of(share, task=task, wanted=wanted, before=shape, pours=False)
            shape = shapes.cheapest(_no_deeper(task=task, demand=demand, most_mm=most_mm - KEPT_FILL_MM))
            if shape is None:
                return first_cost
            first_cost = shape.cost if first_cost is None else first_cost
            depths = workable(task=task, shape=shape)
            depths = replace(depths, fill_mm=np.minimum(depths.fill_mm, most_mm))
            most_mm = np.minimum(most_mm, divided_mm(task=task, fill_mm=depths.fill_mm))
            most_mm = np.minimum(most_mm, skimmed_mm(task=task, fill_mm=depths.fill_mm))
            draft = by_trowel(depths=depths)
            found = _weigh(kind=HAND, task=task, draft=draft, mender=mender, weighing=weighing)
            passed |= found.passes
        if passed or weighing.kinds[HAND].cost is None or budget.left_s() <= 0.0:
            break  # what cannot be placed cannot be so with deeper fill either
    return first_cost


def _that_tell(reserves_m: tuple[float, ...], *, task: Task) -> tuple[float, ...]:
    """The reserves up to the largest that makes rules any tighter."""
    most_m = most_reserve_m(task)
    return tuple(sorted({min(one, most_m) for one in reserves_m}))


def _no_deeper(*, task: Task, demand: Demand, most_mm: Floats) -> Demand:
    """The demand with a greatest fill for every node of its own."""
    nodes = task.case.nodes
    highest = demand.highest_mm.copy()
    highest[nodes.inside] = np.minimum(highest[nodes.inside], nodes.z_mm + most_mm)
    return replace(demand, highest_mm=highest)


def _in_part(
    *,
    task: Task,
    fill_price: float,
    reserves_m: tuple[float, ...],
    shapes: Shapes,
    mender: Mender,
    weighing: Weighing,
    budget: Budget,
) -> tuple[float, ...]:
    """At the price of a trowel, which would rather grind, or of a pour, which fills deep hollows.

    The reserves that were not too small. Where the one before was too small and cost much less, the middle of
    both is tried too; where a reserve does only once areas are priced, so is the middle to the next.
    """
    search = _InPart(
        task=task, fill_price=fill_price, most_m=reserves_m[-1], shapes=shapes, mender=mender,
        weighing=weighing,
    )  # fmt: skip
    needed_m, failed = 0.0, _Tried(0.0)
    for k, reserve_m in enumerate(reserves_m):
        if reserve_m < min(needed_m, reserves_m[-1]):
            continue
        tried = search.at(reserve_m)
        if tried.ended or budget.left_s() <= 0.0:
            return reserves_m[k:]
        if tried.passed_on is not None:
            middle_m = (failed.reserve_m + reserve_m) / 2.0
            if failed.drawn_cost <= MUCH_LESS * weighing.least_cost() and middle_m >= needed_m:
                search.at(middle_m)
            if tried.passed_on > 0 and k + 1 < len(reserves_m):
                search.at((reserve_m + reserves_m[k + 1]) / 2.0)
            return reserves_m[k:]
        failed = tried
        if np.isfinite(tried.over_m):
            needed_m = reserve_m + GAINED * tried.over_m
    return reserves_m[-1:]


class _Tried(NamedTuple):
    """What came of a reserve: the least that its drafts cost before they were mended and by how much the last
    one departs too much; the first look on which one passed, and whether no larger reserve can be any
    better."""

    reserve_m: float
    drawn_cost: float = np.inf
    over_m: float = np.inf
    passed_on: int | None = None
    ended: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _InPart:
    """Floors poured in part at one price of fill; `most_m` is the largest reserve."""

    task: Task
    fill_price: float
    most_m: float
    shapes: Shapes
    mender: Mender
    weighing: Weighing

    def at(self, reserve_m: float) -> _Tried:
        """Weigh those of heights that are so much tighter than planned."""
        wanted = Wanted(
            fill_price=self.fill_price,
            greatest_fill_mm=self.task.case.fill_cap_mm,
            reserve_m=reserve_m,
            kept_grind_mm=KEPT_PASSES * SKIN_MM,
        )
        shape, tried = None, _Tried(reserve_m)
        for k, share in enumerate(RESERVE_SHARES):
            demand = demand_of(share, task=self.task, wanted=wanted, before=shape, pours=True)
            shape = self.shapes.cheapest(demand)
            if shape is None:
                return tried._replace(ended=True)
            depths = workable(task=self.task, shape=shape)
            drafts = _drafts(task=self.task, depths=depths, beat=self.weighing.least_cost())
            if not drafts and tried.passed_on is None:
                return tried._replace(ended=True)  # what is tighter costs more
            if drafts:
                found = self._weighed(
                    drafts if reserve_m >= min(RESERVES_M[-1], self.most_m) else drafts[:1],
                    refits=REFITS if k else 0,  # the first heights have films, which pins cannot follow
                )
                tried = tried._replace(drawn_cost=drafts[0][0], over_m=found.over_m)
                if found.passes and tried.passed_on is None:
                    tried = tried._replace(passed_on=k)
            if tried.passed_on is None and k > 0 and reserve_m < self.most_m:
                break  # what areas cost is not what is lacking
        return tried

    def _weighed(self, drafts: list[tuple[float, float, Draft]], *, refits: int) -> Found:
        """The first that passes, or the last."""
        found = UNPLACED
        for _, bay_m, draft in drafts:
            found = _weigh_part(
                task=self.task,
                draft=draft,
                bay_m=bay_m,
                mender=self.mender,
                weighing=self.weighing,
                refits=refits,
            )
            if found.passes:
                break
        return found


def _drafts(*, task: Task, depths: Depths, beat: float) -> list[tuple[float, float, Draft]]:
    """Strips of every kind that cost less than what is to be beaten, with cost and width, cheapest first."""
    made: list[tuple[float, float, Draft]] = []
    for bay_m, together in STRIPS:
        draft = with_pours(task=task, depths=depths, bay_m=bay_m, together=together)
        if draft is not None:
            draft = thrifty(task=task, draft=draft)
            placed = placed_of(name=PART, task=task, draft=draft)
            made.append((np.inf if placed is None else placed.cost, bay_m, draft))
    made.sort(key=lambda one: one[0])
    return [one for one in made if one[0] < beat or not np.isfinite(beat)]


def _weigh_part(
    *, task: Task, draft: Draft, bay_m: float, mender: Mender, weighing: Weighing, refits: int
) -> Found:
    """A pour stands where its pins let it, so where it breaks a rule the pins are fitted again."""
    found = _weigh(kind=PART, task=task, draft=draft, mender=mender, weighing=weighing)
    for _ in range(refits):
        if found.passes or found.over_m < 0.0:
            break  # below 0 it costs more, or a doorway or an error of the pour is what it misses
        draft, before = fitted_again(task=task, draft=draft, mender=mender, bay_m=bay_m), found
        found = _weigh(kind=PART, task=task, draft=draft, mender=mender, weighing=weighing)
        if found.over_m > HOPELESS * before.over_m:
            break
    return found


def _weigh(*, kind: str, task: Task, draft: Draft, mender: Mender, weighing: Weighing) -> Found:
    """Mending only adds work, so a draft that is too dear before is not mended."""
    drawn = placed_of(name=kind, task=task, draft=draft)
    if drawn is not None and drawn.cost >= weighing.least_cost():
        return weighing.offer(drawn, kind=kind)
    ready = placed_of(name=kind, task=task, draft=mended(draft=draft, mender=mender))
    return weighing.offer(ready, kind=kind)
