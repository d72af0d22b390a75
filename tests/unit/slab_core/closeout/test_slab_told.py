"""What a closed job tells of its slab, and what it does not."""

import pytest

from slab_core.closeout.compare import compare
from slab_core.closeout.model import Actual, EstimatedLine, SlabTold
from slab_core.closeout.propose import COMPOUND
from slab_core.closeout.slab_told import OF_THE_SLAB, slab_told
from slab_core.takeoff.model import Scope, Site
from tests.sample_jobs import one_room_job

BAGS = EstimatedLine(key="compound", code=COMPOUND, kind="material", what="Bags", quantity=10.0, unit="bag")
PATCH = EstimatedLine(key="patch", code="patch", kind="labour", what="Patch", quantity=1.0, unit="PH")


def _told(*estimated: EstimatedLine, one_plane: bool = True) -> SlabTold:
    actuals = (Actual(key="compound", quantity=12.0),)
    return slab_told(
        rooms=one_room_job(width_m=6.0, depth_m=5.0).rooms, scope=Scope(removal="carpet"), site=Site(),
        may_grind=True, one_plane=one_plane, year=2026, estimated=estimated,
        comparison=compare(estimated=estimated, actuals=actuals, noise_sd=0.1, may_be_none=OF_THE_SLAB),
    )  # fmt: skip


def test_a_slab_brought_to_one_plane_tells_its_bags_and_area() -> None:
    told = _told(BAGS)
    assert (told.bags, told.removal) == (12.0, "carpet")
    assert told.area_m2 == pytest.approx(30.0)


def test_one_that_was_trowelled_or_corrected_in_part_says_nothing_of_bags() -> None:
    assert _told(BAGS, PATCH).bags is None
    assert _told(BAGS, one_plane=False).bags is None
