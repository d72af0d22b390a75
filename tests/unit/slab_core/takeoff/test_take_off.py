"""A whole takeoff from plans made by hand."""

from collections import Counter
from dataclasses import replace
from math import ceil

import pytest

from slab_core.correction.assurance_model import Assurance, AssuredPrice, PlacingErrors
from slab_core.materials import starter
from slab_core.rooms.model import Floor, KeepOut, Room
from slab_core.scans.model import Scan, Target
from slab_core.takeoff.codes import TASK, price_codes
from slab_core.takeoff.model import Scope, Site, Takeoff
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from tests.laid_floors import floor_of, rectangle
from tests.takeoff_jobs import RULE, TIGHT_RULE, line, plan, pour, report, taken_off, whole_job

FLOOR = floor_of(rectangle(0, 0, 6, 5))
FIVE_POURS = tuple(pour(id=f"bay-{k}", bags=b, ft2=50) for k, b in enumerate((4, 5, 3, 4, 2)))


def _person_hours(takeoff: Takeoff, *, without: str = "") -> float:
    return sum(x.order for x in takeoff.lines if x.kind == "labour" and x.key.code != without)


def _codes(takeoff: Takeoff) -> set[str]:
    return {x.key.code for x in takeoff.lines}


def test_a_whole_job_of_300_square_feet_takes_85_to_125_person_hours() -> None:
    """Floating floor out, 24 bags, 6 mh and 3 by hand, hearth, 15 ft of T-molding, 60 ft of base, 15 ft of
    carpet edge: common practice, no single source."""
    takeoff = whole_job()
    assert takeoff.floor_m2 / FOOT2_M2 == pytest.approx(300, abs=1)
    assert 85 <= _person_hours(takeoff) <= 125
    assert line(takeoff, "compound").order == 24


def test_tasks_have_the_person_hours_of_the_labour_lines_but_for_trips() -> None:
    takeoff = whole_job()
    hours = sum(task.person_hours for task in takeoff.tasks)
    assert hours == pytest.approx(_person_hours(takeoff, without="trip"))


def test_every_line_has_a_key_of_its_own_a_trace_and_a_price_code_the_book_knows() -> None:
    takeoff = whole_job()
    known = {
        (p.code, p.kind): p.unit
        for p in price_codes(catalogue=starter.catalogue(), covering=starter.covering())
    }
    assert max(Counter(x.key for x in takeoff.lines).values()) == 1
    for item in takeoff.lines:
        assert item.trace.stage
        assert item.trace.formula
        assert item.trace.inputs
        assert known[(item.price_code, item.kind)] == (item.package or item.unit)


def test_material_is_ordered_in_whole_packages_that_hold_net_and_waste() -> None:
    catalogue = starter.catalogue()
    sizes = {x.id: x.package.size for x in catalogue.items}
    sizes[catalogue.primer.id] = catalogue.primer.package.size
    sizes[catalogue.adhesive.id] = catalogue.adhesive.package.size
    sizes[starter.covering().product] = starter.covering().carton_m2
    for item in (x for x in whole_job().lines if x.kind == "material"):
        assert item.order == int(item.order) > 0
        if item.price_code in sizes:
            assert item.order * sizes[item.price_code] >= item.net * (1 + item.waste_share) - 1e-6


def test_what_is_not_bought_in_packages_orders_net_and_waste() -> None:
    for item in (x for x in whole_job().lines if x.kind != "material"):
        assert item.order == pytest.approx(item.net * (1 + item.waste_share))
        assert item.package == ""


def test_the_weight_of_the_order_is_that_of_its_packages() -> None:
    takeoff = whole_job()
    bags = line(takeoff, "compound")
    assert bags.weight_kg == pytest.approx(24 * 50 * 0.45359237)
    assert takeoff.order_weight_kg == pytest.approx(sum(x.weight_kg for x in takeoff.lines))


def test_bags_are_whole_for_each_pour_and_never_rounded_again() -> None:
    """Pours of 3.3, 4.2, 2.6, 3.4 and 1.3 bags use 18, not 15: common practice."""
    takeoff = taken_off((FLOOR,), (plan(FLOOR, pours=FIVE_POURS, pour_days=1),))
    assert line(takeoff, "compound").order == 18
    assert line(takeoff, "compound-spare").order == 1
    assert [t.part for t in takeoff.tasks if t.code == "pour"] == [p.id for p in FIVE_POURS]


