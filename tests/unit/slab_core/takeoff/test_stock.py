"""Packages that an earlier job left are used first, once, and told; what is needed stays the same."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.materials import starter
from slab_core.takeoff.model import Scope, Stock, Takeoff
from slab_core.takeoff.stock import less_stock
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from tests.takeoff_jobs import line, plan, pour, taken_off
from tests.unit.slab_core.takeoff.test_take_off import FLOOR

COMPOUND, PRIMER = starter.compound().id, starter.primer().id
MADE = plan(FLOOR, pours=(pour(bags=10, ft2=200, border_ft=40),), pour_days=1)


def _job(*stock: Stock) -> Takeoff:
    return taken_off((FLOOR,), (MADE,), scope=Scope(carpet_edge_m=15 * FOOT_M, stock=stock))


def test_stock_is_taken_off_the_order_and_its_weight_and_told_in_the_trace() -> None:
    plain, less = _job(), _job(Stock(product=COMPOUND, packages=4))
    before, after = line(plain, "compound"), line(less, "compound")
    assert (before.order, after.order, after.from_stock) == (10.0, 6.0, 4.0)
    assert after.net == before.net
    assert after.weight_kg == pytest.approx(0.6 * before.weight_kg)
    assert after.trace.inputs["from stock"] == "4 of 10 bag"
    saved = before.weight_kg - after.weight_kg
    assert less.order_weight_kg == pytest.approx(plain.order_weight_kg - saved)


def test_more_stock_than_the_job_takes_leaves_nothing_to_order_and_never_less_than_nothing() -> None:
    less = _job(Stock(product=COMPOUND, packages=500))
    found = [one for one in less.lines if one.key.product == COMPOUND]
    assert len(found) == 2  # the pour's bags, then the spare ones
    assert all(one.order == 0.0 and one.weight_kg == 0.0 for one in found)
    assert sum(one.from_stock for one in found) == sum(
        one.order for one in _job().lines if one.key.product == COMPOUND
    )


def test_stock_of_a_product_that_is_not_taken_is_told_by_its_place() -> None:
    job = _job(Stock(product=PRIMER, packages=1), Stock(product="no-such-thing", packages=3))
    (problem,) = [problem for problem in job.problems if problem.code == "stock-unused"]
    assert problem.pointer == "/scope/stock/1/product"
    assert problem.severity == "warning"


@given(st.lists(st.tuples(st.sampled_from([COMPOUND, PRIMER, "tack-strip"]), st.integers(1, 30)), max_size=6))
def test_what_is_ordered_and_what_comes_from_stock_are_together_what_was_ordered(
    stock: list[tuple[str, int]],
) -> None:
    lines = _PLAIN.lines
    less = less_stock(lines=lines, stock=tuple(Stock(product=p, packages=n) for p, n in stock))
    for before, after in zip(lines, less, strict=True):
        assert after.order + after.from_stock == before.order
        assert after.order >= 0.0
        assert replace(
            after, order=before.order, from_stock=0.0, weight_kg=0.0, trace=before.trace
        ) == replace(before, weight_kg=0.0)
    for product in {p for p, _ in stock}:
        taken = sum(one.from_stock for one in less if one.key.product == product)
        asked = sum(one.order for one in lines if one.key.product == product)
        assert taken == min(asked, sum(n for p, n in stock if p == product))


@given(
    st.lists(st.tuples(st.integers(0, 4), st.floats(0.0, 3.0)), min_size=1, max_size=3),
    st.sampled_from([COMPOUND, PRIMER, "tack-strip"]),
)
def test_opened_packages_save_whole_ones_and_there_is_always_enough(
    stock: list[tuple[int, float]], product: str
) -> None:
    given_stock = tuple(Stock(product=product, packages=n, opened=share) for n, share in stock)
    opened = sum(share for _, share in stock)
    less = less_stock(lines=_PLAIN.lines, stock=given_stock)
    unopened = sum(n for n, _ in stock)
    saved = 0.0
    for before, after in zip(_PLAIN.lines, less, strict=True):
        assert (before.net, before.waste_share) == (after.net, after.waste_share)
        assert 0.0 <= after.order <= before.order
        whole = min(before.order, unopened) if before.key.product == product else 0.0
        unopened -= int(whole)
        by_opened = before.order - after.order - whole
        saved += by_opened
        assert after.from_stock == pytest.approx(whole + (opened if by_opened else 0.0))
        if by_opened:
            size = before.package_size
            used = before.order * size - before.left_over
            there = (after.order + after.from_stock) * size
            assert there >= used - 1e-9
            assert after.left_over == pytest.approx(there - used, abs=1e-9)
        if by_opened:
            assert f"in place of {whole + by_opened:g} of" in after.trace.inputs["from stock"]
    assert saved <= opened + 1.0


def test_half_a_jug_saves_one_only_where_what_would_be_left_over_makes_it_whole() -> None:
    primer = line(_PLAIN, "primer")
    spare = primer.left_over / starter.primer().package.size
    for share, saved in ((1.0 - spare + 0.01, 1.0), (1.0 - spare - 0.01, 0.0)):
        less = line(_job(Stock(product=PRIMER, packages=0, opened=share)), "primer")
        assert less.from_stock == (share if saved else 0.0)
        assert less.order == primer.order - saved


def test_what_expires_before_the_job_begins_is_not_used_and_told() -> None:
    day = date(2026, 4, 20)
    for use_by, used in ((day, 4.0), (date(2026, 4, 19), 0.0)):
        scope = Scope(stock=(Stock(product=COMPOUND, packages=4, use_by=use_by),))
        job = taken_off((FLOOR,), (MADE,), scope=scope, begins=day)
        assert line(job, "compound").from_stock == used
        told = [p.pointer for p in job.problems if p.code == "stock-expired"]
        assert told == ([] if used else ["/scope/stock/0/use_by"])


def test_what_whole_packages_hold_more_than_is_used_is_told() -> None:
    primer, package = line(_PLAIN, "primer"), starter.primer().package
    used = primer.net * (1.0 + primer.waste_share)
    assert primer.left_over == pytest.approx(primer.order * package.size - used)
    assert 0.0 <= primer.left_over < package.size


_PLAIN = _job()
