"""Second looks and cautions: given where they apply, and only there."""

from dataclasses import replace

import pytest

from slab_core.correction.model import Pin
from slab_core.materials import starter
from slab_core.rooms.model import KeepOut
from slab_core.takeoff.cautions import FIRST
from slab_core.takeoff.model import Scope, Site, Takeoff
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from tests.laid_floors import floor_of, rectangle
from tests.takeoff_jobs import TIGHT_RULE, plan, pour, report, taken_off, whole_job

FLOOR = floor_of(rectangle(0, 0, 6, 5))
HUNDREDS = 30 / FOOT2_M2 / 100
FILLED = plan(FLOOR, pours=(pour(bags=13, ft2=250, border_ft=60),), pour_days=1)


def _codes(takeoff: Takeoff, severity: str) -> set[str]:
    return {p.code for p in takeoff.problems if p.severity == severity}


def test_an_ordinary_whole_job_gets_no_second_look() -> None:
    assert _codes(whole_job(), "warning") == set()


@pytest.mark.parametrize(
    ("bags", "code"), [(3, "second-look-bags"), (30, "second-look-bags"), (45, "second-look-many-bags")]
)
def test_bags_outside_two_to_eight_per_hundred_feet_are_looked_at_again(bags: int, code: str) -> None:
    made = plan(FLOOR, pours=(pour(bags=bags, ft2=250, border_ft=60),), pour_days=1)
    takeoff = taken_off((FLOOR,), (made,))
    found = [p for p in takeoff.problems if p.code == code]
    assert len(found) == 1
    assert f"{bags / HUNDREDS:.1f}" in found[0].detail
    assert "2 to 8" in found[0].detail


def test_no_bags_are_a_warning_only_where_the_floor_does_not_pass() -> None:
    flat = taken_off((FLOOR,), (plan(FLOOR),), reports=(report(FLOOR, passes=True),))
    bad = taken_off((FLOOR,), (plan(FLOOR),), reports=(report(FLOOR, passes=False),))
    assert "second-look-bags" not in _codes(flat, "warning")
    assert "second-look-bags" in _codes(bad, "warning")


def test_much_grinding_and_little_adhesive_are_looked_at_again() -> None:
    ground = taken_off((FLOOR,), (replace(FILLED, grinder_hours=20.0),))
    assert "second-look-grinder" in _codes(ground, "warning")
    thin = replace(starter.catalogue().adhesive, coverage_m2_per_l=3.0)
    sparing = taken_off((FLOOR,), (FILLED,), catalogue=replace(starter.catalogue(), adhesive=thin))
    assert "second-look-adhesive" in _codes(sparing, "warning")


@pytest.mark.parametrize(
    "scope",
    [
        Scope(),
        Scope(removal="none", base_off=False),
        Scope(removal="tile", furniture_rooms=1),
        Scope(removal="carpet", bond_grinding=False, moisture_tests=False, carpet_edge_m=4.0),
    ],
)
@pytest.mark.parametrize("filled", [True, False])
def test_hours_at_usual_rates_are_not_looked_at_again_whatever_the_scope(scope: Scope, filled: bool) -> None:
    made = FILLED if filled else plan(FLOOR)
    assert "second-look-work" not in _codes(taken_off((FLOOR,), (made,), scope=scope), "warning")


def test_hours_expected_of_the_whole_job_overlap_85_to_125_for_300_square_feet() -> None:
    """Common practice, no single source: floating floor out, 24 bags, 9 mh, hearth, trim and carpet edge."""
    slow = replace(starter.rates(), lay_m2_per_ph=0.6)
    (found,) = [p for p in whole_job(rates=slow).problems if p.code == "second-look-work"]
    low, high = (
        float(text) * 3 for text in found.detail.split("usually take ")[1].split(" (")[0].split(" to ")
    )
    assert low < 85 < 110 < high < 125
    for part in ("floating floor out", "24 bags by three", "hearth", "base on", "carpet edge"):
        assert part in found.detail


@pytest.mark.parametrize(
    "changes",
    [{"lay_m2_per_ph": 0.6}, {"pour_day_ph": 60.0}, {"pre_cut_m2_per_ph": 40.0, "lay_m2_per_ph": 40.0}],
)
def test_a_rate_far_off_is_looked_at_again(changes: dict[str, float]) -> None:
    takeoff = taken_off((FLOOR,), (FILLED,), rates=replace(starter.rates(), **changes))  # type: ignore[arg-type]  # all floats
    assert "second-look-work" in _codes(takeoff, "warning")


@pytest.mark.parametrize("porosity", ["porous", "dense"])
def test_primer_is_judged_by_the_coat_and_the_slab(porosity: str) -> None:
    site = Site(built_year=1995, porosity=porosity)  # type: ignore[arg-type]  # one of the literals above
    assert "second-look-primer" not in _codes(taken_off((FLOOR,), (FILLED,), site=site), "warning")
    thick = replace(starter.primer(), coverage_porous_m2_per_l=2.0, coverage_dense_m2_per_l=2.0)
    catalogue = replace(starter.catalogue(), primer=thick)
    takeoff = taken_off((FLOOR,), (FILLED,), site=site, catalogue=catalogue)
    (found,) = [p for p in takeoff.problems if p.code == "second-look-primer"]
    assert f"a {porosity} slab" in found.detail


