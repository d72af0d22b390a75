"""What a quick survey before tear-out is worth: the risk that the price carries now beside the risk that it
would carry afterwards, over what such a survey may show (preposterior analysis).

Only what the slab decides enters, in both the same: bags and hours, each with all that goes with it.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import sqrt
from statistics import NormalDist

import numpy as np

from slab_core.money.rounding import EXACT, from_float, round_ratio, round_to
from slab_core.numerics.grid import Floats
from slab_core.numerics.streams import stream
from slab_core.quote.adjustments import charged_for
from slab_core.quote.check import price_of
from slab_core.quote.model import PriceBook, QuickSurveyValue
from slab_core.takeoff.model import Allowance, QuickSurvey, UnitPart

OUTCOMES, WAYS = 256, 1024
"""What a survey may show, and how the slab may turn out after each of them."""

MIDDLE = Decimal("0.5")
"""A firm that states no risk level prices the median."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """Money before tax: what the price holds beyond the planned cost so that the firm's risk level is kept,
    and what the job overruns that by on average."""

    allowance: float
    overrun: float

    def both(self) -> float:
        """What not knowing costs."""
        return self.allowance + self.overrun


def survey_value(*, allowance: Allowance, book: PriceBook, seed: int) -> QuickSurveyValue:
    """Of the sizes that are offered, the survey that saves most beyond its own price."""
    found = [_valued(allowance, each, book, seed) for each in allowance.surveys]
    return max(found, key=lambda value: (EXACT.subtract(value.saves, value.survey_price), -value.readings))


def now_and_after(
    *, planned: Floats, log_sd: Floats, survey_sd: Floats, level: float, seed: int
) -> tuple[Carried, Carried]:
    """`planned` are costs at the median, shape (q,), that are lognormal by `log_sd`; the survey tells each
    logarithm with its error of `survey_sd`. The pooled outcomes are what is believed now, so both sides
    reckon with the same slabs."""
    told = log_sd**2 / np.hypot(log_sd, survey_sd)
    left = log_sd * survey_sd / np.hypot(log_sd, survey_sd)
    shown = np.stack([_normal(OUTCOMES, seed, "shown", str(k)) for k in range(len(planned))])
    ways = np.stack([_normal(WAYS, seed, "ways", str(k)) for k in range(len(planned))])
    cost = np.zeros((OUTCOMES, WAYS))
    for k, each in enumerate(planned):
        cost += each * np.exp(told[k] * shown[k])[:, None] * np.exp(left[k] * ways[k])[None, :]
    kept_now = float(np.quantile(cost, level))
    kept_after = np.quantile(cost, level, axis=1)
    base = float(planned.sum())
    return (
        Carried(allowance=kept_now - base, overrun=float(np.maximum(cost - kept_now, 0.0).mean())),
        Carried(
            allowance=float(kept_after.mean()) - base,
            overrun=float(np.maximum(cost - kept_after[:, None], 0.0).mean()),
        ),
    )


def _valued(allowance: Allowance, survey: QuickSurvey, book: PriceBook, seed: int) -> QuickSurveyValue:
    charged = charged_for(book=book)
    unit = [float(cost_of_parts(parts=each.parts, book=book) * charged) for each in allowance.quantities]
    now, after = now_and_after(
        planned=np.array([k * each.planned for k, each in zip(unit, allowance.quantities, strict=True)]),
        log_sd=np.array([each.log_sd for each in allowance.quantities]),
        survey_sd=np.array([_told_to(survey, each.code) for each in allowance.quantities]),
        level=float(MIDDLE if book.risk_level is None else book.risk_level),
        seed=seed,
    )
    price = round_ratio(
        value=cost_of_parts(parts=survey.parts, book=book) * charged,
        digits=book.digits,
        rounding=book.rounding,
    )
    saves = _money(now.both() - after.both(), book)
    return QuickSurveyValue(
        readings=survey.readings,
        survey_price=price,
        allowance_now=_money(now.allowance, book),
        overrun_now=_money(now.overrun, book),
        allowance_after=_money(after.allowance, book),
        overrun_after=_money(after.overrun, book),
        saves=saves,
        sentence=_sentence(survey.readings, price, now, after, saves, book),
    )


def _told_to(survey: QuickSurvey, code: str) -> float:
    return survey.bags_log_sd if code == "bags" else survey.grinding_log_sd


def _sentence(
    readings: int, price: Decimal, now: Carried, after: Carried, saves: Decimal, book: PriceBook
) -> str:
    def money(value: float) -> str:
        return str(_money(value, book))

    gain = EXACT.subtract(saves, price)
    short = EXACT.minus(gain)
    verdict = f"{gain} more than its price" if gain > 0 else f"{short} less than its price: it does not pay"
    return (
        f"For this slab the price carries {money(now.allowance)} {book.currency} and an overrun of "
        f"{money(now.overrun)} is to be expected beyond it; after a survey of {readings} readings for "
        f"{price} it would be {money(after.allowance)} and {money(after.overrun)}: it saves {saves}, "
        f"{verdict}."
    )


def _normal(count: int, seed: int, *names: str) -> Floats:
    """Quantiles of the standard normal in the middle of equal shares, in an order by chance."""
    normal = NormalDist()
    values = np.array([normal.inv_cdf((k + 0.5) / count) for k in range(count)])
    values *= 1.0 / sqrt(float(np.mean(values**2)))
    return stream(seed, "survey", *names).permutation(values)


def cost_of_parts(*, parts: tuple[UnitPart, ...], book: PriceBook) -> Fraction:
    """What they cost the firm, exactly; every one has a price in the book."""
    prices = price_of(book=book)
    return sum(
        (Fraction(prices[part.price_code].amount) * Fraction(part.quantity) for part in parts), Fraction(0)
    )


def _money(value: float, book: PriceBook) -> Decimal:
    exact = from_float(value=value, places=book.digits + 4)
    return round_to(amount=exact, digits=book.digits, rounding=book.rounding)
