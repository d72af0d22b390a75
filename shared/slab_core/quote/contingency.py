"""What a job may come to, from the draws of its quantities and of prices, and the allowance for it."""

from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from slab_core.money.rounding import EXACT, add_up, from_float, round_to
from slab_core.numerics.grid import Floats
from slab_core.numerics.streams import stream
from slab_core.quote.adjustments import discounted, let_off
from slab_core.quote.check import labour_tax
from slab_core.quote.model import Contingency, LineSpread, Price, PriceBook, QuoteLine
from slab_core.quote.totals import on_top
from slab_core.takeoff.model import LineKey, QuantityDraws, TakeoffLine, Trace

CHANCES = (0.5, 0.8, 0.95)
ALLOWANCE = LineKey(code="allowance")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CostDraws:
    """Costs that may come true: `varying` shape (m, n) of the lines at `rows`, `fixed` of every line (its
    planned cost), shape (k,), and the sum of all, shape (n,)."""

    lines: tuple[TakeoffLine, ...]
    rows: NDArray[np.int64]
    varying: Floats
    fixed: Floats
    total: Floats

    def keeping_within(self, cost: Decimal, *, step: float) -> float:
        """The share of draws that cost no more, to half a rounding step."""
        return float(np.mean(self.total <= float(cost) + 0.5 * step))


def cost_draws(
    *,
    lines: tuple[TakeoffLine, ...],
    further: tuple[TakeoffLine, ...],
    draws: QuantityDraws,
    prices: dict[str, Price],
    book: PriceBook,
) -> CostDraws:
    """Draws of quantities times draws of prices; `further` lines, such as trips, are as planned."""
    every = (*lines, *further)
    unit = np.array([float(prices[line.price_code].amount) for line in every])
    fixed = unit * np.array([line.order for line in every])
    quantity = {int(row): draws.quantity[k] for k, row in enumerate(draws.line)}
    count = draws.quantity.shape[1]
    dear = _price_factors(lines=every, seed=draws.seed, count=count, sd=float(book.price_spread))
    rows = [k for k, line in enumerate(every) if k in quantity or line.price_code in dear]
    varying = np.empty((len(rows), count))
    for at, k in enumerate(rows):
        amount = quantity[k] if k in quantity else every[k].order
        varying[at] = amount * unit[k] * dear.get(every[k].price_code, 1.0)
    rest = float(np.delete(fixed, rows).sum())
    return CostDraws(
        lines=every,
        rows=np.array(rows, dtype=np.int64),
        varying=varying,
        fixed=fixed,
        total=varying.sum(axis=0) + rest,
    )


def contingency(
    *,
    costs: CostDraws,
    book: PriceBook,
    prices: dict[str, Price],
    planned: Decimal,
    allowance: Decimal,
    seen: bool = True,
) -> Contingency:
    """`planned` is the cost of all lines, `allowance` what the quote reckons with beyond it; `seen` says that
    the slab was surveyed."""
    cost = [_money(value, book) for value in _quantiles(costs.total)]
    paid = [_money(value, book) for value in _quantiles(_paid(costs, book, prices, planned))]
    within = costs.keeping_within(EXACT.add(planned, allowance), step=10.0**-book.digits)
    return Contingency(
        draws=len(costs.total),
        cost_p50=cost[0], cost_p80=cost[1], cost_p95=cost[2],
        p50=paid[0], p80=paid[1], p95=paid[2],
        within=within,
        allowance=allowance,
        sentence=_sentence(within=within, allowance=allowance, book=book, seen=seen),
        lines=_line_spreads(costs, book),
    )  # fmt: skip


def allowance_of(*, costs: CostDraws, planned: Decimal, book: PriceBook) -> Decimal:
    """What the cost at the book's risk level is above the planned one; 0 without a level."""
    if book.risk_level is None:
        return _money(0.0, book)
    wanted = float(np.quantile(costs.total, float(book.risk_level), method="inverted_cdf"))
    return max(_money(0.0, book), EXACT.subtract(_money(wanted, book), planned))


