"""Rectangular floors with known slabs, and a correction of them with common-practice values."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from slab_core.correction.model import Limits, Plan
from slab_core.correction.plan import evaluate_plane, plan
from slab_core.correction.task import Task, make_task
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, to_metres, to_steps
from slab_core.rooms.model import Floor, KeepOut, Opening, Room, Threshold
from slab_core.stages import PLANE
from slab_core.surface.model import Surface
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.model import Rule, ToleranceReport
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.surfaces import no_spline

RULE = Rule(length_m=10 * FOOT_M, gap_m=3 * INCH_M / 16)
"""3/16 in in 10 ft, both ways."""

FEATHERED = replace(starter.compound(), featheredge=True, texture_m=INCH_M / 64)
"""A compound that runs out to nothing, on a slab that drinks the least of the usual range."""

LIFTED = replace(FEATHERED, featheredge=False)
"""The same that must be at least 1/8 in thick."""

FILM_M = 5 * INCH_M / 64


def rectangle(
    *,
    width_m: float,
    length_m: float,
    openings: tuple[Opening, ...] = (),
    keep_outs: tuple[KeepOut, ...] = (),
) -> Floor:
    """One room from (0, 0) to (width, length)."""
    ring = ((0.0, 0.0), (width_m, 0.0), (width_m, length_m), (0.0, length_m))
    room = Room(id="room-1", name="Room", outline=ring, openings=openings, keep_outs=keep_outs)
    area, wall = width_m * length_m, 2 * (width_m + length_m)
    return Floor(id="floor-1", rooms=(room,), shell=ring, gaps=(), area_m2=area, wall_m=wall)


def slab(
    *, floor: Floor, height_m: Callable[[Floats, Floats], Floats], columns: int | None = None
) -> Surface:
    """The floor with heights given by a function of x and y, about 50 mm between nodes, some on the walls."""
    width, length = np.array(floor.shell).max(axis=0)
    count = columns or round(width / 0.05)
    step = width / count
    rows = int(np.floor(length / step + 1e-9))
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=float(step), nx=count + 1, ny=rows + 1)
    x, y = np.meshgrid(grid.xs(), grid.ys())
    height = to_steps(height_m(x, y))
    return Surface(
        floor_id=floor.id,
        grid=grid,
        height=height,
        error=np.zeros_like(height),
        inside=np.ones(height.shape, dtype=np.bool_),
        spline=no_spline(),
        noise_sd_m=0.0,
        effective_parameters=3.0,
        observations_used=9,
    )


def door(
    *, id: str, start: tuple[float, float], end: tuple[float, float], low_m: float, high_m: float
) -> Opening:
    """An opening whose finished floor must lie between low and high."""
    threshold = Threshold(low_m=low_m, high_m=high_m)
    return Opening(id=id, start=start, end=end, threshold=threshold)


def build_up_m() -> float:
    """Adhesive film and board on top of the slab."""
    return FILM_M + starter.covering().thickness_m


@dataclass(frozen=True, kw_only=True)
class Work:
    """A floor and its slab with everything else a correction takes."""

    floor: Floor
    surface: Surface
    changes: dict[str, Any]

    def report(self) -> ToleranceReport:
        """What the rules make of the slab as it is."""
        rules: tuple[Rule, ...] = self._values()["rules"]
        reports = check_heights(
            floor=self.floor,
            grid=self.surface.grid,
            rules=rules,
            heights_m=to_metres(self.surface.height),
            inside=self.surface.inside,
        )
        passes = all(report.passes for report in reports)
        return ToleranceReport(
            floor_id=self.floor.id,
            rules=reports,
            passes=passes,
            fall_m=0.0,
            slope_x=0.0,
            slope_y=0.0,
            f_numbers=None,
        )

    def plan(self, alternate: str = PLANE) -> Plan:
        """The plan of an alternate: that of the changes, or the one given."""
        values = {"alternate": alternate, **self._values()}
        return plan(floor=self.floor, surface=self.surface, report=self.report(), budget=Budget(), **values)

    def at(self, *, height_m: float, slope_x: float = 0.0, slope_y: float = 0.0) -> Plan:
        """The plan of this plane."""
        plane = (height_m, slope_x, slope_y)
        return evaluate_plane(floor=self.floor, surface=self.surface, plane=plane, **self._values())

    def task(self) -> Task:
        """The same as the kernels of a correction take it, in an ordinary climate."""
        return make_task(floor=self.floor, surface=self.surface, climate=Climate(), **self._values())

    def _values(self) -> dict[str, Any]:
        values: dict[str, Any] = {
            "rules": (RULE,),
            "limits": Limits(),
            "planning": starter.planning_costs(),
            "rates": starter.rates(),
            "compound": FEATHERED,
            "covering": starter.covering(),
            "adhesive_film_m": FILM_M,
            "hardness": "ordinary",
        }
        return values | self.changes


def work(
    *, floor: Floor, height_m: Callable[[Floats, Floats], Floats], columns: int | None = None, **changes: Any
) -> Work:
    """A correction of a slab; `changes` replace the usual values by name."""
    return Work(floor=floor, surface=slab(floor=floor, height_m=height_m, columns=columns), changes=changes)


def trough(*, width_m: float, depth_m: float) -> Callable[[Floats, Floats], Floats]:
    """Parabolic across x: 0 in the middle, `depth_m` at both long walls (a negative depth is a crown)."""
    half = width_m / 2
    return lambda x, y: depth_m * ((x - half) / half) ** 2 + 0.0 * y
