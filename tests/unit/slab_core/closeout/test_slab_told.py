"""What a closed job tells of its slab, and what it does not."""

from dataclasses import replace

import pytest

from slab_core.closeout.compare import compare
from slab_core.closeout.model import Actual, EstimatedLine, SlabTold
from slab_core.closeout.propose import COMPOUND
from slab_core.closeout.slab_told import GRINDING, OF_THE_SLAB, slab_told
from slab_core.rooms.model import KeepOut
from slab_core.takeoff.model import Scope, Site
from tests.sample_jobs import one_room_job

BAGS = EstimatedLine(key="compound", code=COMPOUND, kind="material", what="Bags", quantity=10.0, unit="bag")
HOURS = EstimatedLine(key="grind", code=GRINDING, kind="equipment", what="Grinder", quantity=10.0, unit="mh")
PATCH = EstimatedLine(key="patch", code="patch", kind="labour", what="Patch", quantity=1.0, unit="PH")


def _told(*estimated: EstimatedLine, one_plane: bool = True, keep_outs: tuple[KeepOut, ...] = ()) -> SlabTold:
    actuals = tuple(Actual(key=line.key, quantity=12.0) for line in estimated if line is not PATCH)
    (room,) = one_room_job(width_m=6.0, depth_m=5.0).rooms
    return slab_told(
        rooms=(replace(room, keep_outs=keep_outs),), scope=Scope(removal="carpet"), site=Site(),
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


def test_one_that_was_not_to_be_ground_everywhere_says_nothing_of_hours() -> None:
    assert _told(BAGS, HOURS).grinding == 12.0
    pipes = KeepOut(id="pipes", reason="heating-pipes", outline=((0, 0), (1, 0), (1, 1)))
    kept = _told(BAGS, HOURS, keep_outs=(pipes,))
    assert (kept.grinding, kept.bags) == (None, 12.0)