def allowance_line(*, amount: Decimal, book: PriceBook, tax_class: str) -> tuple[QuoteLine, ...]:
    """The allowance as a line that bears overhead and profit as any other cost; none where it is 0."""
    if not amount:
        return ()
    nothing = _money(0.0, book)
    formula = (
        f"cost kept to in {book.risk_level} of all draws of slab, yields, rates and prices - planned cost"
    )
    return (
        QuoteLine(
            key=ALLOWANCE, kind="adjustment", what="Allowance for what is not known yet", quantity=Decimal(1),
            unit="each", unit_cost=amount, cost=amount, price=nothing, tax_class=tax_class, tax=nothing,
            trace=Trace(stage="quote", formula=formula, inputs={"risk level": str(book.risk_level)}),
        ),
    )  # fmt: skip


def _price_factors(*, lines: tuple[TakeoffLine, ...], seed: int, count: int, sd: float) -> dict[str, Floats]:
    """Lognormal factors with the median 1, one for each material."""
    codes = sorted({line.price_code for line in lines if line.kind == "material"}) if sd > 0.0 else []
    return {code: np.exp(sd * stream(seed, "price", code).standard_normal(count)) for code in codes}


def _paid(costs: CostDraws, book: PriceBook, prices: dict[str, Price], planned: Decimal) -> Floats:
    """What the customer would pay, to the float's last digits; the reserve for call-backs is as planned."""
    charged = float(on_top(book=book) * discounted(book=book))
    tax = np.array([float(book.tax_rates[prices[line.price_code].tax_class]) for line in costs.lines])
    own = float(labour_tax(book=book))
    reserve = float(EXACT.multiply(planned, book.warranty_share))
    rest = np.delete(costs.fixed * tax, costs.rows).sum() + reserve * own
    off = float(let_off(book=book))
    full = (costs.total + reserve) * charged
    before = full - off
    kept = np.clip(np.divide(before, full, out=np.ones_like(full), where=full > 0.0), 0.0, None)
    taxed = (tax[costs.rows] @ costs.varying + rest) * charged * kept
    rise = np.maximum(float(book.minimum_charge) - before, 0.0)
    return np.asarray(before + rise + taxed + rise * own)


def _line_spreads(costs: CostDraws, book: PriceBook) -> tuple[LineSpread, ...]:
    if not len(costs.rows):
        return ()
    at = np.quantile(costs.varying, CHANCES, axis=1, method="inverted_cdf").T.tolist()
    found = []
    for row, (p50, p80, p95) in zip(costs.rows.tolist(), at, strict=True):
        line = costs.lines[row]
        spread = LineSpread(
            key=line.key, kind=line.kind, p50=_money(p50, book), p80=_money(p80, book), p95=_money(p95, book)
        )
        found.append((p95 - p50, spread))
    return tuple(spread for _, spread in sorted(found, key=lambda pair: (-pair[0], pair[1].key.text())))


def _sentence(*, within: float, allowance: Decimal, book: PriceBook, seen: bool) -> str:
    ways = f"in {round(100 * within)} of 100 ways that slab, yields, rates and prices may turn out"
    held = "the plan is held fixed" if seen else "nobody has seen the slab, so no plan is held"
    if not allowance:
        return f"No allowance is in the price: the cost keeps within it {ways}; {held}."
    return (
        f"The price holds an allowance of {allowance} {book.currency} at cost: with it the cost keeps within "
        f"the price {ways}; {held}."
    )


def _quantiles(values: Floats) -> list[float]:
    return list(np.quantile(values, CHANCES, method="inverted_cdf").tolist())


def _money(value: float, book: PriceBook) -> Decimal:
    exact = from_float(value=float(value), places=book.digits + 4)
    return round_to(amount=exact, digits=book.digits, rounding=book.rounding)


def planned_cost(lines: tuple[QuoteLine, ...]) -> Decimal:
    """Cost of all lines."""
    return add_up(amounts=tuple(line.cost for line in lines))
