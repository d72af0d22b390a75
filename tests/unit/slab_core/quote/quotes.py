"""Takeoffs, plans and price books to price."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np

from slab_core.materials import starter as materials
from slab_core.materials.rates_model import Rates
from slab_core.quote.change_words import PricedLine
from slab_core.quote.model import JobDiscount, Price, PriceBook, Quote
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from slab_core.schedule.model import Schedule
from slab_core.takeoff.model import (
    Allowance,
    AllowedQuantity,
    LineKey,
    LineKind,
    Quantiles,
    QuantityDraws,
    QuickSurvey,
    Takeoff,
    TakeoffLine,
    Trace,
    UnitPart,
)

DAY = date(2026, 3, 2)
PRICES = (
    Price(code="labour", amount=Decimal("50"), unit="PH", tax_class="labour"),
    Price(code="bag", amount=Decimal("38"), unit="bag", tax_class="material"),
)
COUNT = 10_000


def line(
    code: str,
    order: float,
    *,
    price_code: str = "",
    unit: str = "PH",
    kind: LineKind = "labour",
    package: str = "",
) -> TakeoffLine:
    """A line with a trace of its own."""
    return TakeoffLine(
        key=LineKey(code=code, floor="living", phase=1),
        kind=kind,
        what=code.capitalize(),
        net=order,
        waste_share=0.0,
        order=order,
        unit=unit,
        price_code=price_code or code,
        trace=Trace(stage="takeoff", formula="area / rate", inputs={"area": "28 m²"}),
        package=package,
    )


def takeoff(*lines: TakeoffLine) -> Takeoff:
    """A takeoff of these lines."""
    return Takeoff(alternate="plane", lines=lines, tasks=(), floor_m2=28.0, order_weight_kg=0.0)


def plan(*, site_days: int = 0, pour_days: int = 0) -> Schedule:
    """A plan of which only the days count."""
    return Schedule(
        alternate="plane",
        activities=(),
        placed=(),
        start_minute=0,
        finish_minute=0,
        finish_bound_minute=0,
        status="optimal",
        working_days=site_days,
        pour_days=pour_days,
        site_days=site_days,
        person_hours=0.0,
        critical=(),
    )


def plain_book(*prices: Price, **changes: object) -> PriceBook:
    """A book without overhead, profit, tax or minimum, unless `changes` say so."""
    book = replace(
        price_book(),
        overhead_share=Decimal(0),
        profit_share=Decimal(0),
        minimum_charge=Decimal(0),
        tax_rates={
            "labour": Decimal(0),
            "material": Decimal(0),
            "equipment": Decimal(0),
            "disposal": Decimal(0),
        },
    )
    if prices:
        book = replace(book, prices=prices)
    return replace(book, **changes)  # type: ignore[arg-type]  # fields of the book by name


def settled_book(**changes: object) -> PriceBook:
    """A book of two prices that do not scatter."""
    return plain_book(*PRICES, **({"price_spread": Decimal(0)} | changes))


def varying_takeoff(*, sd: float = 0.2) -> Takeoff:
    """Ten hours that scatter by a known amount, and ten bags that do not."""
    hours = line("clean", 10.0, price_code="labour")
    bags = line("bag", 10.0, kind="material", unit="m³", package="bag")
    rng = np.random.default_rng(5)
    drawn = (10.0 * np.exp(sd * rng.standard_normal((1, COUNT)))).astype(np.float32)
    draws = QuantityDraws(seed=3, line=np.array([0], dtype=np.int32), quantity=drawn)
    return replace(takeoff(hours, bags), draws=draws)


def quote(
    *lines: TakeoffLine,
    book: PriceBook,
    day: date = DAY,
    site_days: int = 0,
    rates: Rates | None = None,
    discounts: tuple[JobDiscount, ...] = (),
) -> Quote:
    """The quote of some lines."""
    return price(
        takeoff=takeoff(*lines),
        schedule=plan(site_days=site_days, pour_days=min(1, site_days)),
        price_book=book,
        pricing_date=day,
        rates=rates,
        discounts=discounts,
    )


def starter_rates() -> Rates:
    """The firm's starter rates."""
    return materials.rates()


BAG_PARTS = (UnitPart(price_code="bag", quantity=1.0), UnitPart(price_code="labour", quantity=0.5))


def quick_survey(readings: int, log_sd: float, hours: float) -> QuickSurvey:
    return QuickSurvey(
        readings=readings,
        bags_log_sd=log_sd,
        grinding_log_sd=log_sd,
        parts=(UnitPart(price_code="labour", quantity=hours),),
    )


def unseen_takeoff(*, log_sd: float = 0.5, surveys: tuple[QuickSurvey, ...] = ()) -> Takeoff:
    bags = AllowedQuantity(
        code="bags", what="Bags", unit="bag", planned=10.0,
        by_chance=Quantiles(p50=10.0, p80=15.0, p95=23.0), log_sd=log_sd, parts=BAG_PARTS,
    )  # fmt: skip
    allowance = Allowance(
        removal="carpet", age="old", area_m2=30.0, jobs=0, prior_slabs=4.0, quantities=(bags,),
        surveys=surveys or (quick_survey(12, 0.35, 2.0),),
    )  # fmt: skip
    return replace(varying_takeoff(), allowance=allowance)


def shown(made: Quote) -> tuple[PricedLine, ...]:
    """The lines of a quote as a change order reads them."""
    return tuple(
        PricedLine(
            key=each.key.text(), kind=each.kind, what=each.what, quantity=each.quantity, unit=each.unit,
            unit_cost=each.unit_cost, price=each.price, tax=each.tax, inputs=each.trace.inputs,
        )
        for each in made.lines
    )  # fmt: skip
