"""What jobs take of the firm's store, told from their lines, and how the store gives it."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from slab_core.takeoff.entries import LEFT_OVER
from slab_core.takeoff.firm_stock import Amount, Held, drawn, lacking, taken_from_firm
from slab_core.takeoff.model import LineKey, Stock, TakeoffLine, Trace
from slab_core.takeoff.stock import FROM_STOCK, less_stock, usable

DAY = date(2026, 3, 3)


def _line(order: float, *, left: float = 0.0, floor: str = "") -> TakeoffLine:
    """So many pails of 10 L, of which so many litres are left."""
    return TakeoffLine(
        key=LineKey(code="adhesive", floor=floor, product="glue"),
        kind="material",
        what="Glue",
        net=order * 10.0 - left,
        waste_share=0.0,
        order=order,
        unit="L",
        price_code="glue",
        trace=Trace(stage="takeoff", formula="", inputs={LEFT_OVER: ""}),
        package="pail",
        package_size=10.0,
        left_over=left,
    )


def _taken(lines: tuple[TakeoffLine, ...], *stock: Stock) -> tuple[Amount, ...]:
    after = less_stock(lines=lines, stock=usable(stock, on=DAY))
    traces = [(line.key.product, line.trace.inputs) for line in after]
    return taken_from_firm(traces=traces, stock=stock, on=DAY)


def _amount(packages: int, thousandths: int = 0, product: str = "glue") -> Amount:
    return Amount(product=product, packages=packages, opened_thousandths=thousandths)


def test_what_stands_on_site_is_used_before_what_the_firm_has() -> None:
    on_site = Stock(product="glue", packages=2)
    of_firm = Stock(product="glue", packages=5, of_firm=True)
    assert _taken((_line(3),), on_site, of_firm) == (_amount(1),)
    assert _taken((_line(2),), on_site, of_firm) == ()
    assert _taken((_line(9),), on_site, of_firm) == (_amount(5),)


def test_opened_packages_are_taken_together_where_they_save_one_and_not_at_all_otherwise() -> None:
    whole = Stock(product="glue", packages=1, of_firm=True)
    half = Stock(product="glue", packages=0, opened=0.5, of_firm=True)
    assert _taken((_line(2, left=5.0),), whole, half) == (_amount(1, 500),)
    assert _taken((_line(2, left=4.0),), whole, half) == (_amount(1),)
    on_site = Stock(product="glue", packages=0, opened=0.25)
    assert _taken((_line(2, left=3.0),), whole, half, on_site) == (_amount(1, 500),)


def test_what_expired_on_site_is_not_counted_as_used() -> None:
    old = Stock(product="glue", packages=4, use_by=date(2026, 3, 2))
    of_firm = Stock(product="glue", packages=3, of_firm=True)
    assert _taken((_line(3),), old, of_firm) == (_amount(3),)


def test_lines_of_one_product_take_from_one_store() -> None:
    of_firm = Stock(product="glue", packages=3, of_firm=True)
    assert _taken((_line(2, floor="a"), _line(2, floor="b")), of_firm) == (_amount(3),)


@given(
    order=st.integers(0, 12),
    left=st.floats(0.0, 9.99),
    stock=st.lists(
        st.builds(
            Stock,
            product=st.just("glue"),
            packages=st.integers(0, 4),
            opened=st.sampled_from((0.0, 0.25, 0.5, 1.0, 1.5)),
            use_by=st.sampled_from((None, date(2026, 3, 2), DAY)),
            of_firm=st.booleans(),
        ),
        max_size=4,
    ).map(tuple),
)
def test_never_more_is_taken_than_the_firm_has_and_all_that_is_used_comes_from_somewhere(
    order: int, left: float, stock: tuple[Stock, ...]
) -> None:
    lines = (_line(float(order), left=min(left, order * 10.0)),)
    firm = [one for one in usable(stock, on=DAY) if one.of_firm]
    site = [one for one in usable(stock, on=DAY) if not one.of_firm]
    (taken,) = _taken(lines, *stock) or (_amount(0),)
    assert 0 <= taken.packages <= sum(one.packages for one in firm)
    assert taken.opened_thousandths in (0, round(1000 * sum(one.opened for one in firm)))
    (after,) = less_stock(lines=lines, stock=usable(stock, on=DAY))
    used = float(after.trace.inputs.get(FROM_STOCK, "0").split()[0])
    most_of_site = sum(one.packages + one.opened for one in site)
    assert taken.packages + taken.opened_thousandths / 1000 >= used - most_of_site - 1e-4
    assert taken.packages + taken.opened_thousandths / 1000 <= used + 1e-4


def _held(place: int, packages: int, thousandths: int = 0, product: str = "glue") -> Held:
    return Held(entry=str(place), product=product, packages=packages, opened_thousandths=thousandths)


def test_entries_give_in_their_order_and_only_their_own_product() -> None:
    entries = (_held(1, 2), _held(2, 9, product="primer"), _held(3, 5, 400))
    assert drawn(wanted=_amount(4, 100), entries=entries) == (_held(1, 2), _held(3, 2, 100))


def test_what_is_lacking_is_told_by_product_and_kind_of_package() -> None:
    wanted = (_amount(4, 500), _amount(1, product="primer"))
    there = (_held(1, 3, 500), _held(2, 7, product="primer"))
    assert lacking(wanted=wanted, there=there) == (_amount(1),)
    assert lacking(wanted=wanted, there=()) == wanted


@given(
    wanted=st.builds(_amount, st.integers(0, 9), st.integers(0, 2000)),
    entries=st.lists(
        st.builds(_held, st.integers(1, 9), st.integers(0, 4), st.integers(0, 900)), max_size=5
    ).map(tuple),
)
def test_what_is_drawn_and_what_is_lacking_make_up_what_is_wanted(
    wanted: Amount, entries: tuple[Held, ...]
) -> None:
    given_ = drawn(wanted=wanted, entries=entries)
    (short,) = lacking(wanted=(wanted,), there=given_) or (_amount(0),)
    assert sum(one.packages for one in given_) + short.packages == wanted.packages
    opened = sum(one.opened_thousandths for one in given_)
    assert opened + short.opened_thousandths == wanted.opened_thousandths
    assert lacking(wanted=(wanted,), there=entries) == (() if short.is_none else (short,))
