"""The last hair: what still breaks a rule on the floor's own nodes is filled or ground by just so much."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from slab_core.correction.evaluate import to_mm
from slab_core.correction.optimum.oracle import Over, StraightedgeOracle
from slab_core.correction.optimum.rows import all_of
from slab_core.correction.placing.depths import Depths, most_passes
from slab_core.correction.placing.door_limits import door_limits_mm
from slab_core.correction.placing.run_out import run_out_mm
from slab_core.correction.placing_error import allowed_gap_m
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Ints, Mask
from slab_core.tolerance.lattice import direction_array, free_steps
from slab_core.tolerance.model import Rule

ROUNDS, GRINDS_FROM, LIFTS_FROM = 12, 2, 1
BROKEN_MM = 0.005

HOPELESS = 0.9
"""Mending ends where a round leaves more than this share of what was the worst two rounds before, or earlier:
what lifts a place may make the next one proud, which takes a round to settle."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What one look at the floor showed: by how many mm its nodes lie too low and too proud for the rule that
    they break most, and the same of every look's rules."""

    gap: Floats
    rise: Floats
    over: list[tuple[Over, ...]]

    def worst(self) -> float:
        """The most of all; negative where every rule is kept."""
        return float(max(self.gap.max(), self.rise.max()))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """Rules of some nodes, on the heights and what lies on top of them there in mm (ny, nx)."""

    oracle: StraightedgeOracle
    on_top_mm: Floats


