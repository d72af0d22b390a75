"""Which share of an earlier estimate's lines is done while its work goes on."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil

from slab_core.correction.model import Plan
from slab_core.rooms.model import Rooms
from slab_core.takeoff.areas import work_areas
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.model import DoneLine, LineKey, LineKind, TakeoffLine

LEAST_SHARE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EarlierWork:
    """The plans that the followed estimate priced, one for each floor, the ids of what is done of them, and
    the kinds of work that it had left out already as done."""

    plans: tuple[Plan, ...]
    done: tuple[str, ...]
    finished: tuple[str, ...]
    readings: int


def done_shares(
    *, brief: Brief, rooms: Rooms, earlier: EarlierWork, take: Callable[[Brief], tuple[TakeoffLine, ...]]
) -> tuple[DoneLine, ...]:
    """Of each line of the followed estimate the share that is done: what its plan took in all, less what it
    would still take if everything had gone as planned. Lines that are untouched are left out."""
    first = replace(brief, reading_count=earlier.readings)
    whole = take(_with(first, rooms=rooms, plans=earlier.plans, finished=frozenset(earlier.finished)))
    rest_plans = tuple(_rest(plan, done=frozenset(earlier.done)) for plan in earlier.plans)
    rest = take(_with(first, rooms=rooms, plans=rest_plans, finished=brief.finished))
    left: dict[tuple[LineKey, LineKind], float] = {(line.key, line.kind): line.order for line in rest}
    shares = (
        DoneLine(key=line.key, kind=line.kind, share=1.0 - left.get((line.key, line.kind), 0.0) / line.order)
        for line in whole
        if line.order > 0.0
    )
    return tuple(share for share in shares if share.share > LEAST_SHARE)


def _with(brief: Brief, *, rooms: Rooms, plans: tuple[Plan, ...], finished: frozenset[str]) -> Brief:
    areas = work_areas(rooms=rooms, plans=plans, layouts=brief.layouts)
    return replace(brief, plans=plans, areas=areas, finished=finished)


def _rest(plan: Plan, *, done: frozenset[str]) -> Plan:
    """The plan without what is done of it, as if that were as planned."""
    areas = tuple(area for area in plan.grind_areas if area.id not in done)
    pours = tuple(pour for pour in plan.pours if pour.id not in done)
    patches = tuple(patch for patch in plan.patches if patch.id not in done)
    bags, all_bags = sum(pour.bags for pour in pours), sum(pour.bags for pour in plan.pours)
    share = bags / all_bags if all_bags else 0.0
    patched_m2 = sum(patch.area_m2 for patch in plan.patches)
    patch_bags = sum(patch.bags_opened for patch in patches)
    return replace(
        plan,
        grind_areas=areas,
        pours=pours,
        patches=patches,
        grind_m3=sum(area.volume_m3 for area in areas),
        grinder_hours=sum(area.machine_hours for area in areas),
        hand_grinder_hours=sum(area.hand_hours for area in areas),
        fill_m2=(plan.fill_m2 - patched_m2) * share + sum(patch.area_m2 for patch in patches),
        bags=bags + patch_bags,
        patch_bags=patch_bags,
        pour_days=ceil(plan.pour_days * share - 1e-9),
        border_m=plan.border_m * share,
        ending_m=plan.ending_m * share,
    )
