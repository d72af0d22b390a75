"""What a job takes from the firm's store, and what the store has of it when it is promised.

Nothing here is drawn or priced: whole packages and shares of opened ones, product by product.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from slab_core.takeoff.model import Stock
from slab_core.takeoff.stock import FROM_STOCK, usable

_SLACK = 1e-4
"""Shares of packages come from the text of a trace, which has six digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """Of one product: unopened packages, and thousandths of a package that opened ones still hold."""

    product: str
    packages: int
    opened_thousandths: int

    @property
    def is_none(self) -> bool:
        """Whether there is nothing of it."""
        return self.packages == 0 and self.opened_thousandths == 0


def taken_from_firm(
    *, traces: Iterable[tuple[str, Mapping[str, str]]], stock: tuple[Stock, ...], on: date
) -> tuple[Amount, ...]:
    """What a job's lines take of the firm's part of its stock, by product; nothing of what is not `of_firm`.

    `traces` are the product and the inputs of the trace of every line. Unopened packages on site are used
    before those of the store. Opened ones are used together or not at all, and only once all unopened ones
    are taken: so a sum beyond the unopened ones tells that they are.
    """
    sums: defaultdict[str, float] = defaultdict(float)
    for product, inputs in traces:
        if FROM_STOCK in inputs:
            sums[product] += float(inputs[FROM_STOCK].split()[0])
    there = usable(stock, on=on)
    found = (_taken(product, total, there) for product, total in sorted(sums.items()))
    return tuple(amount for amount in found if not amount.is_none)


def _taken(product: str, total: float, there: tuple[Stock, ...]) -> Amount:
    mine = [one for one in there if one.product == product]
    on_site = sum(one.packages for one in mine if not one.of_firm)
    whole = sum(one.packages for one in mine)
    opened = sum(one.opened for one in mine if one.of_firm) if total > whole + _SLACK else 0.0
    return Amount(
        product=product,
        packages=max(0, round(min(total, whole)) - on_site),
        opened_thousandths=round(1000 * opened),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(Amount):
    """What one entry of the store has, or gives; `entry` is its id."""

    entry: str


def drawn(*, wanted: Amount, entries: Iterable[Held]) -> tuple[Held, ...]:
    """What each entry gives, in their order, until enough is there or all is taken."""
    packages, opened = wanted.packages, wanted.opened_thousandths
    given = []
    for entry in entries:
        if entry.product != wanted.product:
            continue
        whole = min(packages, entry.packages)
        share = min(opened, entry.opened_thousandths)
        packages, opened = packages - whole, opened - share
        if whole or share:
            given.append(replace(entry, packages=whole, opened_thousandths=share))
    return tuple(given)


def lacking(*, wanted: Iterable[Amount], there: Iterable[Amount]) -> tuple[Amount, ...]:
    """What is wanted beyond what is there, product by product."""
    whole: defaultdict[str, int] = defaultdict(int)
    opened: defaultdict[str, int] = defaultdict(int)
    for one in there:
        whole[one.product] += one.packages
        opened[one.product] += one.opened_thousandths
    short = (
        Amount(
            product=one.product,
            packages=max(0, one.packages - whole[one.product]),
            opened_thousandths=max(0, one.opened_thousandths - opened[one.product]),
        )
        for one in wanted
    )
    return tuple(one for one in short if not one.is_none)
