"""Hours of pre-cutting: by area, and by the cuts and rips that a layout has beyond the usual."""

from dataclasses import replace

import pytest

from slab_core.layout.model import Layout
from slab_core.materials import starter
from slab_core.materials.rates_model import CutTimes, Rates
from slab_core.rooms.model import Floor, Room
from tests.laid_floors import floor_of, laid, rectangle
from tests.takeoff_jobs import line, plan, taken_off

FLOOR = floor_of(rectangle(0, 0, 5.02, 4.02))
LAID = laid(FLOOR)
RATES = replace(
    starter.rates(),
    pre_cut_m2_per_ph=2.0,
    cuts=CutTimes(ph=0.05, rip_ph_per_m=0.1, usual_per_m2=1.5, usual_rip_m_per_m2=0.5),
)


def _hours(layout: Layout, rates: Rates = RATES) -> float:
    made = taken_off((FLOOR,), (plan(FLOOR),), layouts=(layout,), rates=rates)
    return line(made, "pre-cut").order


def test_usual_cuts_and_rips_take_what_the_rate_says() -> None:
    m2 = LAID.covered_m2
    usual = replace(LAID, cuts=round(1.5 * m2), ripped_m=0.5 * m2)
    assert _hours(usual) == pytest.approx(m2 / 2.0, abs=0.5 * 0.05)


def test_every_cut_and_every_metre_ripped_counts_with_its_own_time() -> None:
    before = _hours(LAID)
    assert _hours(replace(LAID, cuts=LAID.cuts + 10)) == pytest.approx(before + 0.5)
    assert _hours(replace(LAID, ripped_m=LAID.ripped_m + 4.0)) == pytest.approx(before + 0.4)
    made = taken_off((FLOOR,), (plan(FLOOR),), layouts=(LAID,), rates=RATES)
    inputs = line(made, "pre-cut").trace.inputs
    assert inputs["cuts"] == f"{LAID.cuts:.1f}"
    assert inputs["time"] == "3.00 min each"
    assert inputs["time of rips"] == "6.00 min a m"


def test_the_starter_rates_give_an_ordinary_room_the_hours_of_its_area_within_a_twentieth() -> None:
    rates = starter.rates()
    assert _hours(LAID, rates) == pytest.approx(LAID.covered_m2 / rates.pre_cut_m2_per_ph, rel=0.05)


def test_phases_share_the_cuts_by_the_boards_that_they_get() -> None:
    rooms = tuple(
        Room(id=name, name=name, outline=rectangle(x, 0, x + width, 4), phase=phase)
        for name, x, width, phase in (("a", 0.0, 4.0, 1), ("b", 4.0, 2.0, 2))
    )
    floor = Floor(id="a", rooms=rooms, shell=rectangle(0, 0, 6, 4), gaps=(), area_m2=24.0, wall_m=20.0)
    layout = laid(floor)
    made = taken_off((floor,), (plan(floor),), layouts=(layout,), rates=RATES)
    first, second = (one for one in made.lines if one.key.code == "pre-cut")
    cuts = [float(one.trace.inputs["cuts"]) for one in (first, second)]
    assert sum(cuts) == pytest.approx(layout.cuts, abs=0.1)
    assert cuts[0] == pytest.approx(2 * cuts[1], rel=0.15)
