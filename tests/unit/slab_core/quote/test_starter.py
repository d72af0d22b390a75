"""The starter price book has a price for whatever the starter catalogue makes a takeoff ask for."""

from dataclasses import replace

import pytest

from slab_core.materials import starter as materials
from slab_core.money.currencies import digits_of
from slab_core.quote.starter import price_book
from slab_core.takeoff.codes import price_codes


@pytest.mark.parametrize("adhesive", [materials.plain_adhesive(), materials.barrier_adhesive()])
def test_no_price_is_missing_and_every_unit_agrees(adhesive: object) -> None:
    catalogue = replace(materials.catalogue(), adhesive=adhesive)  # type: ignore[arg-type]  # one of the two
    book = price_book()
    priced = {price.code: price for price in book.prices}
    for wanted in price_codes(catalogue=catalogue, covering=materials.covering()):
        assert priced[wanted.code].unit == wanted.unit, wanted
        assert priced[wanted.code].tax_class == wanted.kind, wanted
        assert priced[wanted.code].amount > 0, wanted


@pytest.mark.parametrize("currency", ["USD", "JPY", "KWD"])
def test_the_book_takes_the_digits_of_its_currency(currency: str) -> None:
    book = price_book(currency)
    assert book.digits == digits_of(currency=currency)
    assert all(price.amount > 0 for price in book.prices)
    assert book.version.startswith("starter")
