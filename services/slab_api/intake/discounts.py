"""What one job is let off, as the core's models."""

from decimal import Decimal

from slab_api.intake.reader import Reader
from slab_api.schemas.wanted import DiscountDocument
from slab_core.errors import Problem
from slab_core.quote.job_discounts import discount_problems, unclear_discounts
from slab_core.quote.model import JobDiscount, PriceBook


def read_discounts(
    discounts: tuple[DiscountDocument, ...], *, book: PriceBook | None, reader: Reader
) -> tuple[JobDiscount, ...]:
    """Within what the price book allows, where it is known already."""
    read = tuple(
        JobDiscount(
            code=each.what,
            what=each.what,
            reason=each.reason,
            share=each.share or Decimal(0),
            amount=each.amount or Decimal(0),
        )
        for each in discounts
    )
    if book is None:
        _report(unclear_discounts(discounts=read), reader)
    else:
        _report(discount_problems(discounts=read, book=book), reader)
    return read


def _report(problems: tuple[Problem, ...], reader: Reader) -> None:
    for problem in problems:
        at = problem.pointer.removeprefix("/").split("/")
        reader.fault(problem.detail, tuple(int(step) if step.isdigit() else step for step in at))
