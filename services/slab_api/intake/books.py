"""Which versions of the firm's books an estimate is computed with."""

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from slab_api.intake import firm
from slab_api.intake.reader import Reader
from slab_api.schemas.job import JobParts
from slab_core.materials.model import Catalogue
from slab_core.materials.rates_model import Rates
from slab_core.quote.model import PriceBook
from slab_core.schedule.model import Calendar
from slab_store.firm_versions import FirmKind, FirmVersion
from slab_store.unit_of_work import UnitOfWork

DEFAULT_CURRENCY = "USD"
_FIELDS: dict[FirmKind, str] = {
    "price-book": "price_book",
    "catalogue": "catalogue",
    "rates": "rates",
    "calendar": "calendar",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """The four books, each one immutable version."""

    price_book: PriceBook
    catalogue: Catalogue
    rates: Rates
    calendar: Calendar


def choose_books(uow: UnitOfWork, *, job: JobParts, day: date, reader: Reader) -> Books:
    """The versions that the job names, else the newest valid ones; the starters of a firm that has none."""
    named = {kind: getattr(job, name) for kind, name in _FIELDS.items()}
    newest = {version.kind: version for version in uow.firm_versions.newest(day=day)}
    chosen = {kind: version for kind, version in newest.items() if version.counts_on(day)}
    wanted = tuple(id for id in named.values() if id is not None)
    found = {version.id: version for version in uow.firm_versions.named(ids=wanted)}
    for kind, id in named.items():
        if id is not None:
            version = _named(found, kind=kind, id=id, day=day, reader=reader)
            chosen = {**chosen, kind: version} if version else chosen
    if "price-book" in newest and "price-book" not in chosen and job.price_book is None:
        _fault_outside(newest["price-book"], day=day, reader=reader)
    books = Books(
        price_book=_price_book(chosen.get("price-book"), currency=job.currency),
        catalogue=_model(chosen.get("catalogue")) or firm.starter_catalogue(),
        rates=_model(chosen.get("rates")) or firm.starter_rates(),
        calendar=_model(chosen.get("calendar")) or firm.starter_calendar(job.site.time_zone),
    )
    if job.currency and books.price_book.currency != job.currency:
        reader.fault(
            f"the price book {books.price_book.version} is in {books.price_book.currency}", ("currency",)
        )
    return books


def _named(
    found: dict[UUID, FirmVersion], *, kind: FirmKind, id: UUID, day: date, reader: Reader
) -> FirmVersion | None:
    version = found.get(id)
    if version is None or version.kind != kind:
        reader.fault(f"there is no {kind} version with this id", (_FIELDS[kind],))
        return None
    if not version.counts_on(day):
        starts, ends = version.valid_from or day, version.valid_to or day
        reader.fault(f"this price book is valid from {starts} to {ends}, not on {day}", (_FIELDS[kind],))
    return version


def _fault_outside(last: FirmVersion, *, day: date, reader: Reader) -> None:
    """A firm with prices of its own is never quoted at the starter's because its books end too soon."""
    reader.fault(
        f"no price book of the firm is valid on {day}; the last one made is valid from {last.valid_from} "
        f"to {last.valid_to}: choose another pricing_date, or post a price book that is valid then",
        ("options", "pricing_date"),
    )


def _price_book(version: FirmVersion | None, *, currency: str | None) -> PriceBook:
    """The newest book, unless it is only there by default and in a currency that the job is not in."""
    book: PriceBook | None = _model(version)
    return book or firm.starter_price_book(currency or DEFAULT_CURRENCY)


def _model(version: FirmVersion | None) -> Any:
    return version and firm.as_model(version.kind, version.document, version=str(version.id))