class Mender:
    """Looks at the drawn floor with every rule as tight as it is planned, and mends what breaks it; at the
    floor less its ramps by its own rules, and at each ramp by the ramp's."""

    def __init__(self, *, task: Task, budget: Budget) -> None:
        self.task = task
        self.at_door = np.isfinite(door_limits_mm(task=task, doors=task.doors)[0])
        lowest, highest = run_out_mm(task=task, doors=task.doors)
        hair = np.where(self.at_door, 0.0, SKIN_MM)  # films are dropped and passes rounded
        self.lowest_mm, self.highest_mm = lowest - hair, highest + hair
        self.grind_caps_mm, self.fill_caps_mm = task.case.grind_caps_mm(), task.case.fill_caps_mm()
        planned = tuple(replace(rule, gap_m=allowed_gap_m(gap_m=rule.gap_m)) for rule in task.rules)
        inside = task.surface.inside
        nothing = np.zeros(inside.shape)
        self.looks = [_look(task=task, where=inside, rules=planned, on_top_mm=nothing, budget=budget)]
        if task.ramped is not None:
            lift = nothing.copy()
            lift[inside] = to_mm(task.ramped.lift)
            self.looks += [
                _look(task=task, where=zone.around, rules=(zone.rule,), on_top_mm=lift, budget=budget)
                for zone in task.ramped.zones
            ]

    def mend(self, *, depths: Depths, fixed: Mask, most_mm: Floats) -> Depths:
        """Low nodes are filled up to `most_mm`, proud ones ground in whole passes once fill alone did not do,
        at doorways to a hair. Where a node cannot give, the nodes that the edge rests on do, and for one that
        had been ground too deep: it is not ground again. `fixed` nodes are poured and stay."""
        change = depths.fill_mm - depths.grind_mm
        change = np.where(fixed, change, self._in_range(np.minimum(change, most_mm)))
        worsts: list[float] = []
        raised = np.zeros(len(change), dtype=np.bool_)
        for k in range(ROUNDS):
            seen = self.seen(change)
            worst = seen.worst()
            if worst <= BROKEN_MM or (k > GRINDS_FROM + 1 and worst > HOPELESS * min(worsts[:-1])):
                break
            worsts.append(worst)
            before, change = (
                change,
                self._step(change_mm=change, most_mm=most_mm, seen=seen, fixed=fixed, raised=raised, k=k),
            )
            raised |= (before < 0.0) & (change > before)
        grind = np.maximum(-change, 0.0)
        fill = np.maximum(change, 0.0)
        return Depths(fill_mm=fill, grind_mm=grind, target_mm=self.task.case.nodes.z_mm + fill)

    def seen(self, change_mm: Floats) -> Seen:
        """A look at the floor with these changes."""
        height = self._height_mm(change_mm)
        over = [look.oracle.over(heights_mm=height + look.on_top_mm) for look in self.looks]
        return Seen(gap=self._most(over=over, side=1.0), rise=self._most(over=over, side=-1.0), over=over)

    def _most(self, *, over: list[tuple[Over, ...]], side: float) -> Floats:
        """By how many mm the nodes lie beyond the rule that they break most, on one side of the edge."""
        inside = self.task.case.nodes.inside
        most = np.full(int(inside.sum()), -np.inf)
        for one in chain.from_iterable(over):
            if one.side == side:
                most = np.maximum(most, one.mm[inside])
        return most

    def _step(
        self,
        *,
        change_mm: Floats,
        most_mm: Floats,
        seen: Seen,
        fixed: Mask,
        raised: Mask,
        k: int,
    ) -> Floats:
        gap, rise = seen.gap, seen.rise
        low, proud = gap > BROKEN_MM, (rise > BROKEN_MM) & (gap <= BROKEN_MM)
        falls = proud & ~raised & ((k >= GRINDS_FROM) | (change_mm < 0.0) | (change_mm > rise))
        down = np.where(falls, rise, 0.0)
        down = np.where(change_mm < SKIN_MM, np.ceil(down / SKIN_MM - 1e-9) * SKIN_MM, down)
        wanted = change_mm + np.where(low, gap, 0.0) - down
        if k >= LIFTS_FROM:
            stuck = (low & (fixed | (wanted > most_mm))) | (
                proud & (fixed | raised | (wanted < -self.grind_caps_mm - 1e-9))
            )
            if stuck.any():
                wanted = wanted + self._give(change_mm=change_mm, seen=seen, stuck=stuck)
        wanted = np.minimum(self._in_range(wanted), most_mm)
        return np.where(fixed, change_mm, self._in_passes(wanted, before_mm=change_mm))

    def _in_passes(self, change_mm: Floats, *, before_mm: Floats) -> Floats:
        """Grinding in whole passes, away from what was before, so that rounding undoes nothing of a step."""
        up = np.floor(-change_mm / SKIN_MM + 1e-9)
        down = np.minimum(np.ceil(-change_mm / SKIN_MM - 1e-9), most_passes(task=self.task))
        passes = np.where(change_mm > before_mm, up, down)
        ground = (change_mm < 0.0) & ~self.at_door
        return np.where(ground, -passes * SKIN_MM, change_mm)

    def _in_range(self, change_mm: Floats) -> Floats:
        """Changes that leave doorways within their ranges, and what is done for them running out, as far as
        the caps let them."""
        z_mm = self.task.case.nodes.z_mm
        change_mm = np.clip(change_mm, self.lowest_mm - z_mm, self.highest_mm - z_mm)
        return np.asarray(np.clip(change_mm, -self.grind_caps_mm, self.fill_caps_mm))

    def _give(self, *, change_mm: Floats, seen: Seen, stuck: Mask) -> Floats:
        """How far the supports of edges over stuck nodes must come down, or those under them up."""
        give = np.zeros_like(change_mm)
        for n, support, side in self._supports(change_mm=change_mm, seen=seen, where=stuck):
            up, down = side < 0.0, side > 0.0
            np.maximum.at(give, support[up], seen.rise[n[up]])
            passes = np.ceil(seen.gap[n[down]] / SKIN_MM) * SKIN_MM
            np.minimum.at(give, support[down], -passes)
        return give

    def touching(self, *, change_mm: Floats, seen: Seen, where: Mask) -> Mask:
        """The marked nodes and those that the edge rests on there."""
        found = where.copy()
        for _, support, _ in self._supports(change_mm=change_mm, seen=seen, where=where):
            found[support] = True
        return found

    def _supports(self, *, change_mm: Floats, seen: Seen, where: Mask) -> Iterator[tuple[Ints, Ints, Floats]]:
        """(nodes, what the edge rests on there, its side) of broken rules, for each end of the edge."""
        place, surface = self.task.case.place, self.task.surface
        marked = np.zeros_like(surface.inside)
        marked[surface.inside] = where
        height = self._height_mm(change_mm)
        lies = all_of(
            [
                look.oracle.lies(
                    over=one, heights_mm=height + look.on_top_mm, more_than_mm=BROKEN_MM, where=marked
                )
                for look, one in zip(self.looks, seen.over, strict=True)
            ]
        )
        ny, nx = surface.grid.ny, surface.grid.nx
        n = place[lies.node[:, 0] * nx + lies.node[:, 1]]
        steps = direction_array()[lies.direction]
        for end in (np.floor(lies.a), np.ceil(lies.a), np.floor(lies.b), np.ceil(lies.b)):
            row = lies.node[:, 0] + (end * steps[:, 1]).astype(np.int64)
            column = lies.node[:, 1] + (end * steps[:, 0]).astype(np.int64)
            within = (row >= 0) & (row < ny) & (column >= 0) & (column < nx)
            support = place[np.clip(row, 0, ny - 1) * nx + np.clip(column, 0, nx - 1)]
            on = within & (support >= 0)
            yield n[on], support[on], lies.side[on]

    def _height_mm(self, change_mm: Floats) -> Floats:
        nodes = self.task.case.nodes
        height = np.zeros(nodes.inside.shape)
        height[nodes.inside] = nodes.z_mm + change_mm
        return height


def _look(*, task: Task, where: Mask, rules: tuple[Rule, ...], on_top_mm: Floats, budget: Budget) -> _Look:
    grid = task.surface.grid
    free = free_steps(floor=task.floor, grid=grid, inside=where)
    oracle = StraightedgeOracle(step_m=grid.step_m, free=free, rules=rules, budget=budget)
    return _Look(oracle=oracle, on_top_mm=on_top_mm)
