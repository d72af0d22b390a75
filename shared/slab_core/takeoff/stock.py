"""What earlier jobs left is used before anything is bought: unopened packages, product by product."""

from collections.abc import Iterator
from dataclasses import replace

from slab_core.errors import Problem
from slab_core.takeoff.model import Stock, TakeoffLine

FROM_STOCK = "from stock"
"""The input of a line's trace that tells it: so many of so many packages."""


def less_stock(*, lines: tuple[TakeoffLine, ...], stock: tuple[Stock, ...]) -> tuple[TakeoffLine, ...]:
    """The lines with less to order: the first line of a product takes what there is before the next one. What
    is needed stays as it is; a line says how many packages it has from stock."""
    left = _by_product(stock)
    found = []
    for line in lines:
        taken = min(line.order, left.get(line.key.product, 0)) if line.kind == "material" else 0.0
        if taken > 0.0:
            left[line.key.product] -= int(taken)
            line = _taken(line, taken)
        found.append(line)
    return tuple(found)


def stock_problems(*, lines: tuple[TakeoffLine, ...], stock: tuple[Stock, ...]) -> Iterator[Problem]:
    """A warning for stock of a product that the job does not take, which may be misspelt."""
    known = {line.key.product for line in lines if line.kind == "material"}
    for place, one in enumerate(stock):
        if one.product not in known:
            yield Problem(
                code="stock-unused",
                detail=f"{one.packages} packages of “{one.product}” are in stock, and this job takes "
                "none of it; stock is named by the product's id in the catalogue",
                pointer=f"/scope/stock/{place}/product",
                severity="warning",
            )


def _by_product(stock: tuple[Stock, ...]) -> dict[str, int]:
    found: dict[str, int] = {}
    for one in stock:
        found[one.product] = found.get(one.product, 0) + one.packages
    return found


def _taken(line: TakeoffLine, taken: float) -> TakeoffLine:
    inputs = {**line.trace.inputs, FROM_STOCK: f"{taken:g} of {line.order:g} {line.package}"}
    return replace(
        line,
        order=line.order - taken,
        from_stock=float(taken),
        weight_kg=line.weight_kg * (line.order - taken) / line.order,
        trace=replace(line.trace, inputs=inputs),
    )