def test_other_material_is_rounded_once_for_the_job_and_not_for_each_floor() -> None:
    floors = tuple(
        replace(
            FLOOR,
            id=name,
            rooms=(replace(FLOOR.rooms[0], id=name),),
        )
        for name in ("a", "b", "c")
    )
    plans = tuple(plan(floor, pours=(pour(bags=3, ft2=30),), pour_days=1) for floor in floors)
    takeoff = taken_off(floors, plans)
    primer = line(takeoff, "primer")
    assert primer.net == pytest.approx(3 * 60 * FOOT2_M2 / starter.primer().coverage_porous_m2_per_l)
    assert primer.order == 1
    assert sum(x.order for x in takeoff.lines if x.key.code == "compound") == 9
    boards = line(takeoff, "boards")
    alone = line(taken_off(floors[:1], plans[:1]), "boards")
    assert boards.order < 3 * alone.order
    assert Counter(x.key.code for x in takeoff.lines)["moisture-probe"] == 1


def test_slab_is_primed_for_its_first_lift_and_a_lift_only_where_another_goes_over_it() -> None:
    pours = (
        pour(id="low", bags=5, ft2=40, lift=1, below_m=0.012),
        pour(id="high", bags=6, ft2=60, lift=2),
    )
    takeoff = taken_off((FLOOR,), (plan(FLOOR, pours=pours, pour_days=2, fill_m2=60 * FOOT2_M2),))
    primings = {t.part: t for t in takeoff.tasks if t.code == "prime"}
    # Of the 60 ft² of slab 40 lie under the lower lift, which gets one coat itself.
    rates = starter.rates()
    coat = 20 * FOOT2_M2 / rates.prime_m2_per_ph
    coats = int(line(takeoff, "primer").trace.inputs["coats"])
    assert {part: t.lift for part, t in primings.items()} == {"lift1": 1, "lift2": 2}
    assert primings["lift1"].person_hours == pytest.approx(2 * coats * coat)
    assert primings["lift2"].person_hours == pytest.approx((coats + 2) * coat)
    poured = sum(t.person_hours for t in takeoff.tasks if t.code == "pour")
    placing = 11 / rates.bags_per_hour * rates.placing_people
    assert poured == pytest.approx(placing + 2 * rates.pour_day_ph - 2 * coat)
    hours = line(takeoff, "prime")
    assert hours.net == pytest.approx(sum(t.person_hours for t in primings.values()))
    primed = line(takeoff, "primer").trace.inputs["primed again"]
    assert primed.startswith(f"{40 * FOOT2_M2:.2f}"[:3])


def test_pours_are_staffed_and_tell_the_schedule_their_depth_and_lift() -> None:
    pours = (pour(id="low", bags=5, ft2=40, lift=1), pour(id="high", bags=6, ft2=60, lift=2))
    takeoff = taken_off((FLOOR,), (plan(FLOOR, pours=pours, pour_days=2),))
    tasks = [t for t in takeoff.tasks if t.code == "pour"]
    assert {t.least_people for t in tasks} == {3}
    assert [(t.part, t.lift) for t in tasks] == [("low", 1), ("high", 2)]
    assert all(t.depth_m == pytest.approx(0.0127) for t in tasks)
    rates = starter.rates()
    placing = 11 / rates.bags_per_hour * rates.placing_people
    assert sum(t.person_hours for t in tasks) == pytest.approx(placing + 2 * rates.pour_day_ph)


def test_spreads_become_tasks_in_their_order() -> None:
    takeoff = taken_off((FLOOR,), (plan(FLOOR),))
    parts = [t.part for t in takeoff.tasks if t.code == "spread"]
    assert parts == [str(k + 1) for k in range(len(parts))]
    assert len(parts) > 3


def test_tasks_come_in_the_usual_order_and_their_codes_are_known() -> None:
    places = [list(TASK).index(task.code) for task in whole_job().tasks]
    assert places[2:-2] == sorted(places[2:-2])  # between what is for the whole job
    assert [t.code for t in whole_job().tasks[:2]] == ["containment", "moisture-test"]
    assert [t.code for t in whole_job().tasks[-2:]] == ["carpet-edge", "hand-over"]


