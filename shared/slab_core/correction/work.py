"""The work that one plane makes: what is filled and ground where, counted as a crew and a buyer count it."""

from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from slab_core.correction import kernels
from slab_core.correction.lifts import SLACK_MM, upper_lift
from slab_core.correction.model import Limits
from slab_core.correction.nodes import Nodes
from slab_core.correction.one_lift import greatest_fill_m, is_held_to_one
from slab_core.correction.unit_costs import Quantities, UnitCosts, cost, running_cost
from slab_core.materials.model import Compound
from slab_core.materials.pour_days import day_count
from slab_core.numerics.grid import Floats, Ints

SKIN_MM = 25.4 / 64
"""Thinner skins cannot be placed or ground on purpose: 1/64 in, about a grain of compound and a pass of
the grinder, half of a good crew's placing error (common practice, no single source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """Everything that stays the same while planes are tried on one floor. The caps are those outside keep-out
    zones; one in which nothing is done at all may lie as far off a plane as `left_mm`. With `one_lift` two
    lifts of the compound would be too thin, so its cap of fill is one, below that of the limits."""

    nodes: Nodes
    place: Ints
    costs: UnitCosts
    least_mm: float
    lift_mm: float
    grind_cap_mm: float
    fill_cap_mm: float
    left_mm: float
    one_lift: bool = False

    def grind_caps_mm(self) -> Floats:
        """How deep each node may be ground."""
        return np.where(self.nodes.unground, 0.0, self.grind_cap_mm)

    def fill_caps_mm(self) -> Floats:
        """How high each node may be filled."""
        return np.where(self.nodes.unfilled, 0.0, self.fill_cap_mm)

    def worked_m2(self) -> Floats:
        """The area of each node, 0 where nothing may be done."""
        return np.where(self.nodes.unfilled, 0.0, self.nodes.area_m2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Work:
    """Result for one plane. `pours` is (bays, lifts, 2): m²·mm and m², lift 0 on top; all
    but the lowest over a place are `upper_mm` thick;
    `mixed` and `bags` are its bags, as really mixed and as whole ones, and `running_cost` counts the
    first, without days and set-ups. `deepest_below_mm` is how far the plane dips below the slab anywhere
    that something may be done, `kept_out_mm` by how much it would cross a keep-out zone."""

    state: Ints
    pours: Floats
    upper_mm: float
    mixed: Floats
    bags: Ints
    quantities: Quantities
    greatest_fill_mm: float
    greatest_grind_mm: float
    deepest_below_mm: float
    kept_out_mm: float
    cost: float
    running_cost: float


LEFT_HAIR_MM = 0.02
"""What rounding to storage steps may take of a rule."""


def make_case(
    *, nodes: Nodes, costs: UnitCosts, compound: Compound, limits: Limits, least_gap_m: float
) -> Case:
    """Limits and lifts in the units of the nodes. Where all heights lie within half of the `least_gap_m` of
    any rule from a plane, no edge departs more than the rule allows."""
    place = np.full(nodes.inside.size, -1, dtype=np.int32)
    place[nodes.index] = np.arange(len(nodes.index), dtype=np.int32)
    return Case(
        nodes=nodes,
        place=place,
        costs=costs,
        # Up to a whole storage step, so that no stored fill is thinner than the lift.
        least_mm=0.0 if compound.featheredge else ceil(round(compound.least_lift_m * 1e5, 6)) / 100,
        # Down to a whole one, so that no stored lift is thicker.
        lift_mm=floor(round(compound.greatest_lift_m * 1e5, 6)) / 100,
        grind_cap_mm=0.0 if limits.no_grinding else limits.greatest_grind_m * 1e3,
        fill_cap_mm=greatest_fill_m(compound=compound, limits=limits) * 1e3,
        left_mm=max(SKIN_MM, least_gap_m * 1e3 / 2 - LEFT_HAIR_MM),
        one_lift=is_held_to_one(compound=compound, limits=limits),
    )


def depths_mm(*, case: Case, abc_mm: Floats) -> Floats:
    """Plane less slab at every node: what would be filled (positive) or ground (negative)."""
    nodes = case.nodes
    return np.asarray(abc_mm[0] + abc_mm[1] * nodes.u + abc_mm[2] * nodes.v - nodes.z_mm, dtype=np.float64)


def classify(*, case: Case, depth_mm: Floats, skin_mm: float) -> Ints:
    """LEFT, FILL or GRIND at every node. What a keep-out zone forbids is left, however deep."""
    nodes = case.nodes
    state = kernels.classify(depth_mm, case.place, nodes.index, nodes.held, nodes.grid.nx, skin_mm)
    kept = (nodes.unground & (state == kernels.GRIND)) | (nodes.unfilled & (state == kernels.FILL))
    return np.where(kept, np.int8(kernels.LEFT), state)


def work_of_depths(*, case: Case, depth_mm: Floats, state: Ints) -> Work:
    """Bags, hours, days and cost of bringing the nodes marked in `state` by `depth_mm`."""
    nodes, costs = case.nodes, case.costs
    deepest = max(float(depth_mm[state == kernels.FILL].max(initial=0.0)), case.least_mm)
    lifts, upper_mm = upper_lift(deepest_mm=deepest, least_mm=case.least_mm, lift_mm=case.lift_mm)
    pours, total = kernels.add_up(
        depth_mm, state, nodes.area_m2, nodes.wall_m, nodes.hand, nodes.bays.of_node, case.least_mm,
        case.lift_mm, upper_mm, SLACK_MM, len(nodes.bays.bays), lifts, costs.breaks_mm, costs.factors,
    )  # fmt: skip
    mixed = pours[:, :, 0] * costs.bags_per_m2_mm
    mixed[:, 0] += pours[:, 0, 1] * costs.bags_per_m2_texture
    bags = np.ceil(mixed - 1e-9).astype(np.int64)
    quantities = Quantities(
        bags=int(bags.sum()),
        unrounded_bags=float(mixed.sum()),
        filled_m2=float(total[0]),
        border_m=float(total[1]),
        pour_days=pour_days(case=case, bags=bags),
        machine_hours=float(total[2]) * costs.hours_per_m2_mm,
        hand_hours=float(total[3]) * costs.hand_hours_per_m2_mm,
    )
    return Work(
        state=state,
        pours=pours,
        upper_mm=upper_mm,
        mixed=mixed,
        bags=bags,
        quantities=quantities,
        greatest_fill_mm=float(total[4]),
        greatest_grind_mm=float(total[5]),
        deepest_below_mm=-float(depth_mm[~nodes.unfilled].min(initial=0.0)),
        kept_out_mm=_kept_out_mm(case=case, depth_mm=depth_mm, state=state),
        cost=cost(quantities=quantities, costs=costs),
        running_cost=running_cost(quantities=quantities, costs=costs),
    )


def _kept_out_mm(*, case: Case, depth_mm: Floats, state: Ints) -> float:
    """By how much the depths go beyond what may be left in keep-out zones, or ask for a key there."""
    nodes = case.nodes
    ground = np.where(state == kernels.FILL, case.least_mm - depth_mm, -depth_mm - SKIN_MM)
    beyond = np.where(nodes.unfilled, np.abs(depth_mm) - case.left_mm, ground)
    return float(beyond[nodes.unground].max(initial=0.0))


def pour_days(*, case: Case, bags: Ints) -> int:
    """Days on which the field is poured: every phase and every lift starts its own (bays, lifts)."""
    by_phase_and_lift: dict[tuple[int, int], list[int]] = {}
    for bay, layers in zip(case.nodes.bays.bays, bags.tolist(), strict=True):
        # Layers are counted from the top, lifts from the bottom: the lowest lifts go in together.
        for lift, count in enumerate(reversed([n for n in layers if n])):
            by_phase_and_lift.setdefault((bay.phase, lift), []).append(count)
    return sum(day_count(bags=pours, per_day=case.costs.bags_per_day) for pours in by_phase_and_lift.values())


def work_of_plane(*, case: Case, abc_mm: Floats, skin_mm: float = SKIN_MM) -> Work:
    """The work of a plane, without rounding heights to storage steps."""
    depth = depths_mm(case=case, abc_mm=abc_mm)
    state = classify(case=case, depth_mm=depth, skin_mm=skin_mm)
    return work_of_depths(case=case, depth_mm=depth, state=state)


def breaks_limits(*, case: Case, work: Work, slack_mm: float = 1e-3) -> bool:
    """Whether the crew would have to cross a limit; a patch left above the plane counts as if ground,
    because a rule may yet ask for it. In a keep-out zone it never is, so a skin may be left there."""
    too_deep = max(work.greatest_grind_mm, work.deepest_below_mm) > case.grind_cap_mm + slack_mm
    too_high = work.greatest_fill_mm > case.fill_cap_mm + slack_mm
    return too_deep or too_high or work.kept_out_mm > slack_mm
