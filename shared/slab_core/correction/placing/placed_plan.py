"""A way of placing as a plan: grids, pours, patches, areas to grind, margins and what to look at again."""

from math import floor

import numpy as np
import shapely

from slab_core.correction.bays import phase_of_points
from slab_core.correction.evaluate import to_mm
from slab_core.correction.grinding import grind_areas
from slab_core.correction.margins import margins_of, thin_margins
from slab_core.correction.model import Considered, PatchArea, Plan, Solve, Workability
from slab_core.correction.one_lift import one_lift_told
from slab_core.correction.placing.placed import Placed
from slab_core.correction.placing.trowel import Trowelled
from slab_core.correction.planes.ruled import twist_per_m2
from slab_core.correction.pours import bays_on_grid, pours_of
from slab_core.correction.second_look import limits_crossed, second_look
from slab_core.correction.setting_out import walls_of
from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Ring
from slab_core.tolerance.model import RuleReport


def plan_of_placed(
    *,
    placed: Placed,
    after: tuple[RuleReport, ...],
    alternate: str,
    solve: Solve,
    considered: tuple[Considered, ...],
    workability: Workability | None,
) -> Plan:
    """Everything that takeoff, papers and crews need of one way of placing."""
    task, work = placed.task.as_measured(), placed.work
    nodes = task.case.nodes
    fill_mm, grind_mm, area = to_mm(placed.fill), to_mm(placed.grind), nodes.area_m2
    areas = grind_areas(floor=task.floor, case=task.case, grind_mm=grind_mm)
    fill_m3, fill_m2 = float(area @ fill_mm) * 1e-3, float(area[placed.fill > 0].sum())
    mean_fill_m = fill_m3 / fill_m2 if fill_m2 > 0 else 0.0
    greatest_fill, greatest_grind = float(fill_mm.max(initial=0.0)), float(grind_mm.max(initial=0.0))
    poured_mm = np.where(placed.poured, fill_mm, 0.0)
    margins = margins_of(
        after=after,
        poured=placed.method if placed.poured.any() else None,
        trowels=bool(placed.by_hand),
        grinds=bool(placed.grind.any()),
    )
    subject = f"floor {task.floor.id}"
    return Plan(
        floor_id=task.floor.id,
        alternate=alternate,
        solve=solve,
        plane=None if placed.abc_mm is None else nodes.to_plane(placed.abc_mm),
        grid=nodes.grid,
        inside=nodes.inside,
        grind=_on_grid(placed=placed, values=placed.grind),
        fill=_on_grid(placed=placed, values=placed.fill),
        grind_m3=float(area @ grind_mm) * 1e-3,
        grind_m2=float(area[placed.grind > 0].sum()),
        fill_m3=fill_m3,
        fill_m2=fill_m2,
        greatest_grind_m=greatest_grind * 1e-3,
        greatest_fill_m=greatest_fill * 1e-3,
        mean_fill_m=mean_fill_m,
        grinder_hours=work.quantities.machine_hours,
        hand_grinder_hours=work.quantities.hand_hours,
        pours=pours_of(task=task, work=work, fill_mm=poured_mm, grind_mm=grind_mm, method=placed.method),
        grind_areas=areas,
        bags=work.quantities.bags + placed.patch_bags,
        pour_days=work.quantities.pour_days,
        border_m=work.quantities.border_m,
        after=after,
        passes=all(report.passes for report in after),
        problems=second_look(grind_areas=areas, mean_fill_m=mean_fill_m, after=after, floor=task.floor)
        + limits_crossed(
            grind_m=greatest_grind * 1e-3,
            fill_m=greatest_fill * 1e-3,
            grind_cap_m=task.case.grind_cap_mm * 1e-3,
            fill_cap_m=task.case.fill_cap_mm * 1e-3,
            subject=subject,
        )
        + one_lift_told(
            compound=task.compound, limits=task.limits, bags=work.quantities.bags, subject=subject
        )
        + thin_margins(after=after, margins=margins, subject=subject),
        patches=_patches(placed),
        patch_bags=placed.patch_bags,
        trowelled=_on_grid(placed=placed, values=((placed.fill > 0) & ~placed.poured).astype(np.int32)) > 0,
        bays=bays_on_grid(nodes=nodes, poured=placed.poured & (placed.fill > 0)),
        twist=twist_per_m2(task=task, twist_mm=placed.twist_mm),
        considered=considered,
        margins=margins,
        workability=workability,
        ending_m=placed.ending_m,
    )


def _on_grid(*, placed: Placed, values: Ints) -> Ints:
    grid = np.zeros(placed.task.surface.height.shape, dtype=np.int32)
    grid[placed.task.surface.inside] = values
    return grid


def _patches(placed: Placed) -> tuple[PatchArea, ...]:
    """By phase, the largest first; the bags that are opened for each add up to the whole ones."""
    nodes = placed.task.case.nodes
    made: list[PatchArea] = []
    ordered = sorted(placed.by_hand, key=lambda part: -part.m2_mm)
    deepest = [part.nodes[int(np.argmax(placed.fill[part.nodes]))] for part in ordered]
    phases = phase_of_points(rooms=placed.task.floor.rooms, x=nodes.x[deepest], y=nodes.y[deepest])
    mixed, opened = 0.0, 0
    for k in np.argsort(phases, kind="stable").tolist():
        mixed += ordered[k].bags
        # A bag is opened when the last one is used up, so all bags are when everything is mixed.
        upto = min(placed.patch_bags, max(opened, floor(mixed - 1e-9) + 1))
        made.append(
            _patch(
                placed=placed,
                part=ordered[k],
                n=int(deepest[k]),
                phase=int(phases[k]),
                k=len(made),
                opened=upto - opened,
            )
        )
        opened = upto
    return tuple(made)


def _patch(*, placed: Placed, part: Trowelled, n: int, phase: int, k: int, opened: int) -> PatchArea:
    task, nodes = placed.task, placed.task.case.nodes
    at = (float(nodes.x[n]), float(nodes.y[n]))
    return PatchArea(
        id=f"{task.floor.id}-{part.method}{k + 1}",
        phase=phase,
        method=part.method,
        at=at,
        outline=_outline(x=nodes.x[part.nodes], y=nodes.y[part.nodes], half_m=nodes.grid.step_m / 2),
        area_m2=part.area_m2,
        volume_m3=part.m2_mm * 1e-3,
        greatest_depth_m=part.greatest_mm * 1e-3,
        bags=part.bags,
        bags_opened=opened,
        person_hours=part.person_hours,
        walls=walls_of(floor=task.floor, at=at),
    )


def _outline(*, x: Floats, y: Floats, half_m: float) -> Ring:
    """The hull of the part's cells: what a crew chalks around it."""
    sides = np.array([(-half_m, -half_m), (-half_m, half_m), (half_m, -half_m), (half_m, half_m)])
    corners = (np.column_stack([x, y])[:, None, :] + sides).reshape(-1, 2)
    hull = shapely.MultiPoint(np.unique(np.round(corners, 9), axis=0)).convex_hull
    return tuple((float(px), float(py)) for px, py in hull.exterior.coords[:-1])
