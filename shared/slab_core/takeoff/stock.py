"""What earlier jobs left is used before anything is bought, product by product.

Unopened packages come first, then opened ones where they save one; nothing that expires before
the job begins.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from math import floor

from slab_core.errors import Problem
from slab_core.takeoff.codes import CUT
from slab_core.takeoff.entries import LEFT_OVER, left_told
from slab_core.takeoff.model import Stock, TakeoffLine

FROM_STOCK = "from stock"
"""The input of a line's trace that tells it; it begins with how many packages."""

_SLACK = 1e-9


def usable(stock: tuple[Stock, ...], *, on: date | None) -> tuple[Stock, ...]:
    """The stock that is still good on that day; all of it where the day is not known."""
    return tuple(one for one in stock if not _expired(one, on))


def less_stock(*, lines: tuple[TakeoffLine, ...], stock: tuple[Stock, ...]) -> tuple[TakeoffLine, ...]:
    """The lines with less to order: the first line of a product takes what there is before the next one. What
    is needed stays as it is; a line says how much it has from stock."""
    whole, opened = dict[str, int](), dict[str, float]()
    for one in stock:
        whole[one.product] = whole.get(one.product, 0) + one.packages
        opened[one.product] = opened.get(one.product, 0.0) + one.opened
    found = []
    for line in lines:
        product = line.key.product
        if line.kind == "material" and line.order > 0.0 and product in whole:
            taken = min(line.order, whole[product])
            saved = int(min(line.order - taken, _saved(line, opened[product])))
            whole[product] -= int(taken)
            line = _with(line, taken=taken, saved=saved, opened=opened[product])
            opened[product] = 0.0 if saved else opened[product]
        found.append(line)
    return tuple(found)


def stock_problems(
    *, lines: tuple[TakeoffLine, ...], stock: tuple[Stock, ...], on: date | None
) -> Iterator[Problem]:
    """A warning for stock of a product that the job does not take, which may be misspelt, and for what is no
    longer good."""
    known = {line.key.product for line in lines if line.kind == "material"}
    for place, one in enumerate(stock):
        if one.of_firm:
            continue  # nobody named it for this job, and what is expired is not taken from the store
        if one.product not in known:
            yield Problem(
                code="stock-unused",
                detail=f"{_told(one)} of “{one.product}” are in stock, and this job takes "
                "none of it; stock is named by the product's id in the catalogue",
                pointer=f"/scope/stock/{place}/product",
                severity="warning",
            )
        elif _expired(one, on):
            yield Problem(
                code="stock-expired",
                detail=f"{_told(one)} of “{one.product}” may be used until {one.use_by}, and the job begins "
                f"on {on} at the earliest: none of it is counted on",
                pointer=f"/scope/stock/{place}/use_by",
                severity="warning",
            )


def _expired(one: Stock, on: date | None) -> bool:
    return one.use_by is not None and on is not None and one.use_by < on


def _told(one: Stock) -> str:
    opened = f"{one.opened:g} of opened packages"
    whole = f"{one.packages} packages"
    return whole if not one.opened else opened if not one.packages else f"{whole} and {opened}"


def _saved(line: TakeoffLine, opened: float) -> int:
    """Packages that need not be opened, since opened ones and what would be left of the last hold as much."""
    return floor(opened + _rest(line) + _SLACK) if opened > 0.0 else 0


def _rest(line: TakeoffLine) -> float:
    """What is left of an opened package, as a share of one; packages that stay whole are the spare, and what
    is left of sticks makes no stick."""
    if line.key.code in CUT:
        return 0.0
    packages = line.left_over / line.package_size
    return max(0.0, packages - floor(packages + _SLACK))


def _with(line: TakeoffLine, *, taken: float, saved: int, opened: float) -> TakeoffLine:
    """What is bought and what is from stock hold together what is needed and what is left over."""
    if not taken and not saved:
        return line
    order = line.order - taken - saved
    told = f"{taken:g} of {line.order:g} {line.package}"
    inputs, left, from_stock = dict(line.trace.inputs), line.left_over, taken
    if saved:
        told = f"{taken + opened:g} {line.package} in place of {taken + saved:g} of {line.order:g}"
        from_stock = taken + opened
        left = max(0.0, left - (saved - opened) * line.package_size)
        inputs[LEFT_OVER] = left_told(left, unit=line.unit, size=line.package_size, package=line.package)
    return replace(
        line,
        order=order,
        from_stock=from_stock,
        weight_kg=line.weight_kg * order / line.order,
        left_over=left,
        trace=replace(line.trace, inputs={**inputs, FROM_STOCK: told}),
    )
