"""The least area of boards that these rows can be laid from."""

from dataclasses import dataclass
from math import ceil, gcd

from slab_core.layout.rows import Stretch
from slab_core.materials.model import Covering

_UNIT_M = 1e-4
_FITS_UNITS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastBoards:
    """In m²: boards as long as all stretches together, kerfs, and what makes both whole boards."""

    stretches_m2: float
    kerf_m2: float
    whole_boards_m2: float

    def all_m2(self) -> float:
        """No boards of less area do."""
        return self.stretches_m2 + self.kerf_m2 + self.whole_boards_m2


def least_boards(*, stretches: tuple[Stretch, ...], covering: Covering) -> LeastBoards:
    """A lower bound on the area of boards taken, for these rows and stretches.

    Three terms. *Rips*: a strip ripped off a board has lost an edge profile and is not laid again, so every
    metre of a stretch takes a metre of board, however narrow it is. *Kerf*: a stretch whose length is no
    sum of whole board lengths (to 0.5 mm) has a cut piece; one cut makes at most two cut pieces; so m such
    stretches cost at least ⌈m/2⌉ kerfs. *Whole boards*: together they are a multiple of the greatest length
    that goes into every board length (in tenths of a millimetre). Culls are not in it, nor how far joints
    must be apart, nor that offcuts under the least piece are lost.
    """
    cut, sums = 0, _board_sums(lengths_m=covering.lengths_m, longest_m=_longest(stretches))
    for stretch in stretches:
        cut += not _is_sum(stretch.length_m(), sums=sums)
    # A piece may be longer than its place by what needs no cut, never shorter.
    length_m = sum(stretch.length_m() for stretch in stretches)
    kerf_m = ceil(cut / 2) * covering.kerf_m
    need_m, step_m = length_m + kerf_m, common_step_m(covering.lengths_m)
    whole_m = ceil(need_m / step_m - 1e-6) * step_m if step_m else need_m
    return LeastBoards(
        stretches_m2=length_m * covering.width_m,
        kerf_m2=kerf_m * covering.width_m,
        whole_boards_m2=(whole_m - need_m) * covering.width_m,
    )


def common_step_m(lengths_m: tuple[float, ...]) -> float:
    """The greatest length of which every board length is a multiple, or 0 where they are no whole tenths of
    a millimetre."""
    steps = [length / _UNIT_M for length in lengths_m]
    if any(abs(step - round(step)) > 1e-6 for step in steps):
        return 0.0
    return gcd(*(round(step) for step in steps)) * _UNIT_M


def _longest(stretches: tuple[Stretch, ...]) -> float:
    return max((s.length_m() for s in stretches), default=0.0)


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
