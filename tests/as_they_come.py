"""A crew that asks where each board goes, board by board, and does what it is told."""

from dataclasses import dataclass, field, replace

import numpy as np

from slab_core.layout.model import Layout
from slab_core.layout.next_board import Board, NextBoard, Placing, next_board
from slab_core.layout.progress import LaidRun

_GOOD_M = 0.02
_MOST_ASIDE = 6


@dataclass(slots=True)
class Crew:
    """Pieces laid by run, what waits in hand, and metres of board drawn from the bundle, which may hold
    other lengths than the plan was made for."""

    layout: Layout
    rng: np.random.Generator
    laid: dict[tuple[int, int], list[float]] = field(default_factory=dict)
    hand: list[Board] = field(default_factory=list)
    drawn_m: float = 0.0
    placings: list[Placing] = field(default_factory=list)
    refusals: int = 0
    bundle_m: tuple[float, ...] = ()

    def state(self) -> tuple[LaidRun, ...]:
        return tuple(
            LaidRun(row=row, run=run, lengths_m=tuple(lengths)) for (row, run), lengths in self.laid.items()
        )

    def ask(self, board: Board) -> NextBoard:
        assert self.layout.rules
        return next_board(
            runs=self.layout.runs,
            rules=self.layout.rules,
            laid=self.state(),
            board=board,
            open_rows=4,
            bundle_m=self.bundle_m,
        )

    def work(self) -> None:
        """Until every run is full. What waits in hand is asked for first; boards come by chance."""
        assert self.layout.rules
        whole_m = sum(run.end_m - run.start_m for run in self.layout.runs)
        while sum(map(sum, self.laid.values())) < whole_m - 0.002 * len(self.layout.runs):
            if self._from_hand():
                continue
            length = float(self.rng.choice(self.bundle_m or self.layout.rules.lengths_m))
            self.drawn_m += length
            board = Board(length_m=length)
            answer = self.ask(board)
            if answer.placing:
                self._place(board, answer.placing)
            else:
                self.refusals += 1
                self.hand.append(board)

    def _from_hand(self) -> bool:
        for board in list(self.hand):
            answer = self.ask(board)
            crowded = len(self.hand) > _MOST_ASIDE
            if answer.placing and (crowded or answer.placing.cost_m <= _GOOD_M):
                self.hand.remove(board)
                self._place(board, answer.placing)
                return True
        return False

    def _place(self, board: Board, placing: Placing) -> None:
        self.placings.append(placing)
        self.laid.setdefault((placing.row, placing.run), []).append(placing.end_m - placing.start_m)
        if placing.kept_for:
            start = placing.kept_for == "start"
            self.hand.append(replace(board, length_m=placing.kept_m, whole_start=not start, whole_end=start))
