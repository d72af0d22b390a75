"""What the rest of a run may be expected to waste when boards are laid as they come."""

import numpy as np

from slab_core.layout.distances import NO_CUT_M
from slab_core.layout.model import BoardRules
from slab_core.numerics.grid import Floats

CUT_M, KEPT_M, SET_ASIDE_M = 0.01, 0.03, 0.1
"""What a cut, an offcut kept for later and a board set aside cost, as metres of waste (our own weights)."""

_STEP_M = 0.005
_MOST_STEPS = 2000


class Outlook:
    """Expected waste of runs with so much left to lay, each board as long as any of the bundle's lengths with
    the same chance and laid where it wastes least; joints are left out of it."""

    def __init__(self, *, rules: BoardRules, longest_m: float) -> None:
        self._step = max(_STEP_M, longest_m / _MOST_STEPS)
        rests = self._step * np.arange(int(np.ceil(longest_m / self._step)) + 2, dtype=np.float64)
        kinds = np.array(rules.lengths_m)[:, None]
        self._waste = np.zeros(len(rests))
        # A rest leans on those that are a board shorter, so as many as go into the shortest board at once.
        block = max(1, int(kinds.min() / self._step))
        for start in range(1, len(rests), block):
            here = slice(start, min(start + block, len(rests)))
            self._waste[here] = self._expected(rests[here], kinds=kinds, rules=rules)

    def _expected(self, rests: Floats, *, kinds: Floats, rules: BoardRules) -> Floats:
        over = kinds - rests
        kept = over - rules.kerf_m >= rules.least_piece_m
        closing = np.where(over <= NO_CUT_M, 0.0, CUT_M + np.where(kept, rules.kerf_m + KEPT_M, over))
        closing = np.where(over < -NO_CUT_M, np.inf, closing)
        going_on = np.where(-over >= rules.least_piece_m, self.waste_m(-over), np.inf)
        each = np.minimum(closing, going_on)
        fits = np.isfinite(each)
        count = fits.sum(axis=0)
        total = np.where(fits, each, SET_ASIDE_M).sum(axis=0)
        # A board that fits nowhere is set aside and another taken.
        return np.where(count > 0, total / np.maximum(count, 1), SET_ASIDE_M * len(kinds))

    def waste_m(self, rest_m: Floats | float) -> Floats:
        """Expected waste of what is left, metres; of the nearest rest that was worked out."""
        at = np.clip(np.rint(np.asarray(rest_m) / self._step).astype(int), 0, len(self._waste) - 1)
        return np.asarray(self._waste[at], dtype=np.float64)
