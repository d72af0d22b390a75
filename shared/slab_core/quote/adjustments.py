"""Lines that the book adds to those of the job: a reserve for call-backs, and discounts.

The reserve is a cost and bears overhead and profit. A discount is a share of all prices before any discount,
or of one job also an amount, one line for each class of tax, so that each class is taxed on what is really
charged.
"""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from slab_core.errors import Problem
from slab_core.money.rounding import EXACT, add_up, round_ratio, round_to
from slab_core.money.split import split
from slab_core.quote.model import Discount, JobDiscount, PriceBook, QuoteLine
from slab_core.quote.totals import on_top
from slab_core.takeoff.model import LineKey, Trace

WARRANTY = LineKey(code="warranty-reserve")
DISCOUNT = "discount"
JOB_DISCOUNT = "job-discount"
_BOOK = "/price_book"


def warranty_line(*, cost: Decimal, book: PriceBook, tax_class: str) -> tuple[QuoteLine, ...]:
    """The reserve for call-backs, of the cost of all lines of the job; none where the book has no share."""
    amount = _round(EXACT.multiply(cost, book.warranty_share), book)
    if not amount:
        return ()
    inputs = {"cost of the job's lines": str(cost), "share": str(book.warranty_share)}
    return (
        _line(
            key=WARRANTY, what="Reserve for call-backs under warranty", tax_class=tax_class, cost=amount,
            price=_round(Decimal(0), book), formula="cost of the job's lines x share", inputs=inputs,
        ),
    )  # fmt: skip


def discount_lines(*, lines: tuple[QuoteLine, ...], book: PriceBook) -> tuple[QuoteLine, ...]:
    """What is taken off priced lines; each discount is rounded once and shared to the classes of tax."""
    classes = sorted({line.tax_class for line in lines})
    sums = {
        name: add_up(amounts=tuple(line.price for line in lines if line.tax_class == name))
        for name in classes
    }
    return tuple(line for discount in book.discounts for line in _taken_off(discount, sums, book))


def discounted(*, book: PriceBook) -> Fraction:
    """What is left of a price after all discounts that are shares."""
    return 1 - sum((Fraction(discount.share) for discount in book.discounts), Fraction(0))


def let_off(*, book: PriceBook) -> Decimal:
    """What all discounts that are amounts take off."""
    return add_up(amounts=(Decimal(0), *(_amount(discount) for discount in book.discounts)))


def charged_for(*, book: PriceBook) -> Fraction:
    """What one more unit of cost adds to the quote before tax, reserve and discounts in it."""
    return on_top(book=book) * (1 + Fraction(book.warranty_share)) * discounted(book=book)


def adjustment_problems(*, book: PriceBook) -> tuple[Problem, ...]:
    """Refusals of the book's reserve and discounts, each naming its field."""
    return tuple(_problems(book))


def _taken_off(discount: Discount, sums: dict[str, Decimal], book: PriceBook) -> Iterator[QuoteLine]:
    whole = add_up(amounts=tuple(sums.values()))
    exact = Fraction(whole) * Fraction(discount.share) + Fraction(_amount(discount))
    off = round_ratio(value=-exact, digits=book.digits, rounding=book.rounding)
    parts = split(total=off, weights=tuple(sums.values()), digits=book.digits) if sums else ()
    for (name, price), part in zip(sums.items(), parts, strict=True):
        if part:
            yield _line(
                key=LineKey(code=_code(discount), product=f"{discount.code}/{name}"),
                what=discount.what or "Discount",
                tax_class=name,
                cost=_round(Decimal(0), book),
                price=part,
                formula=_formula(discount),
                inputs={**_inputs(discount), f"prices of {name}": str(price)},
            )


def _code(discount: Discount) -> str:
    return JOB_DISCOUNT if isinstance(discount, JobDiscount) else DISCOUNT


def _amount(discount: Discount) -> Decimal:
    return discount.amount if isinstance(discount, JobDiscount) else Decimal(0)


def _formula(discount: Discount) -> str:
    what = "amount" if _amount(discount) else "share x prices before discounts"
    return f"- {what}; shared to classes of tax by their prices"


def _inputs(discount: Discount) -> dict[str, str]:
    amount = _amount(discount)
    given = {"amount": str(amount)} if amount else {"share": str(discount.share)}
    return {**given, "reason": discount.reason} if isinstance(discount, JobDiscount) else given


def _line(
    *,
    key: LineKey,
    what: str,
    tax_class: str,
    cost: Decimal,
    price: Decimal,
    formula: str,
    inputs: dict[str, str],
) -> QuoteLine:
    return QuoteLine(
        key=key,
        kind="adjustment",
        what=what,
        quantity=Decimal(1),
        unit="each",
        unit_cost=cost,
        cost=cost,
        price=price,
        tax_class=tax_class,
        tax=EXACT.subtract(price, price),
        trace=Trace(stage="quote", formula=formula, inputs=inputs),
    )


def _problems(book: PriceBook) -> Iterator[Problem]:
    if not book.warranty_share.is_finite() or book.warranty_share < 0:
        yield _refusal(
            "price-negative",
            f"warranty_share is {book.warranty_share}; it must be 0 or more",
            "warranty_share",
        )
    seen = set[str]()
    for row, discount in enumerate(book.discounts):
        at = f"discounts/{row}"
        if not discount.code.strip() or discount.code in seen:
            detail = f"a discount needs a code of its own, not {discount.code!r} again or none"
            yield _refusal("discount-code", detail, f"{at}/code")
        if not discount.share.is_finite() or discount.share < 0:
            yield _refusal(
                "price-negative", f"the share is {discount.share}; it must be 0 or more", f"{at}/share"
            )
        seen.add(discount.code)
    most = book.job_discount_share
    if not most.is_finite() or most < 0:
        yield _refusal("price-negative", f"the share is {most}; it must be 0 or more", "job_discount_share")
    elif all(discount.share.is_finite() for discount in book.discounts):
        yield from _takes_all(book)


def _takes_all(book: PriceBook) -> Iterator[Problem]:
    """With what one job may be let off beside them."""
    left = discounted(book=book)
    if left <= 0:
        yield _refusal(
            "discounts-take-all", "all discounts together must be less than the price", "discounts"
        )
    elif left <= Fraction(book.job_discount_share):
        detail = f"with the book's discounts it must be less than the price: give less than {float(left):g}"
        yield _refusal("discounts-take-all", detail, "job_discount_share")


def _round(amount: Decimal, book: PriceBook) -> Decimal:
    return round_to(amount=amount, digits=book.digits, rounding=book.rounding)


def _refusal(code: str, detail: str, field: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=f"{_BOOK}/{field}", severity="refusal")
