"""Boards on a floor: how far the waste is over its bound, and how long laying takes.

Invented floors: rooms of 30 m² with a hearth and two doorways, and floors of about 300 m² through six
rooms. Boards of eight lengths from a bundle, 3 % of them culls, which are bought on top; kerf 3 mm. Waste
counts whole boards taken, the rips among them, over the rows that were chosen; the bound is the one the
layout states (rips, kerfs, whole boards), with the same culls. Beside it stands a crew that lays the same
rows from boards as they come. Seconds are of the processor. The floors are other ones than those looked at
while the search was written.

The next board is asked for on such a large floor while its middle rows are laid, for boards of every length,
in the process itself; and whole rooms are laid by asking, beside the plain crew.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slab_core.layout.frame import cover_shape, placed_frame
from slab_core.layout.model import Layout
from slab_core.layout.next_board import Board, next_board
from slab_core.layout.progress import LaidRun
from slab_core.layout.rows import plan_rows
from slab_core.layout.warm import warm
from slab_core.materials import starter
from slab_core.rooms.model import Floor
from tests.as_they_come import Crew
from tests.benchmarks.measure import Figure, measures
from tests.floors_to_lay import room_with_hearth, six_rooms
from tests.laid_floors import laid
from tests.plain_crew import PlainlyLaid, lay_plainly

FIRST_SEED, ROOMS, FLOORS, ASKED = 950_000, 40, 10, 8
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


@measures("layout.next_board_ms")
def bench_next_board() -> list[Figure]:
    """Milliseconds of the processor for one question, the slowest of each floor and their median."""
    warm()
    slowest = []
    for seed in range(FIRST_SEED, FIRST_SEED + FLOORS // 2):
        layout = laid(six_rooms(np.random.default_rng(seed)), seed=seed)
        state, spent = _half_laid(layout), []
        assert layout.rules
        for length in (*layout.rules.lengths_m, *(0.1 + length / 2 for length in layout.rules.lengths_m)):
            start = time.thread_time()
            next_board(runs=layout.runs, rules=layout.rules, laid=state, board=Board(length_m=length))
            spent.append(1000.0 * (time.thread_time() - start))
        slowest.append(max(spent))
    return [_alone("layout.next_board_ms", float(np.median(slowest)), "ms", len(slowest))]


def _half_laid(layout: Layout) -> list[LaidRun]:
    """Every run of the rows before the middle as it was planned, and of the next two rows all but the last
    two and three pieces."""
    pieces: dict[tuple[int, float], list[float]] = {}
    for piece in layout.pieces:
        begun = max(
            run.start_m for run in layout.runs if run.row == piece.row and run.start_m <= piece.start_m + 1e-9
        )
        pieces.setdefault((piece.row, begun), []).append(piece.end_m - piece.start_m)
    middle = layout.rows // 2
    state = []
    for run in layout.runs:
        lengths = pieces[run.row, run.start_m]
        if run.row > middle + 1:
            break
        left = max(1, len(lengths) - 2 - (run.row - middle)) if run.row >= middle else len(lengths)
        state.append(LaidRun(row=run.row, run=run.run, lengths_m=tuple(lengths[:left])))
    return state


@measures("layout.as_they_come.")
def bench_boards_as_they_come() -> list[Figure]:
    """Rooms of 30 m² laid by asking for each board, beside the plain crew with the same bundle."""
    warm()
    asked, plain, close = [], [], []
    for seed in range(FIRST_SEED, FIRST_SEED + ASKED):
        floor = room_with_hearth(np.random.default_rng(seed))
        layout = laid(floor, seed=seed)
        crew = Crew(layout=layout, rng=np.random.default_rng(seed))
        crew.work()
        asked.append(crew.drawn_m)
        plain.append(_plainly(floor, layout, seed=seed).taken_m)
        close.append(sum(placing.too_close for placing in crew.placings))
    boards = _alone("layout.as_they_come.boards_m", float(np.mean(asked)), "m", ASKED)
    boards |= {"peer": CREW, "peer_value": float(np.mean(plain))}
    return [boards, _alone("layout.as_they_come.joints_too_close", float(np.mean(close)), "1", ASKED)]


def _alone(name: str, value: float, unit: str, n: int) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=n, memory_mb=None)
