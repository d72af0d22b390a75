"""Boards on a floor: how far the waste is over its bound, and how long laying takes.

Invented floors: rooms of 30 m² with a hearth and two doorways, and floors of about 300 m² through six
rooms. Boards of eight lengths from a bundle, 3 % of them culls, which are bought on top; kerf 3 mm. Waste
counts whole boards taken, the rips among them, over the rows that were chosen; the bound is the one the
layout states (rips, kerfs, whole boards), with the same culls. Beside it stands a crew that lays the same
rows from boards as they come. Seconds are of the processor. The floors are other ones than those looked at
while the search was written.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slab_core.layout.frame import cover_shape, placed_frame
from slab_core.layout.model import Layout
from slab_core.layout.rows import plan_rows
from slab_core.layout.warm import warm
from slab_core.materials import starter
from slab_core.rooms.model import Floor
from tests.benchmarks.measure import Figure, measures
from tests.floors_to_lay import room_with_hearth, six_rooms
from tests.laid_floors import laid
from tests.plain_crew import PlainlyLaid, lay_plainly

FIRST_SEED, ROOMS, FLOORS = 950_000, 40, 10
CREW = "plain crew, boards as they come"


@dataclass(frozen=True, slots=True)
class _Result:
    layout: Layout
    plain: PlainlyLaid
    seconds: float

    def over(self) -> float:
        """Points of per cent of the boards bought, culls among them."""
        culls = 1.0 - starter.covering().cull_share
        return 100.0 * culls * (self.layout.waste_share - self.layout.waste_bound_share)

    def plain_over(self) -> float:
        covering = starter.covering()
        waste = 1.0 - self.layout.covered_m2 / (self.plain.taken_m * covering.width_m)
        return 100.0 * (1.0 - covering.cull_share) * (waste - self.layout.waste_bound_share)


def _measured(make: Callable[[np.random.Generator], Floor], *, count: int) -> list[_Result]:
    warm()
    results = []
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        floor = make(np.random.default_rng(seed))
        start = time.thread_time()
        layout = laid(floor, seed=seed)
        seconds = time.thread_time() - start
        results.append(_Result(layout, _plainly(floor, layout, seed=seed), seconds))
    return results


def _plainly(floor: Floor, layout: Layout, *, seed: int) -> PlainlyLaid:
    covering = starter.covering()
    shape = cover_shape(floor=floor, gap_m=covering.expansion_gap_m)
    _, turned = placed_frame(shape=shape, direction_deg=layout.direction_deg)
    rows = plan_rows(shape=turned, covering=covering)
    return lay_plainly(stretches=rows.stretches, covering=covering, rng=np.random.default_rng(seed))


def _figures(name: str, results: list[_Result]) -> list[Figure]:
    def mean(of: Callable[[_Result], float]) -> float:
        return float(np.mean([of(result) for result in results]))

    seconds = [result.seconds for result in results]
    width_m = starter.covering().width_m
    made = (
        ("waste_over_bound", mean(_Result.over), "points", mean(_Result.plain_over)),
        ("waste_over_bound_worst", max(map(_Result.over, results)), "points", None),
        ("seconds", float(np.median(seconds)), "s", None),
        ("seconds_worst", max(seconds), "s", None),
        (
            "joints_too_close",
            mean(lambda r: r.layout.joints_too_close),
            "1",
            mean(lambda r: r.plain.too_close),
        ),
        ("cuts", mean(lambda r: r.layout.cuts), "1", mean(lambda r: r.plain.cuts)),
        ("boards_m", mean(lambda r: r.layout.bought_m2 / width_m), "m", mean(lambda r: r.plain.taken_m)),
    )
    return [
        Figure(
            name=f"{name}.{part}",
            value=value,
            unit=unit,
            peer=None if peer is None else CREW,
            peer_value=peer,
            n=len(results),
            memory_mb=None,
        )
        for part, value, unit, peer in made
    ]


@measures("layout.30m2.")
def bench_layout_of_a_room() -> list[Figure]:
    """Rooms of 30 m², direction chosen."""
    return _figures("layout.30m2", _measured(room_with_hearth, count=ROOMS))


@measures("layout.300m2.")
def bench_layout_through_six_rooms() -> list[Figure]:
    """One floor through six rooms, direction chosen."""
    return _figures("layout.300m2", _measured(six_rooms, count=FLOORS))
