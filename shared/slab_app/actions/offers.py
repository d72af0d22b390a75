"""Sending quotes to customers, and what becomes of them.

A quote is a draft until it is sent. Then it can be read and answered under a link of its own until it
expires. An accepted quote stands for good: what changes afterwards is a change order, which leads to another
quote.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from slab_app.actions.promised_stock import take_promised
from slab_app.actions.quotes import get_quote
from slab_app.actor import Actor
from slab_app.errors import NotFound, QuoteExpired, QuoteNotOpen
from slab_app.keys import OFFER, KeyText, new_key
from slab_store.change_orders import ChangeOrderRecord
from slab_store.offers import Offer
from slab_store.quotes import QuoteItem, QuoteRecord
from slab_store.unit_of_work import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A quote as its customer finds it, and the change order that leads to it."""

    quote: QuoteRecord
    offer: Offer
    change: ChangeOrderRecord | None


def send_quote(
    uow: UnitOfWork, actor: Actor, *, id: UUID, last_day: date | None, now: datetime
) -> tuple[QuoteRecord, Offer, KeyText]:
    """A new link to the quote, good until the end of `last_day` at the site (else the quote's own last day).

    Links sent before are closed. Quotes of other estimates of the job that were sent and not answered are
    superseded; those of the same estimate stay, as its alternates.

    Raises NotFound, QuoteNotOpen, QuoteExpired.
    """
    quote = get_quote(uow, actor, id=id)
    rivals = uow.quotes.locked_rivals(run=quote.run, job=quote.job_id)
    quote = get_quote(uow, actor, id=id)
    if quote.state not in ("draft", "sent"):
        raise QuoteNotOpen(
            f"quote {quote.number} is {quote.state}; only a draft or a sent quote can be sent: post another "
            "estimate of the job, and send its quote"
        )
    _check_not_promised(uow, quote, rivals)
    until = _end_of(quote, last_day)
    if until <= now:
        raise QuoteExpired(
            f"quote {quote.number} would be valid until {until.isoformat()}, which is past; give a "
            "later last day in valid_until"
        )
    key = new_key(organisation=uow.organisation, prefix=OFFER)
    replaced = [one.id for one in rivals if one.state == "sent" and one.run != quote.run]
    uow.quotes.set_state(ids=replaced, state="superseded")
    uow.quotes.set_state(ids=[id], state="sent")
    uow.offers.add(
        id=key.key_id,
        quote=id,
        secret_sha256=key.digest(),
        sent_at=now,
        valid_until=until,
        actor=actor.name,
        trace_id=actor.trace_id,
    )
    uow.offers.withdraw(quotes=[id, *replaced], now=now, but=key.key_id)
    offer = uow.offers.get(id=key.key_id)
    assert offer is not None
    return get_quote(uow, actor, id=id), offer, key


def read_offer(uow: UnitOfWork, *, key: KeyText) -> Offered:
    """What the link leads to. Raises NotFound for an unknown, wrong or withdrawn one."""
    offer = uow.offers.get(id=key.key_id)
    opens = key.opens(offer.secret_sha256 if offer else bytes(32))
    quote = uow.quotes.get(id=offer.quote) if offer else None
    if offer is None or quote is None or not opens or offer.withdrawn_at is not None:
        raise NotFound("this link leads to no offer: it is mistyped, or was replaced by a newer one")
    return _offered(uow, quote, offer)


def offers_beside(uow: UnitOfWork, found: Offered) -> tuple[Offered, ...]:
    """The other alternates of the same estimate that were sent too and are open, or that the customer took;
    by their numbers."""
    totals = sorted(uow.quotes.totals(run=found.quote.run), key=lambda quote: quote.number)
    others = (uow.quotes.get(id=total.id) for total in totals if total.id != found.quote.id)
    beside = []
    for quote in others:
        if quote is None or quote.state not in ("sent", "accepted"):
            continue
        sent = [offer for offer in uow.offers.of_quote(quote=quote.id) if offer.withdrawn_at is None]
        beside += [_offered(uow, quote, offer) for offer in sent[-1:]]
    return tuple(beside)


