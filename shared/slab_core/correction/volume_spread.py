"""How a plan's volumes vary while the slab is only known within its errors, the plan held fixed."""

from dataclasses import dataclass
from math import ceil

import numpy as np
from scipy.special import ndtr

from slab_core.correction.model import Plan
from slab_core.correction.nodes import node_areas
from slab_core.correction.pour_places import depth_in_lift, poured_nodes
from slab_core.numerics.grid import ERROR_STEP_M, HEIGHT_STEP_M, Floats, Ints, to_metres
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.surface.unknown import Unknown, straight

_LEAST_SD_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VolumeSpread:
    """Volumes of the k pours of a plan, in its order, and last what is ground off: m³, shape (k + 1,).

    `mean_m3` is what is to be expected: a little more than planned, as a node at the edge of the work can
    only add to it. `covariance` has the shape (k + 1, k + 1). Upper lifts are as thick as
    planned whatever the slab is like, so only the lowest over a place varies.
    """

    mean_m3: Floats
    covariance: Floats

    def draws(self, *, count: int, rng: np.random.Generator) -> Floats:
        """Volumes in m³ taken as jointly normal, none below 0, shape (k + 1, count)."""
        values, vectors = np.linalg.eigh(self.covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        noise = root @ rng.standard_normal((len(self.mean_m3), count))
        return np.asarray(np.maximum(self.mean_m3[:, None] + noise, 0.0))


def volume_spread(*, floor: Floor, surface: Surface, plan: Plan, least_lift_m: float) -> VolumeSpread:
    """Means and covariances of a plan's volumes; `least_lift_m` is the thinnest fill, 0 if it feathers.

    Covariances are exact for normal heights but for the bends at the edges of the work.
    """
    area = node_areas(shape=floor_polygon(floor), grid=plan.grid, inside=plan.inside)
    fill, depth = to_metres(plan.fill), to_metres(plan.fill - plan.grind)
    sd = np.maximum(to_metres(surface.error, step_m=ERROR_STEP_M), _LEAST_SD_M)
    filled = poured_nodes(plan)
    # What is trowelled takes few bags, which stay as planned.
    worked = filled | ((plan.grind > 0) & (plan.fill == 0))
    # Up to a whole storage step, as plans place it.
    thinnest_m = ceil(round(least_lift_m / HEIGHT_STEP_M, 6)) * HEIGHT_STEP_M
    least = np.where(filled, thinnest_m, 0.0)
    poured, sure = _positive_part(depth - least, sd)
    ground, cut = _positive_part(least - depth, sd)
    of_pour = _pour_of_node(plan, least_m=least_lift_m)
    count = len(plan.pours)
    mean, weights = np.zeros(count + 1), np.zeros((count + 1, *area.shape))
    for k, pour in enumerate(plan.pours):
        here = of_pour == k
        more = area[here] @ (least[here] + poured[here] - fill[here])
        mean[k], weights[k][here] = pour.volume_m3 + more, -(area * sure)[here]
    mean[count] = area[worked] @ ground[worked]
    weights[count][worked] = (area * cut)[worked]
    if not surface.error.any() or not worked.any():
        return VolumeSpread(mean_m3=mean, covariance=np.zeros((count + 1, count + 1)))
    covariance = Unknown(surface=surface, sums=straight(weights)).covariance()
    return VolumeSpread(mean_m3=mean, covariance=covariance)


def _positive_part(mean: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """E max(x, 0) of a normal x and how likely it is above 0."""
    scaled = mean / sd
    above = ndtr(scaled)
    density = np.exp(-0.5 * np.square(scaled)) / np.sqrt(2.0 * np.pi)
    return np.asarray(mean * above + sd * density), np.asarray(above)


def _pour_of_node(plan: Plan, *, least_m: float) -> Ints:
    """Place of the pour that lies on the slab at each node, -1 where nothing is poured, shape (ny, nx)."""
    found = np.full(plan.fill.shape, -1, dtype=np.int32)
    for k in sorted(range(len(plan.pours)), key=lambda k: -plan.pours[k].lift):
        depth, _ = depth_in_lift(plan, plan.pours[k], least_m=least_m, lift_m=plan.greatest_fill_m)
        found[depth > 0] = k
    return found
