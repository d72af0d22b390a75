"""The work of a plan on its grid: where each area, pour and patch lies and how deep it is there."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from scipy import ndimage

from slab_core.correction.model import Plan
from slab_core.correction.pour_places import depth_in_lift
from slab_core.correction.progress_model import WorkKind
from slab_core.correction.resurvey.standing import EarlierPlan
from slab_core.numerics.grid import Grid, Ints, Mask
from slab_core.rooms.model import Point, Ring

_AROUND: Final = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Work:
    """One part of a plan at the grid's nodes, shape (ny, nx): `where` it lies, and `depth` in storage steps.

    `under` is how much fill of the same pour lies below it: 0 but for upper lifts.
    """

    id: str
    kind: WorkKind
    phase: int
    where: Mask
    depth: Ints
    under: Ints


def works_of(earlier: EarlierPlan) -> tuple[Work, ...]:
    """All work of a plan: areas to grind, pours lift by lift, places to trowel."""
    return (*_grinding(earlier.plan), *_pours(earlier), *_patches(earlier.plan))


def _grinding(plan: Plan) -> list[Work]:
    labels, _ = ndimage.label(plan.grind > 0, structure=_AROUND)
    works = []
    for area in plan.grind_areas:
        where = labels == labels[node_at(plan.grid, area.at)]
        works.append(_work(id=area.id, kind="grind", phase=area.phase, where=where, depth=plan.grind))
    return works


def _pours(earlier: EarlierPlan) -> list[Work]:
    plan, works = earlier.plan, []
    for pour in plan.pours:
        depth, under = depth_in_lift(plan, pour, least_m=earlier.least_m, lift_m=earlier.lift_m)
        works.append(
            _work(id=pour.id, kind="pour", phase=pour.phase, where=depth > 0, depth=depth, under=under)
        )
    return works


def _patches(plan: Plan) -> list[Work]:
    if plan.trowelled is None:
        return []
    return [
        _work(
            id=patch.id,
            kind=patch.method,
            phase=patch.phase,
            where=plan.trowelled & _covers(plan.grid, patch.outline),
            depth=plan.fill,
        )
        for patch in plan.patches
    ]


def _work(
    *, id: str, kind: WorkKind, phase: int, where: Mask, depth: Ints, under: Ints | None = None
) -> Work:
    own = np.where(where, depth, 0).astype(np.int32)
    below = np.zeros_like(own) if under is None else np.where(where, under, 0).astype(np.int32)
    return Work(id=id, kind=kind, phase=phase, where=where, depth=own, under=below)


def labels(works: tuple[Work, ...], *, grid: Grid) -> Ints:
    """Equal numbers at nodes where the same of these works lie, 0 where none does, shape (ny, nx)."""
    label = np.zeros((grid.ny, grid.nx), dtype=np.int32)
    for work in works:
        _, found = np.unique(2 * label + work.where, return_inverse=True)
        label = np.asarray(found, dtype=np.int32).reshape(label.shape)
    return label


def node_at(grid: Grid, at: Point) -> tuple[int, int]:
    """Row and column of the node at a place."""
    return round((at[1] - grid.y0_m) / grid.step_m), round((at[0] - grid.x0_m) / grid.step_m)


def _covers(grid: Grid, outline: Ring) -> Mask:
    """Nodes inside an outline or on it: outlines run half a step beyond their nodes."""
    shape = shapely.Polygon(outline).buffer(grid.step_m / 100)
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    return np.asarray(shapely.contains_xy(shape, xs, ys), dtype=np.bool_)
