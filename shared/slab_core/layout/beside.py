"""What lies in the rows beside a run: whether a joint may stand at a place, and what may follow it."""

from dataclasses import dataclass

import numpy as np

from slab_core.layout.distances import NO_CUT_M, ROW_AFTER_NEXT_M
from slab_core.layout.model import BoardRules, RowRun
from slab_core.layout.outlook import SET_ASIDE_M
from slab_core.layout.progress import Progress
from slab_core.numerics.grid import Floats

_TOO_CLOSE_M = 5.0
_DEAD_END_M = 1.0
_FITS_M = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Joints laid so far, and the rules they are held to. Costs are metres of waste."""

    progress: Progress
    rules: BoardRules

    def joint(self, row: int, *, at_m: float) -> tuple[float | None, float]:
        """Distance from a joint to the nearest in the rows beside it, and what it costs if that is too near
        or if it stands in line with one two rows away."""
        beside, after = self._joints(row, steps=(-1, 1)), self._joints(row, steps=(-2, 2))
        near = float(np.min(np.abs(beside - at_m))) if len(beside) else None
        penalty = 0.0
        if near is not None and near < self.rules.stagger_m - _FITS_M:
            penalty += _TOO_CLOSE_M * (2.0 - near / self.rules.stagger_m)
        if np.any(np.abs(after - at_m) < ROW_AFTER_NEXT_M - _FITS_M):
            penalty += _TOO_CLOSE_M
        return near, penalty

    def hemmed_in(self, run: RowRun, *, at_m: float) -> float:
        """What it costs that only some lengths of the bundle may follow a joint: boards set aside until one
        comes that may."""
        lengths = np.array(self.rules.lengths_m)
        rest = run.end_m - at_m
        closes = lengths >= rest - NO_CUT_M
        ends = at_m + lengths
        far = _all_apart(ends, self._joints(run.row, steps=(-1, 1)), least=self.rules.stagger_m)
        apart = far & _all_apart(ends, self._joints(run.row, steps=(-2, 2)), least=ROW_AFTER_NEXT_M)
        share = float(np.mean(closes | (apart & (rest - lengths >= self.rules.least_piece_m))))
        return min(_DEAD_END_M, SET_ASIDE_M * (1.0 / share - 1.0)) if share > 0.0 else _DEAD_END_M

    def is_idle(self, run: RowRun, *, kept_m: float) -> bool:
        """Whether an offcut cannot begin the next row, for its joint would come near one of this row."""
        return bool(
            np.any(np.abs(self.progress.joints_m(run.row) - run.start_m - kept_m) < self.rules.stagger_m)
        )

    def _joints(self, row: int, *, steps: tuple[int, int]) -> Floats:
        return np.concatenate([self.progress.joints_m(row + step) for step in steps])


def _all_apart(places: Floats, joints: Floats, *, least: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.asarray(np.all(np.abs(places[:, None] - joints) >= least - _FITS_M, axis=1))