def test_fill_without_borders_is_looked_at_again() -> None:
    bare = plan(FLOOR, pours=(pour(bags=13, ft2=250),), pour_days=1)
    assert "second-look-no-borders" in _codes(taken_off((FLOOR,), (bare,)), "warning")
    assert "second-look-no-borders" not in _codes(taken_off((FLOOR,), (FILLED,)), "warning")


def test_a_tight_rule_without_polish_is_looked_at_again() -> None:
    tight = (report(FLOOR, rule=TIGHT_RULE),)
    unpolished = taken_off((FLOOR,), (plan(FLOOR),), reports=tight)
    polished = taken_off((FLOOR,), (FILLED,), reports=tight)
    assert "second-look-no-polish" in _codes(unpolished, "warning")
    assert "second-look-no-polish" not in _codes(polished, "warning")


def test_an_order_without_waste_is_looked_at_again() -> None:
    covering = replace(starter.covering(), cull_share=0.0)
    takeoff = taken_off((FLOOR,), (FILLED,), covering=covering)
    assert "second-look-board-waste" in _codes(takeoff, "warning")


def test_cautions_say_what_comes_first() -> None:
    found = [p for p in whole_job().problems if p.severity == "caution"]
    assert len(found) >= 4
    assert all(p.detail.endswith(FIRST) for p in found)


@pytest.mark.parametrize(
    ("year", "removal", "warned"),
    [(1980, "floating", True), (1981, "floating", False), (None, "carpet", True), (1950, "none", False)],
)
def test_asbestos_is_presumed_up_to_1980_and_where_the_age_is_unknown(
    year: int | None, removal: str, warned: bool
) -> None:
    """29 CFR 1926.1101 and an OSHA letter of 1997-08-01."""
    scope = Scope(removal=removal)  # type: ignore[arg-type]  # one of the literals above
    takeoff = taken_off((FLOOR,), (FILLED,), scope=scope, site=Site(built_year=year))
    assert ("caution-asbestos" in _codes(takeoff, "caution")) is warned


def test_cautions_follow_the_work() -> None:
    quiet = taken_off(
        (FLOOR,), (plan(FLOOR),), scope=Scope(removal="none", bond_grinding=False, base_off=False)
    )
    assert _codes(quiet, "caution") == {"caution-isocyanates"}
    loud = _codes(taken_off((FLOOR,), (FILLED,)), "caution")
    assert {"caution-silica", "caution-power", "caution-wet-cement", "caution-isocyanates"} <= loud


def test_cautions_follow_the_hazards_of_the_products_that_are_used() -> None:
    plain = starter.catalogue()
    other = replace(
        plain,
        primer=replace(plain.primer, hazards=("epoxy",)),
        adhesive=replace(plain.adhesive, hazards=()),
    )
    poured = _codes(taken_off((FLOOR,), (FILLED,), catalogue=other), "caution")
    assert {"caution-wet-cement", "caution-epoxy"} <= poured
    assert "caution-isocyanates" not in poured
    unprimed = _codes(taken_off((FLOOR,), (plan(FLOOR),), catalogue=other), "caution")
    assert not unprimed & {"caution-wet-cement", "caution-epoxy", "caution-isocyanates"}


@pytest.mark.parametrize("what", ["tendons", "heating-pipes", "membrane"])
def test_what_lies_in_the_slab_is_warned_of(what: str) -> None:
    site = Site(built_year=1995, slab_has=(what,))  # type: ignore[arg-type]  # one of the literals above
    assert f"caution-{what}" in _codes(taken_off((FLOOR,), (plan(FLOOR),), site=site), "caution")


def test_keep_out_zones_are_named_with_the_pins_that_must_not_be_drilled_in() -> None:
    pin = Pin(at=(0.5, 0.5), above_slab_m=0.01, height_m=0.0, walls=())
    made = pour(bags=13, ft2=250, border_ft=60, pins=(pin, replace(pin, at=(4.0, 4.0))))
    zones = (
        KeepOut(id="pipes", reason="heating-pipes", outline=rectangle(0, 0, 1, 1)),
        KeepOut(id="drain", reason="outlet", outline=rectangle(2, 2, 2.2, 2.2), fills=False),
    )
    floor = replace(FLOOR, rooms=(replace(FLOOR.rooms[0], keep_outs=zones),))
    takeoff = taken_off((floor,), (plan(floor, pours=(made,), pour_days=1),))
    told = {p.code: p.detail for p in takeoff.problems if p.severity == "caution"}
    assert "“pipes” in" in told["caution-heating-pipes"]
    assert "1 of the pins set out stand there" in told["caution-heating-pipes"]
    assert "“drain” in" in told["caution-keep-out"]
    assert "nothing filled either" in told["caution-keep-out"]
    assert "of the pins set out" not in told["caution-keep-out"]
    for code in ("caution-heating-pipes", "caution-keep-out"):
        assert "no grinding and no drilling" in told[code]
    assert "bond-grinding-left-out" in {p.code for p in takeoff.problems}
