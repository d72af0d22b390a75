"""A price book that is posted names nothing that there is not."""

from decimal import Decimal

import pytest

from slab_core.quote.model import PriceBook, ProgressDraw, TaxPlace
from slab_core.quote.references import reference_problems, unborne_classes
from slab_core.quote.starter import price_book
from tests.unit.slab_core.quote.quotes import PRICES, plain_book

LABOUR_ALONE = {"labour": Decimal(0)}


def _drawn(milestone: str) -> PriceBook:
    return plain_book(progress_draws=(ProgressDraw(milestone=milestone, share=Decimal(1)),))


def test_the_starter_book_refers_to_nothing_that_is_not_there() -> None:
    book = price_book()
    assert reference_problems(book=book) == unborne_classes(book=book, names=book.tax_rates) == ()


@pytest.mark.parametrize("milestone", ["signing", "Start", "after correction", "tear-out", "After pour"])
def test_whatever_a_plan_may_reach_is_a_milestone(milestone: str) -> None:
    assert reference_problems(book=_drawn(milestone)) == ()


def test_what_no_plan_reaches_is_refused_with_what_was_meant() -> None:
    (problem,) = reference_problems(book=_drawn("after corection"))
    assert (problem.code, problem.severity) == ("payment-milestone", "refusal")
    assert problem.pointer == "/price_book/progress_draws/0/milestone"
    assert "(is 'after-correction' meant?)" in problem.detail


def test_a_price_of_a_class_without_a_rate_is_refused_at_its_row() -> None:
    (problem,) = reference_problems(book=plain_book(*PRICES, tax_rates=LABOUR_ALONE))
    assert problem.pointer == "/price_book/prices/1/tax_class"
    assert "'material'" in problem.detail


def test_a_place_s_rate_of_a_class_that_the_book_has_not_is_refused() -> None:
    place = TaxPlace(place="North County", rates={"a/b": Decimal("0.1"), "labour": Decimal("0.1")})
    (problem,) = reference_problems(book=plain_book(tax_places=(place,)))
    assert problem.pointer == "/price_book/tax_places/0/rates/a~1b"
    assert "labour" in problem.detail


def test_a_rate_that_no_price_bears_is_refused_where_it_is_named() -> None:
    book = plain_book(*PRICES, tax_rates={**LABOUR_ALONE, "material": Decimal(0), "matrial": Decimal(1)})
    (problem,) = unborne_classes(book=book, names=("material", "matrial"))
    assert problem.pointer == "/price_book/tax_rates/matrial"
    assert "there are labour, material" in problem.detail
