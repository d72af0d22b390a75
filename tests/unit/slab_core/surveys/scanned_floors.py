"""One room scanned from several places, and what was read there by level, as the core takes them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Rooms
from slab_core.scans.model import (
    FloorShape,
    Place,
    Placement,
    ReducedScan,
    Reduction,
    Scan,
    ScanOptions,
    Target,
)
from slab_core.scans.over_floors import reduce_over
from slab_core.scans.place import Stand, place_scans
from slab_core.scans.reduce import finish, gather
from slab_core.surveys.model import Network, Readings, Survey
from slab_core.surveys.network import adjust
from slab_core.surveys.scan_heights import adjust_scans, scans_of
from tests.slabs import Slab, make_slab

WIDTH_M, DEPTH_M = 4.0, 3.0
MARKS: dict[str, Place] = {"A": (0.2, 0.2, 1.2), "B": (3.8, 0.3, 0.9), "C": (3.5, 2.8, 1.5)}


@dataclass(frozen=True)
class Site:
    """A room whose true height is known everywhere."""

    slab: Slab
    rooms: Rooms


def a_site(*, seed: int = 4) -> Site:
    slab = make_slab(rng=np.random.default_rng(seed), width_m=WIDTH_M, depth_m=DEPTH_M)
    return Site(slab=slab, rooms=build_rooms(rooms=slab.floor.rooms))


def points_of(
    site: Site, *, part: tuple[float, float] = (0.0, WIDTH_M), off_m: float = 0.0, seed: int = 1
) -> Floats:
    """60 points in each cell between two x, a millimetre of noise, all of them off by `off_m`."""
    rng = np.random.default_rng(seed)
    count = int(60 * (part[1] - part[0]) * DEPTH_M / 0.025**2)
    x, y = rng.uniform(*part, count), rng.uniform(0, DEPTH_M, count)
    return np.column_stack([x, y, site.slab.height(x, y) + rng.normal(0, 0.001, count) + off_m])


def marks(*, off_m: float = 0.0, known: bool = True) -> tuple[Target, ...]:
    """Targets that a scan sees at their places, but for its own error in height."""
    return tuple(
        Target(id=id_, scanned_m=(x, y, z + off_m), site_m=(x, y, z) if known else None)
        for id_, (x, y, z) in MARKS.items()
    )


def read_by_level(
    site: Site, *, count: int, seed: int = 2, sd_m: float = 0.0005, add_m: float = 0.0
) -> Survey:
    """Elevations at places good to 10 mm."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0.3, WIDTH_M - 0.3, count), rng.uniform(0.3, DEPTH_M - 0.3, count)
    return Survey(
        id="level",
        readings=(
            Readings(
                kind="elevation",
                x_m=x,
                y_m=y,
                value_m=site.slab.height(x, y) + rng.normal(0, sd_m, count) + add_m,
                setup=np.full(count, -1, dtype=np.int32),
                sd_m=np.full(count, sd_m),
                position_sd_m=np.full(count, 0.01),
            ),
        ),
    )


@dataclass(frozen=True)
class Adjusted:
    """What the surveys stage makes of scans and readings."""

    network: Network
    reduced: tuple[ReducedScan, ...]
    surveys: tuple[Survey, ...]


def adjusted(site: Site, files: dict[str, Floats], scans: Sequence[Scan], *more: Survey) -> Adjusted:
    """As the orders of the pipeline do it; `files` are the points by the id of their scan."""
    surveys = (Survey(id="scanned", scans=tuple(scans)), *more)
    stands = place_scans(tuple(scan for scan, _ in scans_of(surveys)))
    reduced = tuple(_reduce(site, scan, stands[scan.id], files[scan.id]) for scan in scans)
    scanned = frozenset(floor.floor_id for each in reduced for floor in each.floors)
    network = adjust(rooms=site.rooms, benchmarks=(), surveys=surveys, scanned=scanned)
    whole = adjust_scans(rooms=site.rooms, surveys=surveys, network=network, stands=stands, reduced=reduced)
    return Adjusted(network=whole, reduced=reduced, surveys=surveys)


def _reduce(site: Site, scan: Scan, stand: Stand, points: Floats) -> ReducedScan:
    def read(**order: object) -> tuple[Reduction, ...]:
        floors = site.rooms.floors
        assert isinstance(order["placement"], Placement)
        gathered = gather(
            floors=floors,
            chunks=[points],
            placement=order["placement"],
            options=ScanOptions(),
            budget=Budget(),
        )
        return tuple(finish(gathered=each, floor=floor) for each, floor in zip(gathered, floors, strict=True))

    return reduce_over(
        scan=scan,
        stand=stand,
        floors=tuple(FloorShape(id=f.id, shell=f.shell, gaps=f.gaps) for f in site.rooms.floors),
        options=ScanOptions(),
        read=read,
        pointer="/surveys/0/scans/0",
        budget=Budget(),
    )
