"""How far a crew's work is off: common practice, no single source."""

from slab_core.tolerance.model import Rule
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

SCREEDED_SD_M = INCH_M / 32
TROWELLED_SD_M = 3 * INCH_M / 64
GROUND_SD_M = INCH_M / 32
"""Patch and skim 1/32-1/16 in."""

FREE_ERROR_M, FREE_LENGTH_M = INCH_M / 8, 10 * FOOT_M
"""What a free pour leaves in 10 ft, read as two standard deviations; in proportion over less."""


def free_error_m(*, length_m: float) -> float:
    """What a free pour leaves under an edge of this length."""
    return FREE_ERROR_M * min(1.0, length_m / FREE_LENGTH_M)


def is_for_a_trowel(rule: Rule) -> bool:
    """Whether patches and skims can keep the rule: half of it is no less than a trowel is off under such an
    edge, in proportion over less than 10 ft. Of 1/16 in in 20 ft a field screeded to a surface and polished
    remains (common practice, no single source)."""
    return rule.gap_m / 2 >= TROWELLED_SD_M * min(1.0, rule.length_m / FREE_LENGTH_M)


def allowed_gap_m(*, gap_m: float) -> float:
    """What a rule leaves to plan with where parts of the floor stay as they are: a standard deviation of the
    trowel less, as nobody would plan to the hair, or half of a rule that is tighter still. A field that is
    brought to one surface whole has nothing left in it but the crew's error, which polish and the finishing
    loop take down, and is planned to the rule itself."""
    return gap_m - min(TROWELLED_SD_M, gap_m / 2)