def test_bond_grinding_covers_the_whole_floor_and_is_slower_where_glue_was() -> None:
    clean = taken_off((FLOOR,), (plan(FLOOR),), scope=Scope(removal="floating"))
    glued = taken_off((FLOOR,), (plan(FLOOR),), scope=Scope(removal="glued-wood"))
    rates = starter.rates()
    set_up = rates.grinder_set_up_mh_per_day
    bare = line(clean, "bond-grind", "floor-grinder").order
    assert bare == pytest.approx(30 / rates.bond_grinding_m2_per_mh + set_up)
    assert line(glued, "bond-grind", "floor-grinder").order == pytest.approx(
        30 / rates.bond_grinding_m2_per_mh / rates.residue_share + set_up
    )


def test_the_machine_is_set_up_once_for_every_day_of_grinding() -> None:
    rates = starter.rates()
    takeoff = taken_off(
        (FLOOR,), (plan(FLOOR, machine_hours=13.0, ground_ft3=1.0),), scope=Scope(bond_grinding=False)
    )
    grind = line(takeoff, "grind", "floor-grinder")
    assert grind.order == pytest.approx(13.0 + 3 * rates.grinder_set_up_mh_per_day)
    assert line(takeoff, "grinding-dust").order == pytest.approx(145 * 0.45359237)


def test_dust_collection_runs_with_every_grinder_and_saw() -> None:
    takeoff = whole_job()
    machines = [
        x.order for x in takeoff.lines if x.price_code in ("floor-grinder", "hand-grinder", "masonry-saw")
    ]
    assert line(takeoff, "dust-collection").order == pytest.approx(sum(machines))
    assert line(takeoff, "vacuum-bag").net == pytest.approx(sum(machines) / 3.0)


def test_a_very_tight_rule_adds_polish_and_a_finishing_loop() -> None:
    made = plan(FLOOR, pours=(pour(bags=10, ft2=200, border_ft=40),), pour_days=1)
    usual = taken_off((FLOOR,), (made,))
    tight = taken_off((FLOOR,), (made,), reports=(report(FLOOR, rule=TIGHT_RULE),))
    assert not {"polish", "finish"} & _codes(usual)
    rates = starter.rates()
    polish = line(tight, "polish", "floor-grinder").order
    assert polish == pytest.approx(200 * FOOT2_M2 / rates.polish_m2_per_mh)
    assert line(tight, "finish").order == pytest.approx(200 * FOOT2_M2 * rates.finish_ph_per_m2 * 2)


@pytest.mark.parametrize("cycles", [0, 1, 3])
def test_where_a_probability_was_asked_for_the_rounds_that_the_plan_counts_on_go_over_the_whole_floor(
    cycles: int,
) -> None:
    price = AssuredPrice(
        asked=0.9, reached=True, probability=0.93, probability_se=0.01, planning_share=1.0,
        finish_cycles=cycles, finish_cost=0.0, cost=1.0, finish_patch_m3=0.004 * cycles,
        finish_patch_m2=2.0 * cycles,
    )  # fmt: skip
    told = Assurance(
        chosen=price, prices=(price, price), price_of_95=0.0, draws=1000, placing=PlacingErrors(),
        placing_sd_m=0.0008, margins=(),
    )  # fmt: skip
    for pours, days in (((), 0), ((pour(bags=10, ft2=200, border_ft=40),), 1)):
        made = replace(plan(FLOOR, pours=pours, pour_days=days), assurance=told)
        for rule in (RULE, TIGHT_RULE):
            takeoff = taken_off((FLOOR,), (made,), reports=(report(FLOOR, rule=rule),))
            hours = FLOOR.area_m2 * starter.rates().finish_ph_per_m2 * cycles
            found = [line.order for line in takeoff.lines if line.key.code == "finish"]
            assert found == ([pytest.approx(hours)] if cycles else [])
            patch = starter.catalogue().patch
            litres = 4.0 * cycles * (1.0 + patch.waste_share) + 2000.0 * cycles * patch.texture_m
            bags = [line.order for line in takeoff.lines if line.key.code == "finish-bags"]
            assert bags == ([ceil(litres / 1000.0 / patch.package.size)] if cycles else [])


