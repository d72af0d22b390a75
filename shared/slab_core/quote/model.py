"""Prices and the quote. Every amount is a Decimal in the price book's currency."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Literal

from slab_core.errors import Problem
from slab_core.money.rounding import Rounding
from slab_core.takeoff.model import LineKey, LineKind, Trace

ProfitKind = Literal["markup", "margin"]
CapBasis = Literal["none", "p95", "share"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What one `unit` costs the firm or is charged at, and the class of tax on it."""

    code: str
    amount: Decimal
    unit: str
    tax_class: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressDraw:
    """The share of the total that is due at a milestone, such as start, after correction or hand-over."""

    milestone: str
    share: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Discount:
    """A share of all prices, before tax and before any discount, that is taken off; the customer reads
    `what`."""

    code: str
    what: str
    share: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class JobDiscount(Discount):
    """A discount of one job, as a share or as an amount in the book's currency. Its code is what the customer
    reads; the `reason` is for the firm alone."""

    reason: str
    amount: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxPlace:
    """Tax rates of one place by class of line, where they are not those of the book."""

    place: str
    rates: dict[str, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBook:
    """One immutable version of the firm's prices.

    `profit` is a share: as markup, of the cost and overhead; as margin, of the price. `tax_rates` by
    class of line. `digits` of the currency. `price_spread` is the standard deviation of the logarithm of what
    material will cost when it is bought (from memory). With `risk_level`, a chance such as 0.8, an allowance
    is put into the price so that the cost keeps within it so often.

    `deposit_share` is due at signing, the rest by `progress_draws`; together their shares are 1, or there are
    none. `not_to_exceed_basis` p95 states what the job keeps to in 95 of 100 cases as a total not to be
    exceeded, share the quote's total and `not_to_exceed_share` of it. `standby_rate` is charged for each day
    that the crew stands by, without tax.

    `warranty_share` of the cost is put by for call-backs, as a line that bears overhead and profit.
    `discounts` are taken off before the minimum charge is looked at, so no job goes below that. `tax_places`
    have other rates than `tax_rates`. Suppliers are paid `supplier_days` after they deliver, or on the next
    day that the firm works.

    `job_discount_share` is the most of all prices that one job may be let off beside `discounts`.
    `alternate_labels` are what customers read for ways of correction, such as plane or level.
    With `stock_priced` customers pay for what comes from stock what buying it again would cost; else
    it is free.
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
    price_spread: Decimal = Decimal("0.03")
    risk_level: Decimal | None = None
    deposit_share: Decimal = Decimal(0)
    progress_draws: tuple[ProgressDraw, ...] = ()
    not_to_exceed_basis: CapBasis = "none"
    not_to_exceed_share: Decimal = Decimal(0)
    standby_rate: Decimal | None = None
    warranty_share: Decimal = Decimal(0)
    discounts: tuple[Discount, ...] = ()
    tax_places: tuple[TaxPlace, ...] = ()
    supplier_days: int = 0
    job_discount_share: Decimal = Decimal(0)
    alternate_labels: dict[str, str] = field(default_factory=dict)
    stock_priced: bool = False


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
class LineSpread:
    """What a line's cost keeps to with a chance of 50, 80 and 95 %."""

    key: LineKey
    kind: LineKind
    p50: Decimal
    p80: Decimal
    p95: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Contingency:
    """What the job may come to, from `draws` ways that slab, yields, rates and prices may turn out; the plan
    is held fixed.

    `cost_p50` and so on are of the cost alone, `p50` and so on what the customer would pay, overhead, profit,
    minimum charge and tax included and no allowance. `within` is the chance that the cost keeps within what
    the quote reckons with, `allowance` the cost put into it for that, and `sentence` says so. `lines` are
    those that vary, the ones that matter most first.
    """

    draws: int
    cost_p50: Decimal
    cost_p80: Decimal
    cost_p95: Decimal
    p50: Decimal
    p80: Decimal
    p95: Decimal
    within: float
    allowance: Decimal
    sentence: str
    lines: tuple[LineSpread, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Payment:
    """What is due at a milestone: its share of the total, and the amount, tax included. `due_minute` is when
    the estimate's plan reaches it, in UTC; None at signing and where the plan does not tell."""

    milestone: str
    share: Decimal
    amount: Decimal
    due_minute: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What is agreed beside the lines. `payments` add up to the quote's total exactly, or there are none;
    `not_to_exceed` has tax in it; `standby_rate` is by the crew's day, before tax. Null where not agreed."""

    payments: tuple[Payment, ...] = ()
    not_to_exceed: Decimal | None = None
    standby_rate: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitPrice:
    """What one unit more or less of an allowed quantity changes the quote by: `price` before tax, and `tax`.

    `allowed` is what the lines count; the slab takes no more than `kept_to_in_80` in 80 of 100 cases.
    """

    code: str
    what: str
    unit: str
    allowed: Decimal
    kept_to_in_80: Decimal
    kept_to_in_95: Decimal
    cost: Decimal
    price: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickSurveyValue:
    """What a survey of so many readings before tear-out would save against its price; amounts before tax.

    `allowance_now` is what the price has to hold beyond the planned cost of what only the slab tells, to keep
    the firm's risk level, `overrun_now` what the job exceeds that by on average; `..._after` are to be
    expected with the survey. `saves` is the sum of both now less the sum of both after.
    """

    readings: int
    survey_price: Decimal
    allowance_now: Decimal
    overrun_now: Decimal
    allowance_after: Decimal
    overrun_after: Decimal
    saves: Decimal
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeTearOut:
    """What is agreed of a slab that nobody has seen: under which floor and of which age it is, and by how
    many of the firm's own jobs its bags were foretold."""

    removal: str
    age: str
    jobs: int
    unit_prices: tuple[UnitPrice, ...]
    quick_survey: QuickSurveyValue
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierPayment:
    """What a product costs the firm, and the days by which it is ordered and its supplier is paid.

    `agreed_on` is the day that the supplier's terms come to; where the firm does not work on it, `due_on` is
    the next day that it does, and `moved` says so. Earlier results lack both.
    """

    product: str
    what: str
    amount: Decimal
    order_by: date
    due_on: date
    agreed_on: date | None = None
    moved: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectionPrice:
    """What boards and laying of the whole job cost with one floor laid in a direction and the others as they
    are. `cartons` are those to order. Hours of laying are those of pre-cutting, which cuts and rips make more
    or fewer, and of the spreads, which go by area. `boards_cost` has those from stock in it where the book
    charges them. `more_cost` is what it costs more than the direction that was taken, or less, and
    `more_price` what that adds to the subtotal, an allowance and a minimum charge apart."""

    direction_deg: float
    cartons: Decimal
    laying_ph: Decimal
    boards_cost: Decimal
    laying_cost: Decimal
    cost: Decimal
    more_cost: Decimal
    more_price: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectionPrices:
    """Every direction in which a floor's layout was tried, the one that was taken first, and why it was.
    The others were looked at for a shorter time, so a few boards less may do."""

    floor: str
    chosen_by: Literal["", "given", "narrow-rips", "waste", "equal"]
    choices: tuple[DirectionPrice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """Result of the quote stage. The lines' prices and taxes add up to the totals exactly. The customer
    reads `label` for the alternate. `before_tear_out` is None where the slab was surveyed, `tax_place` empty
    where the book's own rates hold.
    For the firm alone are `supplier_payments`, what it pays for products and when, and `directions`, what
    boards cost in the directions that were tried; earlier results lack them."""

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
    contingency: Contingency | None = None
    terms: Terms | None = None
    before_tear_out: BeforeTearOut | None = None
    tax_place: str = ""
    supplier_payments: tuple[SupplierPayment, ...] = ()
    label: str = ""
    directions: tuple[DirectionPrices, ...] = ()