def answer_offer(
    uow: UnitOfWork,
    *,
    key: KeyText,
    answer: str,
    name: str,
    note: str | None,
    now: datetime,
    trace_id: str = "",
    number: int | None = None,
) -> Offered:
    """Accept or decline the link's own quote, or the one of this number beside it; the same answer by the
    same name again changes nothing. Commits.

    With an acceptance the other open quotes of the job, alternates among them, are superseded, and what the
    quote counts on of the firm's store is reserved; the link that was used goes on to show what was taken.
    Raises NotFound, QuoteNotOpen, QuoteExpired.
    """
    own = read_offer(uow, key=key)
    rivals = uow.quotes.locked_rivals(run=own.quote.run, job=own.quote.job_id)
    own = read_offer(uow, key=key)
    quote, offer = (found := _meant(uow, own, number)).quote, found.offer
    if offer.answer is not None:
        if (offer.answer, offer.answered_name, offer.answered_note) == (answer, name, note):
            return own
        raise QuoteNotOpen(
            f"this offer was {offer.answer} by {offer.answered_name} already; ask for another one"
        )
    if quote.state != "sent":
        raise QuoteNotOpen(f"quote {quote.number} is {quote.state}; it can no longer be answered")
    if now >= offer.valid_until:
        raise QuoteExpired(f"this offer was valid until {offer.valid_until.isoformat()}; ask for a new one")
    written = uow.offers.answer(id=offer.id, answer=answer, name=name, note=note, now=now)
    assert written is not None  # the quote's row is held, so nobody else can have answered
    uow.quotes.set_state(ids=[quote.id], state=answer)
    if answer == "accepted":
        others = [one.id for one in rivals if one.id != quote.id and one.state in ("draft", "sent")]
        uow.quotes.set_state(ids=others, state="superseded")
        uow.offers.withdraw(quotes=others, now=now, but=own.offer.id)
        take_promised(uow, quote, today=now.date(), actor=f"offer:{offer.id}", trace_id=trace_id)
    answered = read_offer(uow, key=key)
    uow.commit()
    return answered


def _meant(uow: UnitOfWork, own: Offered, number: int | None) -> Offered:
    """The quote that is answered. Raises NotFound that names what there is."""
    if number is None or number == own.quote.number:
        return own
    beside = offers_beside(uow, own)
    for found in beside:
        if found.quote.number == number:
            return found
    known = ", ".join(str(each.quote.number) for each in (own, *beside))
    raise NotFound(f"no open quote {number} stands beside this one; there are {known}")


def shown_state(state: str, offers: tuple[Offer, ...], *, now: datetime) -> str:
    """The state with what only time makes of it: a sent quote expires when its last link does."""
    open_until = [offer.valid_until for offer in offers if offer.withdrawn_at is None]
    return "expired" if state == "sent" and open_until and now >= max(open_until) else state


def _offered(uow: UnitOfWork, quote: QuoteRecord, offer: Offer) -> Offered:
    return Offered(quote=quote, offer=offer, change=uow.change_orders.leading_to(quote=quote.id))


def _check_not_promised(uow: UnitOfWork, quote: QuoteRecord, rivals: tuple[QuoteItem, ...]) -> None:
    """A job is promised once; afterwards a quote only goes out as what a change order leads to."""
    accepted = [one for one in rivals if one.state == "accepted"]
    if accepted and uow.change_orders.leading_to(quote=quote.id) is None:
        numbers = ", ".join(str(one.number) for one in accepted)
        raise QuoteNotOpen(
            f"quote {numbers} of this job is accepted already: make a change order from it to this one first"
        )


def _end_of(quote: QuoteRecord, last_day: date | None) -> datetime:
    """Midnight after the last day, at the site."""
    document = msgspec.json.decode(quote.document)
    day = last_day or date.fromisoformat(document["quote"]["expires"])
    zone = ZoneInfo(document["job"]["site"]["time_zone"])
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)