def test_borders_and_further_lifts_are_primed_again() -> None:
    low = pour(id="low", bags=5, ft2=100, below_m=0.012)
    high = pour(id="high", bags=5, ft2=100, lift=2, border_ft=40)
    once = taken_off((FLOOR,), (plan(FLOOR, pours=(replace(low, below_m=0.0),), pour_days=1),))
    twice = taken_off((FLOOR,), (plan(FLOOR, pours=(low, high), pour_days=2),))
    more = line(twice, "primer").net - line(once, "primer").net
    again = 100 * FOOT2_M2 + 40 * FOOT_M * 0.23
    assert more == pytest.approx(again / starter.primer().coverage_porous_m2_per_l)


def test_nothing_is_filled_where_the_plan_fills_nothing() -> None:
    takeoff = taken_off((FLOOR,), (plan(FLOOR),))
    assert not {"pour", "prime", "primer", "compound", "compound-spare", "pins", "edges"} & _codes(takeoff)


def test_scope_decides_what_comes_out_and_goes_back() -> None:
    bare = taken_off(
        (FLOOR,),
        (plan(FLOOR),),
        scope=Scope(removal="none", base_off=False, bond_grinding=False, moisture_tests=False),
    )
    left_out = {"tear-out", "removal", "base-off", "trim", "bond-grind", "moisture-test", "furniture-out"}
    assert not left_out & _codes(bare)
    new_base = taken_off((FLOOR,), (plan(FLOOR),), scope=Scope(base_new=True, furniture_rooms=2))
    assert line(new_base, "base").order == 6  # four walls, each of two pieces, out of 5 of 16 ft; a spare
    assert line(new_base, "furniture-out").order == pytest.approx(2 * 1.125)
    assert "old-base" in _codes(new_base)


def test_removal_is_carted_away_by_weight() -> None:
    takeoff = taken_off((FLOOR,), (plan(FLOOR),), scope=Scope(removal="tile"))
    assert line(takeoff, "removal").order == pytest.approx(30 * 45)
    assert line(takeoff, "tear-out").order == pytest.approx(30 / (15 * FOOT2_M2))


def test_a_scan_is_not_charged_as_if_it_had_been_shot_reading_by_reading() -> None:
    made = (plan(FLOOR, pours=()),)
    shot, scanned = (
        line(taken_off((FLOOR,), made, reading_count=count), "survey") for count in (150, 28_185)
    )
    assert shot.order == pytest.approx(150 / starter.rates().survey_readings_per_ph)
    # At most one reading for each of the 323 ft².
    assert scanned.order == pytest.approx(30 / FOOT2_M2 / starter.rates().survey_readings_per_ph)
    assert "scanned" in scanned.trace.formula


def test_scans_take_hours_for_their_setups_and_targets_and_no_readings_are_made_up_beside_them() -> None:
    made = (plan(FLOOR, pours=()),)
    bare = Scan(id="a", sha256="0" * 64, file="a")
    marked = replace(bare, id="b", targets=(Target(id="t", scanned_m=(0.0, 0.0, 0.0)),))
    scanned = taken_off((FLOOR,), made, reading_count=0, scans=(bare, marked))
    survey = line(scanned, "survey")
    assert survey.order == pytest.approx(2 * 0.5 + 0.25)  # common practice, from memory
    assert survey.trace.inputs["scans"] == "2"
    assert survey.trace.inputs["with targets"] == "1"
    both = line(taken_off((FLOOR,), made, reading_count=90, scans=(bare,)), "survey")
    assert both.order == pytest.approx(1.0 + 0.5)
    slower = taken_off(
        (FLOOR,), made, reading_count=0, scans=(bare,), rates=replace(starter.rates(), scan_setup_ph=1.5)
    )
    assert line(slower, "survey").order == pytest.approx(1.5)


def test_the_hours_of_scans_are_shared_out_by_area() -> None:
    other = replace(floor_of(rectangle(20, 0, 25, 3)), id="other")
    scans = (Scan(id="a", sha256="0" * 64, file="a"),)
    takeoff = taken_off((FLOOR, other), (plan(FLOOR), plan(other)), reading_count=0, scans=scans)
    hours = {each.key.floor: each.order for each in takeoff.lines if each.key.code == "survey"}
    assert sum(hours.values()) == pytest.approx(0.5)
    assert hours[FLOOR.id] == pytest.approx(2 * hours["other"])


def test_without_readings_the_survey_is_estimated_and_the_trace_says_so() -> None:
    takeoff = taken_off((FLOOR,), (plan(FLOOR),), reading_count=0)
    survey = line(takeoff, "survey")
    assert survey.order > 0
    assert "none are in yet" in survey.trace.formula


