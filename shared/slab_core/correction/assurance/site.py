"""A floor on the coarser grid on which it is drawn, and the rules that it is checked against there."""

from dataclasses import dataclass, replace

from slab_core.correction.assurance_model import PlacingErrors
from slab_core.correction.model import Plan
from slab_core.correction.ramps.ramped import as_planned
from slab_core.correction.task import Task
from slab_core.numerics.grid import Mask
from slab_core.surface.sample import Sampler, sampler_of
from slab_core.tolerance.chance import spacing_m, unseen
from slab_core.tolerance.coarse import Coarse, coarse, stride_for
from slab_core.tolerance.model import Rule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Check:
    """A rule and the nodes that it holds on. `unseen` is (mean, sd) of the logarithm of what departures of
    the slab are stretched by under it."""

    rule: Rule
    on: Coarse
    unseen: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """A task on the coarser grid: its rules first among the `checks`, then those of ramps. `sampler` draws
    the slab, None where that is known exactly."""

    task: Task
    placing: PlacingErrors
    on: Coarse
    checks: tuple[Check, ...]
    sampler: Sampler | None

    def known_exactly(self) -> "Site":
        """The same where nothing of the slab is hidden between the readings."""
        checks = tuple(replace(check, unseen=(0.0, 0.0)) for check in self.checks)
        return replace(self, sampler=None, checks=checks)

    def every_node(self) -> "Site":
        """The same on the surface's own grid, as far as the floor's own rules go."""
        on = coarse(floor=self.task.floor, surface=self.task.surface, stride=1)
        return replace(self, on=on, checks=tuple(replace(check, on=on) for check in self.checks))


def site_of(*, task: Task, placing: PlacingErrors, lengths_m: tuple[float, ...]) -> Site:
    """The grid is as fine as the shortest edge needs; `lengths_m` are those used under each of the rules."""
    step = task.surface.grid.step_m
    stride = min(stride_for(length, step_m=step) for length in lengths_m)
    known = not task.surface.error.any()
    bare = Site(
        task=task,
        placing=placing,
        on=coarse(floor=task.floor, surface=task.surface, stride=stride),
        checks=(),
        sampler=None if known else sampler_of(task.surface.spline),
    )
    return replace(bare, checks=tuple(_check(bare, rule=rule, on=bare.on) for rule in task.rules))


def with_ramps_of(plan: Plan, *, site: Site) -> Site:
    """The site with the plan's ramps: edges of the floor's rules keep off them, and each is held to its own
    rule, with the floor around it."""
    task = as_planned(task=site.task, works=plan.doorways)
    if task.ramped is None:
        return site
    off = _within(site, where=task.off_ramps())
    zones = task.ramped.zones
    own = (_check(site, rule=zone.rule, on=_within(site, where=zone.around)) for zone in zones)
    return replace(site, checks=(*(replace(check, on=off) for check in site.checks), *own))


def _check(site: Site, *, rule: Rule, on: Coarse) -> Check:
    known, apart = site.sampler is None, spacing_m(site.task.surface)
    return Check(rule=rule, on=on, unseen=(0.0, 0.0) if known else unseen(rule.length_m, spacing_m=apart))


def _within(site: Site, *, where: Mask) -> Coarse:
    return site.on.within(floor=site.task.floor, where=where)
