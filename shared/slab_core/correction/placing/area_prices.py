"""What an area costs, spread over the depth that it has: thin fill is dear, so that the next heights which
are looked for have fewer and deeper places."""

from dataclasses import replace

import numpy as np
from scipy import ndimage

from slab_core.correction.optimum.model import Demand
from slab_core.correction.placing.shapes import Shape
from slab_core.correction.task import Task
from slab_core.numerics.grid import Floats

BLUR_M, THIN_MM = 0.1, 0.6
"""Depths are looked at over so much of the floor, and none is taken to be thinner."""


def with_areas(*, task: Task, shape: Shape, demand: Demand, pours: bool) -> Demand:
    """The demand with each node's fill at the price that its depth in `shape` has: by hand, or poured where
    something is poured and the depth is a pour's."""
    nodes = task.case.nodes
    depth = np.zeros(nodes.inside.shape)
    depth[nodes.inside] = np.where(shape.fill, np.maximum(shape.target_mm - nodes.z_mm, 0.0), 0.0)
    depth = ndimage.gaussian_filter(depth, BLUR_M / nodes.grid.step_m)
    price = _by_hand(task=task, depth_mm=depth)
    if pours:
        price = np.where(depth >= task.case.least_mm, _poured(task=task, depth_mm=depth), price)
    return replace(demand, fill_weight=demand.fill_weight * price / float(demand.fill_prices.per_mm[0]))


def _by_hand(*, task: Task, depth_mm: Floats) -> Floats:
    """Money per m² and mm of a skim."""
    placing = task.placing
    by_area = placing.per_bag * placing.bags_per_m2_texture + placing.per_ph * placing.ph_per_skim_m2
    return placing.per_bag * placing.bags_per_m2_mm + by_area / (depth_mm + THIN_MM)


def _poured(*, task: Task, depth_mm: Floats) -> Floats:
    """Money per m² and mm of a pour, without what runs along its rim."""
    costs = task.case.costs
    by_area = costs.per_bag * costs.bags_per_m2_texture + costs.per_m2_filled
    return costs.per_bag * costs.bags_per_m2_mm + by_area / (depth_mm + THIN_MM)
