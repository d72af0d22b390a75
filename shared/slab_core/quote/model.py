"""Prices and the quote. Every amount is a Decimal in the price book's currency."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from slab_core.errors import Problem
from slab_core.money.rounding import Rounding
from slab_core.takeoff.model import LineKey, LineKind, Trace

ProfitKind = Literal["markup", "margin"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What one `unit` costs the firm or is charged at, and the class of tax on it."""

    code: str
    amount: Decimal
    unit: str
    tax_class: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBook:
    """One immutable version of the firm's prices.

    `profit` is a share: as markup, of the cost and overhead; as margin, of the price. `tax_rates` by
    class of line. `digits` of the currency.
    """

    version: str
    currency: str
    valid_from: date
    valid_to: date
    prices: tuple[Price, ...]
    overhead_share: Decimal
    profit_kind: ProfitKind
    profit_share: Decimal
    minimum_charge: Decimal
    tax_rates: dict[str, Decimal]
    digits: int = 2
    rounding: Rounding = "half-up"
    valid_days: int = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteLine:
    """One line. `cost` = quantity x unit cost, rounded; `price` is what the customer pays before tax."""

    key: LineKey
    kind: LineKind | Literal["overhead", "profit", "adjustment"]
    what: str
    quantity: Decimal
    unit: str
    unit_cost: Decimal
    cost: Decimal
    price: Decimal
    tax_class: str
    tax: Decimal
    trace: Trace


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """Result of the quote stage. The lines' prices and taxes add up to the totals exactly."""

    alternate: str
    currency: str
    price_book: str
    pricing_date: date
    expires: date
    lines: tuple[QuoteLine, ...]
    cost: Decimal
    overhead: Decimal
    profit: Decimal
    subtotal: Decimal
    tax: Decimal
    total: Decimal
    rounding: str
    problems: tuple[Problem, ...] = ()
