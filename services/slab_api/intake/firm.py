"""Versions of what a firm states about itself: merged, checked, and as the core's models."""

import re
from collections.abc import Mapping
from dataclasses import fields
from datetime import time
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from slab_api.bodies.pointers import pointer
from slab_api.intake.catalogue_faults import catalogue_faults
from slab_api.problems import ApiProblem, invalid
from slab_app.errors import Fault
from slab_core.errors import Problem
from slab_core.materials import starter as materials_starter
from slab_core.materials.choice import LISTS
from slab_core.materials.model import Catalogue
from slab_core.materials.rates_model import Rates
from slab_core.quote import starter as quote_starter
from slab_core.quote.adjustments import adjustment_problems
from slab_core.quote.labels import label_problems
from slab_core.quote.model import PriceBook
from slab_core.quote.references import reference_problems, unborne_classes
from slab_core.quote.tax_places import place_problems
from slab_core.quote.terms import term_problems
from slab_core.schedule import starter as schedule_starter
from slab_core.schedule.model import Calendar
from slab_store.firm_versions import FirmKind

Json = dict[str, Any]

_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_LIKE = {further: kind for kind, further in LISTS.items()}
_LISTED_BY = {"prices": "code", "items": "id", **dict.fromkeys(_LIKE, "id")}
_PLACE = re.compile(r"^(?P<what>.*?)(?: - at `\$(?P<path>[^`]*)`)?$", re.DOTALL)
_STEP = re.compile(r"\.(?P<name>[^.\[]+)|\[(?P<row>\d+)\]|\[\.\.\.\]")
_OWN = ("version", "source")
_MOST_TRIMMED_M = 0.3
_LEAST_RISK_LEVEL, _MOST_RISK_LEVEL = Decimal("0.5"), Decimal("0.99")
_MOST_SLAB_SD = 1.5
_CURRENCY = re.compile("[A-Z]{3}")
_WRONG_CURRENCY = "a currency is three capital letters of ISO 4217, such as USD"


def starter_document(kind: FirmKind, *, currency: str = "USD", time_zone: str = "UTC") -> Json:
    """The starter values of one kind as a document."""
    if kind == "price-book":
        return as_document(starter_price_book(currency))
    if kind == "calendar":
        return as_document(starter_calendar(time_zone))
    if kind == "crews":
        return {"crews": [], "machines": []}
    return as_document(starter_catalogue() if kind == "catalogue" else starter_rates())


def as_document(model: PriceBook | Catalogue | Rates | Calendar) -> Json:
    """A model as the document of its kind; Decimals as text, shifts by the names of their days."""
    plain: Json = msgspec.to_builtins(model)
    if isinstance(model, Calendar):
        plain["shifts"] = [
            {"weekday": _WEEKDAYS[day], "from": start.isoformat(), "to": end.isoformat()}
            for day, start, end in model.shifts
        ]
    return {name: value for name, value in plain.items() if name not in _OWN}


def merged(base: Mapping[str, Any], changes: Mapping[str, Any]) -> Json:
    """The document with the changes: objects field by field, prices and products by code, other lists whole.
    A further product of a kind is like the catalogue's usual one where it says nothing else."""
    result = dict(base)
    for name, value in sorted(changes.items(), key=lambda change: change[0] in _LIKE):
        if value is None:
            continue
        before = result.get(name, [] if name in _LISTED_BY else None)
        if isinstance(value, dict) and isinstance(before, dict):
            result[name] = merged(before, value)
        elif name in _LISTED_BY and isinstance(before, list | tuple):
            like = result.get(_LIKE.get(name, "")) or {}
            result[name] = _merged_list(list(before), value, key=_LISTED_BY[name], like=like)
        else:
            result[name] = value
    return result


def check_document(kind: FirmKind, document: Json, *, posted: Mapping[str, Any]) -> None:
    """Raises ApiProblem that names what a merged document lacks, or what cannot be.

    Places are those of the document that the client posted, where it has them.
    """
    try:
        model = as_model(kind, document, version="")
        faults = _CHECKS[type(model)](model)
        if isinstance(model, PriceBook):
            faults += _of_the_book(unborne_classes(book=model, names=posted.get("tax_rates") or ()))
        if faults:
            raise invalid(tuple(faults))
    except ApiProblem as problem:
        places = (_posted_place(fault, document=document, posted=posted) for fault in problem.faults)
        raise invalid(tuple(places)) from None


def check_said_once(posted: Mapping[str, Any]) -> None:
    """Raises ApiProblem for a price or item that one document gives twice: which of the two is meant?"""
    faults = []
    for name, key in _LISTED_BY.items():
        first: dict[str, int] = {}
        for row, item in enumerate(posted.get(name) or ()):
            own = item.get(key)
            if own in first:
                detail = f"{own!r} is given in rows {first[own] + 1} and {row + 1}; give it once"
                faults.append(Fault(detail=detail, pointer=pointer((name, row, key))))
            first.setdefault(own, row)
    if faults:
        raise invalid(tuple(faults))


