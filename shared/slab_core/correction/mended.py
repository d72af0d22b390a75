"""The last hair: what still breaks a rule on the floor's own nodes is filled or ground by just so much."""

from dataclasses import replace

import numpy as np

from slab_core.correction.depths import Depths, in_passes
from slab_core.correction.optimum_oracle import Over, StraightedgeOracle
from slab_core.correction.placing_error import allowed_gap_m
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.tolerance.lattice import direction_array, free_steps

ROUNDS, GRINDS_FROM, LIFTS_FROM = 8, 2, 1
BROKEN_MM = 0.005

HOPELESS = 0.9
"""Mending ends where a round leaves more than this share of the worst."""


class Mender:
    """Looks at the drawn floor with every rule as tight as it is planned, and mends what breaks it."""

    def __init__(self, *, task: Task, budget: Budget) -> None:
        surface = task.surface
        self.task = task
        self.oracle = StraightedgeOracle(
            step_m=surface.grid.step_m,
            free=free_steps(floor=task.floor, grid=surface.grid, inside=surface.inside),
            rules=tuple(replace(rule, gap_m=allowed_gap_m(gap_m=rule.gap_m)) for rule in task.rules),
            budget=budget,
        )

    def mend(self, *, depths: Depths, fixed: Mask, most_mm: Floats) -> Depths:
        """Low nodes are filled up to `most_mm`, proud ones ground in whole passes once fill alone did not do.
        Where a node cannot give, the nodes that the edge rests on do. `fixed` nodes are poured and stay."""
        change = depths.fill_mm - depths.grind_mm
        change = np.where(fixed, change, np.minimum(change, most_mm))
        least = np.inf
        for k in range(ROUNDS):
            over = self.oracle.over(heights_mm=self._height_mm(change))
            gap, rise = self._most(over=over, side=1.0), self._most(over=over, side=-1.0)
            worst = float(max(gap.max(), rise.max()))
            if worst <= BROKEN_MM or (k > GRINDS_FROM + 1 and worst > HOPELESS * least):
                break
            least = min(least, worst)
            change = self._step(
                change_mm=change, most_mm=most_mm, over=over, gap=gap, rise=rise, fixed=fixed, k=k
            )
        grind = in_passes(task=self.task, grind_mm=np.maximum(-change, 0.0), specks=True)
        fill = np.maximum(change, 0.0)
        return Depths(fill_mm=fill, grind_mm=grind, target_mm=self.task.case.nodes.z_mm + fill)

    def _most(self, *, over: tuple[Over, ...], side: float) -> Floats:
        """By how many mm the nodes lie beyond the rule that they break most, on one side of the edge."""
        inside = self.task.case.nodes.inside
        most = np.full(int(inside.sum()), -np.inf)
        for one in over:
            if one.side == side:
                most = np.maximum(most, one.mm[inside])
        return most

    def _step(
        self,
        *,
        change_mm: Floats,
        most_mm: Floats,
        over: tuple[Over, ...],
        gap: Floats,
        rise: Floats,
        fixed: Mask,
        k: int,
    ) -> Floats:
        case = self.task.case
        low, proud = gap > BROKEN_MM, (rise > BROKEN_MM) & (gap <= BROKEN_MM)
        down = np.where(proud & ((k >= GRINDS_FROM) | (change_mm < 0.0) | (change_mm > rise)), rise, 0.0)
        down = np.where(change_mm < SKIN_MM, np.ceil(down / SKIN_MM - 1e-9) * SKIN_MM, down)
        wanted = change_mm + np.where(low, gap, 0.0) - down
        if k >= LIFTS_FROM:
            stuck = (low & (fixed | (wanted > most_mm))) | (
                proud & (fixed | (wanted < -case.grind_cap_mm - 1e-9))
            )
            if stuck.any():
                wanted = wanted + self._give(change_mm=change_mm, over=over, gap=gap, rise=rise, stuck=stuck)
        wanted = np.clip(wanted, -case.grind_cap_mm, most_mm)
        return np.where(fixed, change_mm, wanted)

    def _give(
        self, *, change_mm: Floats, over: tuple[Over, ...], gap: Floats, rise: Floats, stuck: Mask
    ) -> Floats:
        """How far the supports of edges over stuck nodes must come down, or those under them up."""
        place, surface = self.task.case.place, self.task.surface
        where = np.zeros_like(surface.inside)
        where[surface.inside] = stuck
        lies = self.oracle.lies(
            over=over, heights_mm=self._height_mm(change_mm), more_than_mm=BROKEN_MM, where=where
        )
        nx = surface.grid.nx
        n = place[lies.node[:, 0] * nx + lies.node[:, 1]]
        steps = direction_array()[lies.direction]
        give = np.zeros_like(change_mm)
        for end in (np.floor(lies.a), np.ceil(lies.a), np.floor(lies.b), np.ceil(lies.b)):
            row = lies.node[:, 0] + (end * steps[:, 1]).astype(np.int64)
            column = lies.node[:, 1] + (end * steps[:, 0]).astype(np.int64)
            within = (row >= 0) & (row < surface.grid.ny) & (column >= 0) & (column < nx)
            support = np.where(
                within, place[np.clip(row, 0, surface.grid.ny - 1) * nx + np.clip(column, 0, nx - 1)], -1
            )
            up, down = (support >= 0) & (lies.side < 0.0), (support >= 0) & (lies.side > 0.0)
            np.maximum.at(give, support[up], rise[n[up]])
            passes = np.ceil(gap[n[down]] / SKIN_MM) * SKIN_MM
            np.minimum.at(give, support[down], -passes)
        return give

    def _height_mm(self, change_mm: Floats) -> Floats:
        nodes = self.task.case.nodes
        height = np.zeros(nodes.inside.shape)
        height[nodes.inside] = nodes.z_mm + change_mm
        return height
