"""What a quote of what is left comes to with what is done: shares of accepted lines beside its own."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Final

from slab_app.codec import Encoded, decode
from slab_app.errors import QuotesApart
from slab_core.job import Job
from slab_core.quote.change_words import PricedLine
from slab_core.takeoff.model import Takeoff
from slab_store.quotes import QuoteRecord
from slab_store.unit_of_work import UnitOfWork

Key = tuple[str, str]
Shares = Mapping[Key, Decimal]

_SHARE: Final = Decimal("1e-9")
_MINIMUM, _ALLOWANCE = "minimum-charge", "allowance"


def with_done_work(
    uow: UnitOfWork,
    *,
    accepted: QuoteRecord,
    wanted: QuoteRecord,
    accepted_lines: tuple[PricedLine, ...],
    wanted_lines: tuple[PricedLine, ...],
) -> tuple[PricedLine, ...]:
    """The wanted quote's lines; where it is of what is left of a plan, with what is done as it was accepted.

    Raises QuotesApart where it is of what is left of another estimate than the accepted quote's.
    """
    posted = uow.runs.input(run_id=wanted.run)
    followed = (
        None if posted is None else decode(Job, Encoded(json=posted.json, arrays=posted.arrays)).followed
    )
    if followed is None:
        return wanted_lines
    if followed.estimate != str(accepted.run) or accepted.alternate != wanted.alternate:
        raise QuotesApart(
            f"quote {wanted.number} is of what is left of the work of estimate {followed.estimate} "
            f"({wanted.alternate}); it changes only that estimate's quote, and {accepted.number} is another"
        )
    return whole_job(accepted=accepted_lines, left=wanted_lines, shares=_shares(uow, wanted))


def whole_job(
    *, accepted: tuple[PricedLine, ...], left: tuple[PricedLine, ...], shares: Shares
) -> tuple[PricedLine, ...]:
    """Each accepted line's done share and what is left, added up.

    A line that comes out in quantity and unit cost as it was accepted keeps its accepted price. Lines that
    are shares of sums are done as far as the others together; an allowance covers what is left alone, and a
    minimum charge is that of the whole job.
    """
    after = {_key(line): line for line in left if not line.key.startswith(_MINIMUM)}
    in_all = _done_in_all(accepted, shares)
    for line in accepted:
        share = _share(line, shares=shares, in_all=in_all)
        if share > 0:
            after[_key(line)] = _sum(line, after.get(_key(line)), share=share)
    return tuple(after.values())


def _shares(uow: UnitOfWork, quote: QuoteRecord) -> Shares:
    steps = uow.runs.steps(run_id=quote.run)
    step = next(one for one in steps if one.stage == "takeoff" and one.alternate == quote.alternate)
    stored = None if step.digest is None else uow.results.get(digest=step.digest)
    if stored is None:
        raise QuotesApart(
            f"what is done is no longer kept for quote {quote.number}; post its estimate again and use that"
        )
    done = decode(Takeoff, Encoded(json=stored.summary, arrays=stored.arrays)).done
    return {(line.key.text(), line.kind): Decimal(line.share).quantize(_SHARE) for line in done}


def _key(line: PricedLine) -> Key:
    return line.key, line.kind


def _share(line: PricedLine, *, shares: Shares, in_all: Decimal) -> Decimal:
    if line.key.startswith(_MINIMUM):
        return Decimal(1)
    if line.key.startswith(_ALLOWANCE):
        return Decimal(0)
    of_sums = line.kind in ("overhead", "profit", "adjustment")
    return shares.get(_key(line), in_all if of_sums else Decimal(0))


def _done_in_all(accepted: tuple[PricedLine, ...], shares: Shares) -> Decimal:
    own = [line for line in accepted if line.kind not in ("overhead", "profit", "adjustment")]
    whole = sum((line.price for line in own), Decimal(0))
    done = sum((line.price * shares.get(_key(line), Decimal(0)) for line in own), Decimal(0))
    return (done / whole).quantize(_SHARE) if whole else Decimal(0)


def _sum(line: PricedLine, left: PricedLine | None, *, share: Decimal) -> PricedLine:
    """The done share rounded as the accepted line's own amounts are."""
    done = (line.quantity * share).quantize(line.quantity)
    quantity = done + (left.quantity if left else 0)
    least = Decimal(1).scaleb(int(line.quantity.as_tuple().exponent))
    if abs(quantity - line.quantity) <= least and (left is None or left.unit_cost == line.unit_cost):
        return line
    told = {**line.inputs, **(left.inputs if left else {}), "done as accepted": f"{done} {line.unit}"}
    return replace(
        line,
        quantity=quantity,
        unit_cost=left.unit_cost if left else line.unit_cost,
        price=(line.price * share).quantize(line.price) + (left.price if left else 0),
        tax=(line.tax * share).quantize(line.tax) + (left.tax if left else 0),
        inputs=told,
    )
