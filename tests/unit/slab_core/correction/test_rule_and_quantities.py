"""What a rule of flatness changes of a correction: nothing where the whole floor is brought to one plane,
which is what an allowance before tear-out foretells."""

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.tolerance.model import Rule
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.invented_floors import rectangle, work
from tests.real_slabs import real_slab

WIDTH_M, DEPTH_M = 4.0, 5.0


def _plan(seed: int, *, feet: float, inches: float) -> Plan:
    rng = np.random.default_rng([91, seed])
    return work(
        floor=rectangle(width_m=WIDTH_M, length_m=DEPTH_M),
        height_m=real_slab(rng=rng, width_m=WIDTH_M, depth_m=DEPTH_M).slab.height,
        columns=40,
        rules=(Rule(length_m=feet * FOOT_M, gap_m=inches * INCH_M),),
    ).plan()


@pytest.mark.parametrize("seed", [0, 2, 5])
def test_a_floor_brought_to_one_plane_takes_the_same_under_every_rule_that_it_breaks(seed: int) -> None:
    usual = _plan(seed, feet=10, inches=3 / 16)
    assert usual.bags > 0
    for feet, inches in ((10, 1 / 8), (10, 3 / 8), (6, 1 / 8)):
        other = _plan(seed, feet=feet, inches=inches)
        assert (other.bags, other.grinder_hours) == (usual.bags, usual.grinder_hours)
