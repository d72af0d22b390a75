"""The firm's store and its jobs: what a job may plan with, what its accepted quote takes, what is lacking.

A job plans with what is free when it is posted; that is copied into it. Nothing is set aside until a quote
is accepted: then it takes what is still free, and what others took first is told as lacking.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

import msgspec

from slab_app.codec import Encoded, decode
from slab_base.ids import new_id
from slab_core.job import Job
from slab_core.takeoff.firm_stock import Amount, Held, drawn, lacking
from slab_core.takeoff.model import Stock
from slab_store.quotes import QuoteRecord
from slab_store.stock import StockEntry, StockHeld
from slab_store.unit_of_work import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteStock:
    """What a quote plans to take of the firm's store, has out of it now, and cannot get."""

    planned: tuple[Amount, ...]
    held: tuple[Amount, ...]
    lacking: tuple[Amount, ...]


def free_stock(
    uow: UnitOfWork, *, products: Sequence[str], day: date, job_id: UUID | None
) -> tuple[Stock, ...]:
    """What a job that begins on that day may plan with, by product and last day of use. What accepted quotes
    of the same job hold counts as free, as a new quote would take it over."""
    own = uow.stock.held_on_site(quote=None, job=job_id)
    found: defaultdict[tuple[str, date | None], list[int]] = defaultdict(lambda: [0, 0])
    free: tuple[StockEntry | StockHeld, ...] = (*uow.stock.free(products=products, day=day), *own)
    for one in free:
        if one.product in products and (one.use_by is None or one.use_by >= day):
            sums = found[one.product, one.use_by]
            sums[0] += one.packages
            sums[1] += one.opened_thousandths
    return tuple(
        Stock(product=product, packages=whole, opened=opened / 1000, use_by=use_by, of_firm=True)
        for (product, use_by), (whole, opened) in sorted(found.items(), key=_turn)
    )


def take_promised(uow: UnitOfWork, quote: QuoteRecord, *, today: date, actor: str, trace_id: str) -> None:
    """Reserve what an accepted quote plans with, as far as it is free; the quote that it changes by order
    gives back what it held first."""
    wanted = _planned(quote)
    before = _given_up(uow, quote)
    if not wanted and not before:
        return
    uow.stock.lock()
    who = {"actor": actor, "trace_id": trace_id}
    for id, back in before:
        _move_out(uow, (back,), quote=id, sign=1, who=who)
    free = _entries(uow.stock.free(products=[one.product for one in wanted], day=_day(quote, today)))
    for one in wanted:
        _move_out(uow, drawn(wanted=one, entries=free), quote=quote.id, sign=-1, who=who)


def quote_stock(uow: UnitOfWork, quote: QuoteRecord, *, today: date) -> QuoteStock:
    """As it stands now. A quote that may still be accepted lacks what is not free today."""
    planned = _planned(quote)
    there: Iterable[Amount] = planned
    if planned and quote.state == "accepted":
        there = _amounts(uow.stock.reserved(quotes=[quote.id]))
    elif planned and quote.state in ("draft", "sent"):
        day = _day(quote, today)
        free = uow.stock.free(products=[one.product for one in planned], day=day)
        there = (*_entries(free), *_taken_over(uow, quote))
    held = _amounts(uow.stock.held(quotes=[quote.id])) if planned else ()
    return QuoteStock(planned=planned, held=held, lacking=lacking(wanted=planned, there=there))


def _planned(quote: QuoteRecord) -> tuple[Amount, ...]:
    """Quotes from before there was a store take nothing of it."""
    found = _document(quote).get("firm_stock")
    return tuple(msgspec.convert(one, Amount) for one in found["takes"]) if found else ()


def _day(quote: QuoteRecord, today: date) -> date:
    """The first day on which it is used."""
    needed = (_document(quote).get("firm_stock") or {}).get("needed_on")
    return max(today, date.fromisoformat(needed)) if needed else today


def _document(quote: QuoteRecord) -> dict[str, Any]:
    document: dict[str, Any] = msgspec.json.decode(quote.document)
    return document


def _given_up(uow: UnitOfWork, quote: QuoteRecord) -> tuple[tuple[UUID, Held], ...]:
    """What the quote that it changes by order holds, with that quote's id."""
    order = uow.change_orders.leading_to(quote=quote.id)
    return () if order is None else tuple((order.of_quote, one) for one in _taken_over(uow, quote))


def _taken_over(uow: UnitOfWork, quote: QuoteRecord) -> tuple[Held, ...]:
    """What the quote before it holds, by its change order or as long as there is none: nothing where work
    goes on, as that is on site and partly used."""
    order = uow.change_orders.leading_to(quote=quote.id)
    before = (None, quote.job_id) if order is None else (order.of_quote, None)
    held = uow.stock.held_on_site(quote=before[0], job=before[1])
    return () if not held or _goes_on(uow, run=quote.run) else _entries(held)


def _goes_on(uow: UnitOfWork, *, run: UUID) -> bool:
    kept = uow.runs.input(run_id=run)
    return kept is not None and decode(Job, Encoded(json=kept.json, arrays=kept.arrays)).followed is not None


def _entries(found: Iterable[StockEntry | StockHeld]) -> tuple[Held, ...]:
    return tuple(
        Held(
            entry=str(one.id if isinstance(one, StockEntry) else one.entry),
            product=one.product,
            packages=one.packages,
            opened_thousandths=one.opened_thousandths,
        )
        for one in found
    )


def _amounts(held: Iterable[StockHeld]) -> tuple[Amount, ...]:
    """By product."""
    sums: defaultdict[str, list[int]] = defaultdict(lambda: [0, 0])
    for one in held:
        sums[one.product][0] += one.packages
        sums[one.product][1] += one.opened_thousandths
    return tuple(
        Amount(product=product, packages=whole, opened_thousandths=opened)
        for product, (whole, opened) in sorted(sums.items())
    )


def _move_out(
    uow: UnitOfWork, amounts: Iterable[Held], *, quote: UUID, sign: int, who: dict[str, str]
) -> None:
    """Out of the entries for a quote (-1), or back into them (1)."""
    for one in amounts:
        uow.stock.move(
            id=new_id(),
            entry=UUID(one.entry),
            kind="reserved" if sign < 0 else "given-back",
            packages=sign * one.packages,
            opened_thousandths=sign * one.opened_thousandths,
            quote=quote,
            **who,
        )


def _turn(found: tuple[tuple[str, date | None], list[int]]) -> tuple[str, date]:
    (product, use_by), _ = found
    return product, use_by or date.max