def test_phases_have_lines_of_their_own_that_add_up_to_the_floor() -> None:
    rooms = tuple(
        Room(id=name, name=name, outline=rectangle(x, 0, x + 3, 5), phase=phase)
        for name, x, phase in (("a", 0.0, 1), ("b", 3.0, 2))
    )
    floor = Floor(id="a", rooms=rooms, shell=rectangle(0, 0, 6, 5), gaps=(), area_m2=30.0, wall_m=22.0)
    pours = (pour(id="one", bags=4, ft2=60), pour(id="two", bags=6, ft2=90, phase=2))
    takeoff = taken_off((floor,), (plan(floor, pours=pours, pour_days=2),), scope=Scope(furniture_rooms=2))
    bags = {x.key.phase: x.order for x in takeoff.lines if x.key.code == "compound"}
    assert bags == {1: 4, 2: 6}
    clean = [x.order for x in takeoff.lines if x.key.code == "clean"]
    assert sum(clean) == pytest.approx(30 / starter.rates().clean_m2_per_ph)
    moved = {x.key.phase: x.order for x in takeoff.lines if x.key.code == "furniture-out"}
    assert moved == {1: pytest.approx(1.125), 2: pytest.approx(1.125)}
    hours = sum(task.person_hours for task in takeoff.tasks)
    assert hours == pytest.approx(_person_hours(takeoff, without="trip"))


def test_a_product_that_the_catalogue_lacks_is_reported_and_the_rest_is_counted() -> None:
    catalogue = starter.catalogue()
    short = replace(catalogue, items=tuple(i for i in catalogue.items if i.id != "screed-pin"))
    takeoff = taken_off((FLOOR,), (plan(FLOOR, pours=FIVE_POURS, pour_days=1),), catalogue=short)
    found = [p for p in takeoff.problems if p.code == "product-missing"]
    assert len(found) == 1
    assert "screed-pin" in found[0].detail
    assert "screed-pin" not in _codes(takeoff)


def test_a_slab_with_heating_pipes_is_neither_ground_nor_drilled() -> None:
    site = Site(built_year=1995, slab_has=("heating-pipes",))
    takeoff = taken_off((FLOOR,), (plan(FLOOR),), site=site)
    assert not {"bond-grind", "edge-grind", "moisture-test", "moisture-probe"} & _codes(takeoff)
    codes = {p.code for p in takeoff.problems}
    assert {"bond-grinding-left-out", "moisture-tests-left-out", "caution-heating-pipes"} <= codes


def test_no_floor_and_no_wall_in_a_keep_out_zone_is_ground_for_bond() -> None:
    corner = KeepOut(id="pipes", reason="heating-pipes", outline=rectangle(0, 0, 2, 3))
    floor = replace(FLOOR, rooms=(replace(FLOOR.rooms[0], keep_outs=(corner, replace(corner, id="again"))),))
    free, kept = (taken_off((one,), (plan(one),)) for one in (FLOOR, floor))
    bond, edges = line(kept, "bond-grind", "").trace, line(kept, "edge-grind", "")
    assert bond.inputs["floor"] == f"{FLOOR.area_m2 - 6.0:.2f} m²"
    share = (FLOOR.wall_m - 5.0) / FLOOR.wall_m
    usual = line(free, "edge-grind", "").order
    assert edges.order == pytest.approx(share * usual, rel=0.01)
    whole = replace(corner, outline=FLOOR.rooms[0].outline)
    everywhere = replace(FLOOR, rooms=(replace(FLOOR.rooms[0], keep_outs=(whole,)),))
    nothing = taken_off((everywhere,), (plan(everywhere),))
    assert not {"bond-grind", "edge-grind"} & _codes(nothing)


def test_a_pour_adds_a_way_to_the_site_whose_hours_its_day_holds_already() -> None:
    dry = taken_off((FLOOR,), (plan(FLOOR),))
    days = line(dry, "trip", "trip").order
    assert line(dry, "trip", "").order == pytest.approx(days * starter.rates().trip_ph)
    poured = taken_off((FLOOR,), (plan(FLOOR, pours=FIVE_POURS, pour_days=2),))
    ways, hours = line(poured, "trip", "trip").order, line(poured, "trip", "").order
    assert hours == pytest.approx((ways - 2) * starter.rates().trip_ph)
