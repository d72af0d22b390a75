"""Deep places wider than the largest patch, divided so that a trowel can place them: patches first, the skim
between them when they have set.

A place is cut along a straight band where filling it no deeper than a skim leaves least undone, or its rim is
skimmed and its middle patched, whichever leaves less. What is left undone the next heights have to make good.
"""

import numpy as np

from slab_core.correction.connected import parts_of
from slab_core.correction.nodes import Nodes
from slab_core.correction.placing.ceilings import skim_mm
from slab_core.correction.placing.run_out import asked_fill_mm
from slab_core.correction.task import Task
from slab_core.numerics.grid import Floats, Ints, Mask

BAND_M = 0.15
"""The skim between two patches is so wide, a node of the coarser lattice and half of the next."""

LEAST_SIDE = 0.2
"""Shares of a place that a cut leaves on either side at least."""

LEAST_UNDONE = 0.1
"""A deep place that holds less than so many m²·mm over a skim is skimmed: to make up for it elsewhere costs
less than to start a patch (from memory)."""

DIRECTIONS = np.linspace(0.0, np.pi, 8, endpoint=False)
MOST_CUTS = 12


def divided_mm(*, task: Task, fill_mm: Floats) -> Floats:
    """The greatest fill at each node by which no place deeper than a skim is wider than a patch: infinite
    where nothing has to be divided."""
    skim, nodes = skim_mm(task=task), task.case.nodes
    most = np.full(len(fill_mm), np.inf)
    for _ in range(MOST_CUTS):
        deep = np.minimum(fill_mm, most) > skim + 1e-9
        wide = [part for part in parts_of(nodes=nodes, where=deep) if _is_wide(task=task, part=part)]
        if not wide:
            break
        for part in wide:
            most[_shallow(task=task, fill_mm=fill_mm, part=part)] = skim
    return most


def skimmed_mm(*, task: Task, fill_mm: Floats) -> Floats:
    """The greatest fill at each node by which no patch is started for next to nothing: infinite elsewhere and
    where a doorway asks for more than a skim."""
    skim, nodes = skim_mm(task=task), task.case.nodes
    most = np.full(len(fill_mm), np.inf)
    asked = asked_fill_mm(task=task)
    for part in parts_of(nodes=nodes, where=fill_mm > skim + 1e-9):
        if asked[part].max() <= skim and nodes.area_m2[part] @ (fill_mm[part] - skim) < LEAST_UNDONE:
            most[part] = skim
    return most


def _is_wide(*, task: Task, part: Ints) -> bool:
    return bool(task.case.nodes.area_m2[part].sum() > task.placing.greatest_patch_m2)


def _shallow(*, task: Task, fill_mm: Floats, part: Ints) -> Ints:
    """The nodes of a wide place that are only skimmed: a band across it, or its rim."""
    nodes, skim = task.case.nodes, skim_mm(task=task)
    undone = nodes.area_m2[part] * (fill_mm[part] - skim)
    rim = _rim(task=task, fill_mm=fill_mm, part=part)
    band = _band(nodes=nodes, part=part, undone=undone)
    chosen = rim if band is None or undone[rim].sum() <= undone[band].sum() else band
    return np.asarray(part[chosen])


def _rim(*, task: Task, fill_mm: Floats, part: Ints) -> Mask:
    """The shallowest nodes without which no connected place is wider than a patch."""
    nodes = task.case.nodes
    levels = np.quantile(fill_mm[part], np.linspace(0.0, 1.0, 21))
    for level in levels:
        rest = np.zeros(len(fill_mm), dtype=np.bool_)
        rest[part] = fill_mm[part] > level
        if not any(_is_wide(task=task, part=one) for one in parts_of(nodes=nodes, where=rest)):
            return np.asarray(~rest[part])
    return np.ones(len(part), dtype=np.bool_)


def _band(*, nodes: Nodes, part: Ints, undone: Floats) -> Mask | None:
    """The straight band across the place that leaves least undone; None if the place is too narrow."""
    best, least = None, np.inf
    for turn in DIRECTIONS:
        along = nodes.x[part] * np.cos(turn) + nodes.y[part] * np.sin(turn)
        low, high = np.quantile(along, (LEAST_SIDE, 1.0 - LEAST_SIDE))
        for middle in np.arange(low, high, nodes.grid.step_m):
            band = np.abs(along - middle) <= BAND_M / 2
            left = float(undone[band].sum())
            if left < least:
                best, least = band, left
    return best
