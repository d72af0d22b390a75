"""Floors as they may come out: the slab as it may be under its readings, worked by a crew that errs.

What is poured to pins or ground to a line comes out at the plan's height and the crew's error, whatever the
slab was like; what is trowelled, as the slab around it lies. With three limits: a grinder cannot raise, so a
dip that no reading told stays low where no pour reaches it; a pour cannot lower, so what stands through it
is scraped to what an edge shows, if it may be ground at all; what is left alone is the slab. Bands, ridges
and patches are sharper than draws of the slab. As for the chance of a floor as it is (tolerance/chance.py),
departures of what is left of it are therefore moved and widened by what lies unseen between the readings:
here by stretching what that is away from the plan's plane. Under work the draws alone are near enough: on
invented slabs, built by an own simulation of crews, stretching made floors look worse there than they were.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from slab_core.correction.assurance.errors import PlacingDraws, placed_errors
from slab_core.correction.assurance.site import Site
from slab_core.correction.model import Plan
from slab_core.numerics.grid import Floats, Mask, to_metres
from slab_core.tolerance.coarse import Coarse, drawn_m

FED_M = 0.3
"""Compound runs so far over the line that was ground (common practice, no single source)."""

BESIDE_M = 0.4
"""A trowelled spot takes its height from the slab about so far around it (the same)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sample:
    """Draws that have nothing to do with a plan: slabs (count, ny, nx), errors, and how far unseen relief
    stretches each slab, in standard deviations, shape (count,)."""

    slab_m: Floats
    placed: PlacingDraws
    stretch: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Planned:
    """A plan on the coarser grid: heights aimed at, what is done where, the plane that the slab is
    measured from.

    What is `poured_free` or `patched` is filled too; `fed` nodes are ground beside a pour, and `by_edge` ones
    are worked to the slab around them instead of to a height. The slab itself may be ground where crews
    `may_scrape`.
    """

    aim_m: Floats
    ground_m: Floats
    filled: Mask
    patched: Mask
    poured_free: Mask
    fed: Mask
    by_edge: Mask
    left: Mask
    may_scrape: Mask
    may_grind: Mask
    may_fill: Mask
    plane_m: Floats
    step_m: float


def sample(*, site: Site, count: int, rng: np.random.Generator) -> Sample:
    """`count` draws; a slab that is known exactly is always the same."""
    slabs, work, stretch = rng.spawn(3)
    surface = site.task.surface
    if site.sampler is not None:
        slab = drawn_m(surface=surface, sampler=site.sampler, on=site.on, count=count, rng=slabs)
    else:
        slab = np.repeat(site.on.of(to_metres(surface.height))[None], count, axis=0)
    return Sample(
        slab_m=slab,
        placed=placed_errors(
            grid=site.on.grid, bays=site.task.case.nodes.bays, pin_spacing_m=site.task.rates.pin_spacing_m,
            errors=site.placing, count=count, rng=work,
        ),
        stretch=stretch.standard_normal(count),
    )  # fmt: skip


def planned(*, site: Site, plan: Plan) -> Planned:
    """The plan where the draws are checked."""
    on, surface = site.on, site.task.surface
    aim = on.of(to_metres(surface.height + plan.fill - plan.grind))
    filled, ground = on.of(plan.fill) > 0, on.of(to_metres(plan.grind))
    patched = filled & (on.of(plan.trowelled) if plan.trowelled is not None else False)
    poured = filled & ~patched
    free = any(pour.method == "free" for pour in plan.pours)
    may_scrape = ~_kept(site, site.task.case.nodes.unground) & (not site.task.limits.no_grinding)
    cut = (ground > 0.0) & ~filled
    near = ndimage.distance_transform_edt(~poured) * on.grid.step_m <= FED_M if poured.any() else poured
    return Planned(
        aim_m=aim,
        ground_m=ground,
        filled=filled,
        patched=patched,
        poured_free=poured & free,
        fed=cut & near,
        by_edge=patched | cut if plan.plane is None else patched,
        left=on.inside & ~filled & ~cut,
        may_scrape=may_scrape,
        may_grind=filled | may_scrape,
        may_fill=~_kept(site, site.task.case.nodes.unfilled) & site.task.family.fills,
        plane_m=_plane_m(plan=plan, on=on, aim_m=aim),
        step_m=on.grid.step_m,
    )


def _kept(site: Site, nodes: Mask) -> Mask:
    """Marked nodes of the floor where the draws are checked."""
    kept = np.zeros_like(site.task.surface.inside)
    kept[site.task.surface.inside] = nodes
    return site.on.of(kept)


def as_built(*, site: Site, plan: Planned, drawn: Sample) -> tuple[Floats, ...]:
    """Heights before any finishing, shape (count, ny, nx), for each check: they differ by how far unseen
    relief stretches what is left of the slab."""
    fill_error = _fill_error_m(plan, drawn.placed)
    heights = []
    for mean, sd in (check.unseen for check in site.checks):
        stretch = np.where(plan.left, np.exp(mean + sd * drawn.stretch)[:, None, None], 1.0)
        slab = plan.plane_m + stretch * (drawn.slab_m - plan.plane_m)
        aim = plan.aim_m + _follows(plan, slab_m=slab)
        poured, ground = aim + fill_error, aim + drawn.placed.ground
        under = slab - plan.ground_m
        through = np.where(plan.may_scrape, np.minimum(under, poured + site.placing.gauge_m), under)
        built = np.where(plan.ground_m > 0.0, np.minimum(slab, ground), slab)
        built = np.where(plan.fed & (slab < poured), poured, built)
        heights.append(np.where(plan.filled, np.maximum(poured, through), built))
    return tuple(heights)


def _fill_error_m(plan: Planned, placed: PlacingDraws) -> Floats:
    poured = np.where(plan.poured_free, placed.free, placed.screeded)
    return np.asarray(np.where(plan.patched, placed.patched, poured))


def _follows(plan: Planned, *, slab_m: Floats) -> Floats:
    """How far the slab left around a spot that is worked by the edge lies from where it was thought to be."""
    if not plan.by_edge.any():
        return np.zeros(slab_m.shape)
    reach = BESIDE_M / plan.step_m
    weight = ndimage.gaussian_filter(plan.left.astype(np.float64), reach, mode="constant")
    off = np.where(plan.left, slab_m - plan.aim_m, 0.0)
    around = ndimage.gaussian_filter(off, (0.0, reach, reach), mode="constant")
    return np.asarray(np.where(plan.by_edge & (weight > 1e-3), around / np.maximum(weight, 1e-3), 0.0))


def _plane_m(*, plan: Plan, on: Coarse, aim_m: Floats) -> Floats:
    """The plan's plane, or the one that fits best what it aims at."""
    xs, ys = np.meshgrid(on.grid.xs(), on.grid.ys())
    if plan.plane is not None:
        return np.asarray(plan.plane[0] + plan.plane[1] * xs + plan.plane[2] * ys)
    design = np.column_stack([np.ones(on.inside.sum()), xs[on.inside], ys[on.inside]])
    (height, slope_x, slope_y), *_ = np.linalg.lstsq(design, aim_m[on.inside], rcond=None)
    return np.asarray(height + slope_x * xs + slope_y * ys)