def check_currency(currency: str | None) -> None:
    """Raises ApiProblem for what is not written like a currency of ISO 4217."""
    if currency is not None and not _CURRENCY.fullmatch(currency):
        raise invalid((Fault(detail=_WRONG_CURRENCY, pointer="/currency"),))


def as_model(kind: FirmKind, document: Json, *, version: str) -> PriceBook | Catalogue | Rates | Calendar:
    """The core's model of a stored document. Raises ApiProblem for one that is not complete."""
    plain = {**document, "version": version}
    if kind == "calendar":
        plain["shifts"] = [
            (
                _WEEKDAYS.index(shift["weekday"]),
                time.fromisoformat(shift["from"]),
                time.fromisoformat(shift["to"]),
            )
            for shift in document.get("shifts", [])
        ]
    try:
        return msgspec.convert(plain, _MODELS[kind], strict=False)
    except msgspec.ValidationError as problem:
        raise invalid((_fault(str(problem)),)) from None


@lru_cache(maxsize=32)
def starter_price_book(currency: str) -> PriceBook:
    """The starter prices in a currency."""
    return quote_starter.price_book(currency=currency)


@lru_cache(maxsize=1)
def starter_catalogue() -> Catalogue:
    """The starter products."""
    return materials_starter.catalogue()


@lru_cache(maxsize=1)
def starter_rates() -> Rates:
    """The starter rates."""
    return materials_starter.rates()


@lru_cache(maxsize=256)
def starter_calendar(time_zone: str) -> Calendar:
    """The starter working hours in a site's time zone."""
    return schedule_starter.calendar(time_zone=time_zone)


def _merged_list(before: list[Json], changes: list[Json], *, key: str, like: Json) -> list[Json]:
    by_key = {item.get(key): item for item in before}
    new = {field: value for field, value in like.items() if field != key}
    for change in changes:
        name = change.get(key)
        by_key[name] = merged(by_key.get(name, new), change)
    return list(by_key.values())


def _posted_place(fault: Fault, *, document: Json, posted: Mapping[str, Any]) -> Fault:
    """The fault at the row where the client gave the item that merging has put elsewhere."""
    _, name, row, *rest = (*fault.pointer.split("/"), "", "")
    key = _LISTED_BY.get(name)
    if key is None or not row.isdigit():
        return fault
    wanted = document[name][int(row)].get(key)
    for place, item in enumerate(posted.get(name) or ()):
        if item.get(key) == wanted:
            return Fault(detail=fault.detail, pointer=pointer((name, place, *filter(None, rest))))
    return fault


def _fault(text: str) -> Fault:
    found = _PLACE.match(text)
    assert found is not None
    steps = [step["name"] or step["row"] or "*" for step in _STEP.finditer(found["path"] or "")]
    return Fault(detail=found["what"], pointer=pointer(steps))


def _price_book_faults(book: PriceBook) -> list[Fault]:
    faults = []
    if book.valid_to < book.valid_from:
        faults.append(Fault(detail="valid_to is before valid_from", pointer="/valid_to"))
    if book.profit_kind == "margin" and book.profit_share >= 1:
        detail = "a margin is a share of the price and stays below 1"
        faults.append(Fault(detail=detail, pointer="/profit_share"))
    if book.risk_level is not None and not _LEAST_RISK_LEVEL <= book.risk_level <= _MOST_RISK_LEVEL:
        detail = f"a risk level is a chance from {_LEAST_RISK_LEVEL} to {_MOST_RISK_LEVEL}, such as 0.8"
        faults.append(Fault(detail=detail, pointer="/risk_level"))
    if book.price_spread > 1:
        detail = "a spread is the standard deviation of a logarithm, such as 0.03 for 3 %; at most 1"
        faults.append(Fault(detail=detail, pointer="/price_spread"))
    if book.digits > 4:
        faults.append(Fault(detail="a currency has at most 4 digits", pointer="/digits"))
    faults += _of_the_book(
        (
            *term_problems(book=book),
            *adjustment_problems(book=book),
            *place_problems(book=book),
            *label_problems(book=book),
            *reference_problems(book=book),
        )
    )
    codes = [price.code for price in book.prices]
    doubles = {code for code in codes if codes.count(code) > 1}
    faults += [Fault(detail=f"{code!r} is priced twice", pointer="/prices") for code in sorted(doubles)]
    return faults


