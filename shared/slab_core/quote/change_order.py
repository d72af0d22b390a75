"""What changes between an accepted quote and the one that is to replace its sum: line by line, with why.

Nothing of the accepted quote is touched. The differences of lines add up to the differences of the totals
exactly, rounding, tax and a minimum charge among them, because those are lines or parts of lines as well.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from slab_core.money.rounding import EXACT, add_up
from slab_core.quote.change_words import PricedLine, granted, reason_of
from slab_core.quote.needed import FORMULA

ZERO = Decimal(0)

Cause = Literal["survey", "wish", "prices", "planning"]
"""What a client or the firm has changed: what is known of the slab, what is wished for, what is charged, or
the firm's products, rates and days."""

_OF_QUANTITIES: tuple[Cause, ...] = ("survey", "wish", "planning")
_OF_THE_SLAB = frozenset({"surveys", "surface", "tolerance", "correction"})
_AS_WISHED = frozenset({"rooms", "layout"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedLine:
    """One line that differs: quantity, price and unit cost before and after (0 where it was not or is no
    more), what the customer pays more or less, and why, without what it costs the firm. `cause` is what was
    changed that led to it; follows: only its share of sums, as other lines changed."""

    key: str
    kind: str
    what: str
    unit: str
    quantity_before: Decimal
    quantity_after: Decimal
    price_before: Decimal
    price_after: Decimal
    price: Decimal
    tax: Decimal
    reason: str
    cause: Cause | Literal["follows", "unknown"] = "unknown"
    unit_cost_before: Decimal = ZERO
    unit_cost_after: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeOrder:
    """All lines that differ; `subtotal` and `tax` are the differences' sums, `total` both."""

    currency: str
    lines: tuple[ChangedLine, ...]
    subtotal: Decimal
    tax: Decimal
    total: Decimal
    total_before: Decimal
    total_after: Decimal


def change_order(
    *,
    currency: str,
    accepted: tuple[PricedLine, ...],
    wanted: tuple[PricedLine, ...],
    causes: frozenset[Cause] = frozenset(),
) -> ChangeOrder:
    """The order that brings the accepted quote's sum to the wanted one's; `causes` are what differs between
    what both were made of.

    Raises
    ------
    ValueError
        for a line that a quote has twice.
    """
    before, after = _by_key(accepted), _by_key(wanted)
    keys = [*after, *(key for key in before if key not in after)]
    lines = tuple(
        changed for key in keys for changed in (_changed(before.get(key), after.get(key), causes),) if changed
    )
    subtotal = add_up(amounts=tuple(line.price for line in lines))
    tax = add_up(amounts=tuple(line.tax for line in lines))
    return ChangeOrder(
        currency=currency,
        lines=lines,
        subtotal=subtotal,
        tax=tax,
        total=EXACT.add(subtotal, tax),
        total_before=_total(accepted),
        total_after=_total(wanted),
    )


def _by_key(lines: tuple[PricedLine, ...]) -> dict[tuple[str, str], PricedLine]:
    found: dict[tuple[str, str], PricedLine] = {}
    for line in lines:
        if (line.key, line.kind) in found:
            raise ValueError(f"the quote has the line {line.key} ({line.kind}) twice")
        found[line.key, line.kind] = line
    return found


def _changed(
    before: PricedLine | None, after: PricedLine | None, causes: frozenset[Cause]
) -> ChangedLine | None:
    """None where neither price nor tax nor quantity differs."""
    one = after or before
    assert one is not None
    price = EXACT.subtract(after.price if after else ZERO, before.price if before else ZERO)
    tax = EXACT.subtract(after.tax if after else ZERO, before.tax if before else ZERO)
    quantity_before, quantity_after = before.quantity if before else ZERO, after.quantity if after else ZERO
    if price == ZERO and tax == ZERO and quantity_before == quantity_after:
        return None
    return ChangedLine(
        key=one.key,
        kind=one.kind,
        what=one.what,
        unit=one.unit,
        quantity_before=quantity_before,
        quantity_after=quantity_after,
        price_before=before.price if before else ZERO,
        price_after=after.price if after else ZERO,
        price=price,
        tax=tax,
        reason=reason_of(before=before, after=after),
        cause=_cause(before, after, causes),
        unit_cost_before=before.unit_cost if before else ZERO,
        unit_cost_after=after.unit_cost if after else ZERO,
    )


def _cause(
    before: PricedLine | None, after: PricedLine | None, causes: frozenset[Cause]
) -> Cause | Literal["follows", "unknown"]:
    """The one cause that there is, or of several the one that the line's quantity comes from."""
    if granted(before) != granted(after) and "prices" in causes:
        return "prices"
    quantities = before is None or after is None or before.quantity != after.quantity
    if not quantities and before and after and before.unit_cost == after.unit_cost:
        return "follows"
    if not quantities and "prices" in causes:
        return "prices"
    left = [cause for cause in _OF_QUANTITIES if cause in causes]
    if len(left) == 1:
        return left[0]
    stages = {stage for line in (before, after) if line for stage in _stages(line)}
    if stages & _OF_THE_SLAB and "survey" in left:
        return "survey"
    if stages & _AS_WISHED and "wish" in left:
        return "wish"
    return "unknown"


def _stages(line: PricedLine) -> set[str]:
    """The stages that the line's quantity is from, as its trace tells."""
    return {name.removeprefix(FORMULA) for name in line.inputs if name.startswith(FORMULA)}


def _total(lines: tuple[PricedLine, ...]) -> Decimal:
    return add_up(amounts=tuple(EXACT.add(line.price, line.tax) for line in lines))
