"""What remains of a job's packages is what the next one can use, and each line's trace tells it."""

from dataclasses import replace
from typing import Any

import pytest

from slab_core.correction.model import Plan
from slab_core.layout.ordering import to_open_m2
from slab_core.materials import starter
from slab_core.numerics.budget import Budget
from slab_core.pipeline.line import run
from slab_core.stages import CHEAPEST
from slab_core.takeoff.entries import LEFT_OVER
from slab_core.takeoff.model import Scope, Stock, Takeoff, TakeoffLine
from tests.sample_jobs import one_room_job
from tests.takeoff_jobs import line, plan, pour, taken_off
from tests.unit.slab_core.takeoff.test_take_off import FLOOR

COMPOUND = starter.compound()
TRIM = ("base", "quarter-round", "transition")
MADE = plan(FLOOR, pours=(pour(bags=27, ft2=200, border_ft=40),), pour_days=1)


def _job(*stock: Stock, **changes: Any) -> Takeoff:
    scope = Scope(base_new=True, quarter_round=True, stock=stock)
    return taken_off((FLOOR,), (MADE,), scope=scope, **changes)


def _told(one: TakeoffLine) -> str:
    return one.trace.inputs[LEFT_OVER]


def test_of_a_pour_nothing_remains_and_of_the_spare_every_bag() -> None:
    job = _job()
    poured, spare = line(job, "compound"), line(job, "compound-spare")
    assert poured.left_over == 0.0
    assert "mixed whole" in _told(poured)
    assert spare.order == 2.0  # 27 bags and a twentieth of them
    assert spare.left_over == pytest.approx(2 * COMPOUND.package.size)
    assert "2 bag" in _told(spare)


def test_of_patch_the_part_of_the_bag_that_was_opened_last_remains() -> None:
    made = run(job=replace(one_room_job(), alternates=(CHEAPEST,)), budget=Budget())
    job, placed = (
        made.model(Takeoff, "takeoff", "job", CHEAPEST),
        made.model(Plan, "correction", "studio", CHEAPEST),
    )
    bags = line(job, "patch-bags")
    mixed = sum(patch.bags for patch in placed.patches)
    assert mixed % 1.0 > 0.0
    assert bags.left_over / bags.package_size == pytest.approx(bags.order - mixed)
    assert 0.0 < bags.left_over < bags.package_size


def test_boards_remain_of_the_last_carton_and_the_spare_ones() -> None:
    for spare in (0, 1, 3):
        covering = replace(starter.covering(), spare_cartons=spare)
        job = _job(covering=covering)
        boards = line(job, "boards")
        laid = line(_job(covering=replace(covering, spare_cartons=0)), "boards")
        assert boards.left_over - laid.left_over == pytest.approx(spare * covering.carton_m2)
        assert 0.0 <= laid.left_over < covering.carton_m2
        opened = to_open_m2(bought_m2=float(boards.trace.inputs["boards"].split()[0]), covering=covering)
        assert boards.left_over == pytest.approx(boards.order * covering.carton_m2 - opened, abs=0.01)
        assert f"{boards.left_over:.4g} m²" in _told(boards)


@pytest.mark.parametrize("least_m", [0.05, 0.305, 1.2])
def test_of_sticks_what_is_long_enough_for_a_piece_remains_and_is_told_by_length(least_m: float) -> None:
    usual = starter.rates()
    job = _job(rates=replace(usual, trim=replace(usual.trim, least_piece_m=least_m)))
    for cuts in job.cut_lists:
        for product in {stick.product for stick in cuts.sticks}:
            (bought,) = [one for one in job.lines if one.key.code in TRIM and one.key.product == product]
            kept = [stick.left_m for stick in cuts.sticks if stick.left_m >= least_m]
            spare = bought.order - len(cuts.sticks)
            assert bought.left_over == pytest.approx(sum(kept) + spare * bought.package_size)
            assert all(f"{left:.2f} m" in _told(bought) for left in sorted(kept, reverse=True)[:6])
            assert ("no piece" in _told(bought)) == (not kept)
            assert ("spare" in _told(bought)) == (spare > 0)


def test_every_product_that_is_bought_tells_what_remains_and_never_more_than_was_bought() -> None:
    bought = [one for one in _job().lines if one.kind == "material"]
    assert len(bought) > 10
    for one in bought:
        assert LEFT_OVER in one.trace.inputs
        assert 0.0 <= one.left_over <= one.order * one.package_size + 1e-9


@pytest.mark.parametrize("code", ["compound-spare", "base", "quarter-round"])
def test_an_opened_package_saves_no_spare_and_pieces_of_sticks_make_no_stick(code: str) -> None:
    plain = line(_job(), code)
    assert plain.left_over > 0.01 * plain.package_size
    less = line(_job(Stock(product=plain.key.product, packages=0, opened=0.999)), code)
    assert less == plain


def test_an_opened_carton_saves_one_with_what_would_remain_and_the_rest_is_told_anew() -> None:
    boards = line(_job(), "boards")
    rest = boards.left_over / boards.package_size % 1.0
    assert 0.0 < rest < 1.0
    product, lacking = boards.key.product, 1.0 - rest
    kept = line(_job(Stock(product=product, packages=0, opened=lacking - 0.01)), "boards")
    assert kept == boards
    less = line(_job(Stock(product=product, packages=0, opened=lacking + 0.01)), "boards")
    assert less.order == boards.order - 1.0
    there = boards.left_over + (lacking + 0.01 - 1.0) * boards.package_size
    assert less.left_over == pytest.approx(there)
    assert f"{there:.4g} m²" in _told(less)
    assert _told(less) != _told(boards)
