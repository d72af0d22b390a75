"""Invented jobs with a known slab, as the core takes them: for tests of the line and for benchmarks.

Nothing here describes a real house; every slab is a formula.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime

import numpy as np

from slab_core.job import Job
from slab_core.materials import starter as materials
from slab_core.numerics.grid import Floats
from slab_core.quote import starter as quote
from slab_core.rooms.model import Ring, Room
from slab_core.schedule import starter as schedule
from slab_core.surveys.model import Readings, Survey
from slab_core.tolerance.model import Rule, ToleranceSpec

INCH = 0.0254
FOOT = 0.3048
Truth = Callable[[Floats, Floats], Floats]

WOOD_FLOOR = ToleranceSpec(rules=(Rule(length_m=10 * FOOT, gap_m=3 / 16 * INCH),))
"""3/16 in in 10 ft: the glue-down guideline."""


def rectangle(*, width_m: float, depth_m: float) -> Ring:
    """A room's outline with a corner at the origin."""
    return ((0.0, 0.0), (width_m, 0.0), (width_m, depth_m), (0.0, depth_m))


def hump_and_hollow(x: Floats, y: Floats) -> Floats:
    """Metres: a 12 mm hump and a 15 mm hollow on a floor that falls 5 mm across 6 m."""
    hump = 0.012 * np.exp(-((x - 1.6) ** 2 + (y - 3.4) ** 2) / 0.8**2)
    hollow = -0.015 * np.exp(-((x - 4.2) ** 2 + (y - 1.5) ** 2) / 1.1**2)
    return np.asarray(hump + hollow - 0.005 * x / 6.0, dtype=np.float64)


def grid_readings(*, width_m: float, depth_m: float, count: int, truth: Truth, seed: int = 1) -> Survey:
    """About `count` elevations on a jittered grid, read to 0.7 mm at places good to 20 mm."""
    rng = np.random.default_rng(seed)
    columns = max(2, round(float(np.sqrt(count * width_m / depth_m))))
    rows = max(2, round(count / columns))
    gx, gy = np.meshgrid(np.linspace(0.1, width_m - 0.1, columns), np.linspace(0.1, depth_m - 0.1, rows))
    x, y = gx.ravel(), gy.ravel()
    true_x, true_y = x + rng.normal(0, 0.02, x.size), y + rng.normal(0, 0.02, x.size)
    height = truth(true_x, true_y) + rng.normal(0, 0.0007, x.size)
    readings = Readings(
        kind="elevation",
        x_m=x,
        y_m=y,
        value_m=height,
        setup=np.full(x.size, -1, dtype=np.int32),
        sd_m=np.full(x.size, 0.0007),
        position_sd_m=np.full(x.size, 0.02),
    )
    return Survey(id="visit-1", readings=(readings,))


def one_room_job(
    *,
    width_m: float = 6.0,
    depth_m: float = 5.0,
    count: int = 150,
    truth: Truth = hump_and_hollow,
    seed: int = 1,
    tolerance: ToleranceSpec = WOOD_FLOOR,
) -> Job:
    """One rectangular room with starter materials, rates, prices and calendar."""
    room = Room(id="studio", name="Studio", outline=rectangle(width_m=width_m, depth_m=depth_m))
    return Job(
        name="Invented studio",
        rooms=(room,),
        benchmarks=(),
        surveys=(grid_readings(width_m=width_m, depth_m=depth_m, count=count, truth=truth, seed=seed),),
        tolerance=tolerance,
        covering=materials.covering(),
        catalogue=materials.catalogue(),
        rates=materials.rates(),
        planning=materials.planning_costs(),
        price_book=quote.price_book(),
        calendar=schedule.calendar("UTC"),
        seed=seed,
        pricing_date=date(2026, 3, 2),
        earliest_start=datetime(2026, 3, 9, 8, 0, tzinfo=UTC),
    )
