"""The least area of boards that these rows can be laid from."""

from math import ceil

from slab_core.layout.rows import Stretch
from slab_core.materials.model import Covering

_UNIT_M = 1e-4
_FITS_UNITS = 5


def least_boards_m2(*, stretches: tuple[Stretch, ...], covering: Covering) -> float:
    """A lower bound on the area of boards taken, for these rows and stretches.

    Two terms. *Rips*: a strip ripped off a board has lost an edge profile and is not laid again, so a
    metre of board yields at most its stretch's width h of floor, and a stretch of area A needs
    boards of at least A/h · w. *Kerf*: a stretch whose length is no sum of whole board lengths (to 0.5
    mm) has a cut piece; one cut makes at most two cut pieces; so m such stretches cost at least
    ⌈m/2⌉ kerfs. Culls are not in it, nor that boards come in whole lengths.
    """
    width = covering.width_m
    boards = sum(s.area_m2 / (s.far_m - s.near_m) * width for s in stretches if s.far_m > s.near_m)
    longest = max((s.length_m() for s in stretches), default=0.0)
    sums = _board_sums(lengths_m=covering.lengths_m, longest_m=longest)
    cut = sum(not _is_sum(s.length_m(), sums=sums) for s in stretches)
    return boards + ceil(cut / 2) * covering.kerf_m * width


def _board_sums(*, lengths_m: tuple[float, ...], longest_m: float) -> int:
    """Bit i is set where i tenths of a millimetre is a sum of whole boards."""
    top = int(longest_m / _UNIT_M) + 2 * _FITS_UNITS
    mask = (1 << (top + 1)) - 1
    sums = 1
    for length in sorted(set(lengths_m)):
        step = round(length / _UNIT_M)
        while 0 < step <= top:
            sums = (sums | sums << step) & mask
            step *= 2
    return sums


def _is_sum(length_m: float, *, sums: int) -> bool:
    # Each board's own rounding to a tenth of a millimetre widens the window, so that the bound stays true.
    low = max(0, round(length_m / _UNIT_M) - 2 * _FITS_UNITS)
    return bool(sums >> low & ((1 << (4 * _FITS_UNITS + 1)) - 1))
