"""A plain crew to compare with: row after row from boards as they come, and what does not fit is cut."""

from dataclasses import dataclass

import numpy as np

from slab_core.layout.rows import Stretch
from slab_core.materials.model import Covering


@dataclass(frozen=True, slots=True)
class PlainlyLaid:
    """Metres of board taken, cuts across boards, joints nearer than the stagger to one of the row before."""

    taken_m: float
    cuts: int
    too_close: int


def lay_plainly(
    *, stretches: tuple[Stretch, ...], covering: Covering, rng: np.random.Generator
) -> PlainlyLaid:
    """The last board of a row is cut to fit; what is left of it begins the next row if it is long enough to
    lay and its joint keeps the stagger, and is thrown away if not. Nothing is chosen and nothing kept longer.
    """
    kinds = np.array(covering.lengths_m)
    joints: dict[int, list[float]] = {}
    taken, cuts, too_close, offcut = 0.0, 0, 0, 0.0
    for stretch in stretches:
        before = np.array(joints.get(stretch.row - 1, []))
        at = stretch.start_m
        while at < stretch.end_m - 1e-9:
            first = at == stretch.start_m
            usable = first and offcut >= covering.least_piece_m
            if usable and np.all(np.abs(before - (at + offcut)) >= covering.stagger_m):
                board = offcut
            else:
                board = float(rng.choice(kinds))
                taken += board
            offcut = 0.0
            rest = stretch.end_m - at
            if board > rest + 5e-4:
                cuts += 1
                offcut = board - rest - covering.kerf_m
            at += min(board, rest)
            if at < stretch.end_m - 1e-9:
                too_close += bool(np.any(np.abs(before - at) < covering.stagger_m))
                joints.setdefault(stretch.row, []).append(at)
    return PlainlyLaid(taken_m=taken, cuts=cuts, too_close=too_close)
