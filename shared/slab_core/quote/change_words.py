"""Why a line of a quote differs from what was accepted, in words for both firm and customer: so they hold
what is counted, and nothing of what it costs the firm."""

from dataclasses import dataclass
from decimal import Decimal

from slab_core.quote.adjustments import DISCOUNT, JOB_DISCOUNT
from slab_core.quote.labels import unit_in_words
from slab_core.quote.needed import FORMULA

_OWN = frozenset({"quantity", "unit cost", "price book", "price code"})
_SLAB, _UNSEEN = "slab", "not seen yet: "


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedLine:
    """A quote's line as its document shows it. `key` is stable from quote to quote; `inputs` are those of
    its trace."""

    key: str
    kind: str
    what: str
    quantity: Decimal
    unit: str
    unit_cost: Decimal
    price: Decimal
    tax: Decimal
    inputs: dict[str, str]


def reason_of(*, before: PricedLine | None, after: PricedLine | None) -> str:
    """Of two lines of one key; None where a quote has it not."""
    was, now = granted(before), granted(after)
    if was != now:
        return _regranted(was, now)
    if before is None:
        return "it was not in what was accepted"
    if after is None:
        return "it is no longer needed"
    reasons = []
    if before.quantity != after.quantity:
        unit = unit_in_words(after.unit)
        reasons.append(f"{before.quantity} became {after.quantity} {unit}{_because(before, after)}")
    if before.unit_cost != after.unit_cost:
        what = "amount" if after.kind == "adjustment" else "unit cost"
        reasons.append(f"its {what} {'rose' if after.unit_cost > before.unit_cost else 'fell'}")
    return "; ".join(reasons) or "its share of overhead, profit, rounding or tax"


def granted(line: PricedLine | None) -> dict[str, str]:
    """What a discount is, as a share or an amount; nothing for any other line."""
    if line is None or line.key.split("/")[0] not in (DISCOUNT, JOB_DISCOUNT):
        return {}
    return {name: line.inputs[name] for name in ("share", "amount") if name in line.inputs}


def _regranted(was: dict[str, str], now: dict[str, str]) -> str:
    if not was:
        return "a discount that was not in what was accepted"
    if not now:
        return "the discount is no longer given"
    (before, old), (after, new) = *was.items(), *now.items()
    return f"the discount's {before} of {old} became {f'an {after}' if after != before else 'one'} of {new}"


def _because(before: PricedLine, after: PricedLine) -> str:
    """Which inputs of the quantity differ, in words; nothing where the quote does not tell. Where a slab that
    was allowed for has been measured, only what both counted can be set side by side."""
    old, new = _counted(before), _counted(after)
    measured = _SLAB in old and _SLAB not in new
    names = [name for name in old if name in new] if measured else dict.fromkeys((*old, *new))
    differing = [
        f"{name} {old.get(name, 'none')} -> {new.get(name, 'none')}"
        for name in names
        if old.get(name) != new.get(name)
    ]
    if measured:
        usual = old[_SLAB].removeprefix(_UNSEEN)
        differing.insert(0, f"the slab is measured now, before it was taken as {usual}")
    return f" ({', '.join(differing)})" if differing else ""


def _counted(line: PricedLine) -> dict[str, str]:
    return {
        name: value
        for name, value in line.inputs.items()
        if name not in _OWN and not name.startswith(FORMULA)
    }