def _of_the_book(problems: tuple[Problem, ...]) -> list[Fault]:
    """As faults of a document that is the book itself."""
    return [
        Fault(detail=problem.detail, pointer=problem.pointer.removeprefix("/price_book"))
        for problem in problems
    ]


def _nothing_is_zero(model: Catalogue | Rates, *, may_be: tuple[str, ...] = ()) -> list[Fault]:
    """Rates and sizes are divided by, so none of them is 0."""
    return [
        Fault(detail="this has to be more than 0", pointer=f"/{field.name}")
        for field in fields(model)
        if getattr(model, field.name) in (0, Decimal(0)) and field.name not in may_be
    ]


def _calendar_faults(calendar: Calendar) -> list[Fault]:
    faults = []
    try:
        ZoneInfo(calendar.time_zone)
    except (KeyError, ValueError, OSError):
        detail = f"{calendar.time_zone!r} is not an IANA time zone such as America/Denver"
        faults.append(Fault(detail=detail, pointer="/time_zone"))
    for row, (_, start, end) in enumerate(calendar.shifts):
        if end <= start:
            faults.append(Fault(detail="a shift ends after it starts", pointer=f"/shifts/{row}/to"))
    ordered = sorted(calendar.shifts)
    for (day, _, end), (other, start, _) in pairwise(ordered):
        if day == other and start < end:
            faults.append(Fault(detail=f"two shifts on {_WEEKDAYS[day]} overlap", pointer="/shifts"))
    return faults


def _rates_faults(rates: Rates) -> list[Fault]:
    may_be = (
        "grinder_set_up_mh_per_day",
        "pour_day_ph",
        "furniture_ph_per_room",
        "trip_ph",
        "scan_setup_ph",
        "scan_targets_ph",
    )
    faults = _nothing_is_zero(rates, may_be=may_be)
    for name in ("kerf_m", "scarf_overlap_m", "mitre_allowance_m"):
        if getattr(rates.trim, name) > _MOST_TRIMMED_M:
            detail = f"a cut through trim takes at most {_MOST_TRIMMED_M:g} m"
            faults.append(Fault(detail=detail, pointer=f"/trim/{name}"))
    faults += _slab_kind_faults(rates) + _cut_faults(rates)
    for spread in fields(rates.spreads):
        if getattr(rates.spreads, spread.name) > 1.0:
            detail = "a spread is the standard deviation of a logarithm, such as 0.1 for 10 %; at most 1"
            faults.append(Fault(detail=detail, pointer=f"/spreads/{spread.name}"))
    return faults


def _cut_faults(rates: Rates) -> list[Fault]:
    if rates.pre_cut_m2_per_ph <= 0:
        return []
    usual, whole = 60 * rates.cuts.usual_hours(m2=1.0), 60 / rates.pre_cut_m2_per_ph
    if usual < whole:
        return []
    detail = (
        f"the usual cuts and rips would take {usual:.1f} min a m², but pre-cutting takes {whole:.1f} min "
        "by its rate; give shorter times, fewer usual cuts or a slower rate"
    )
    return [Fault(detail=detail, pointer="/cuts")]


def _slab_kind_faults(rates: Rates) -> list[Fault]:
    faults = []
    seen = set[tuple[str, str]]()
    for row, kind in enumerate(rates.slab_kinds):
        at = f"/slab_kinds/{row}"
        if (kind.removal, kind.age) in seen:
            detail = f"slabs under {kind.removal!r} of the age {kind.age!r} are given twice; give them once"
            faults.append(Fault(detail=detail, pointer=at))
        seen.add((kind.removal, kind.age))
        for name, rate in (("bags", kind.bags), ("grinding", kind.grinding)):
            if rate.median_per_m2 <= 0 or rate.slabs <= 0:
                detail = "the median by the m² and what it is worth in slabs have to be more than 0"
                faults.append(Fault(detail=detail, pointer=f"{at}/{name}"))
            if not 0 < rate.sd <= _MOST_SLAB_SD:
                detail = f"a standard deviation of a logarithm, more than 0 and at most {_MOST_SLAB_SD:g}"
                faults.append(Fault(detail=detail, pointer=f"{at}/{name}/sd"))
            if rate.seen.weight > 0 and rate.seen.median_per_m2 <= 0:
                detail = "what jobs showed needs its median by the m², more than 0"
                faults.append(Fault(detail=detail, pointer=f"{at}/{name}/seen/median_per_m2"))
    return faults


_MODELS: dict[FirmKind, type[PriceBook | Catalogue | Rates | Calendar]] = {
    "price-book": PriceBook,
    "catalogue": Catalogue,
    "rates": Rates,
    "calendar": Calendar,
}
_CHECKS: dict[type, Any] = {
    PriceBook: _price_book_faults,
    Catalogue: catalogue_faults,
    Rates: _rates_faults,
    Calendar: _calendar_faults,
}
