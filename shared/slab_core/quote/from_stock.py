"""What earlier jobs left, charged where the firm's book says so."""

from dataclasses import replace
from itertools import groupby

from slab_core.quote.model import PriceBook
from slab_core.takeoff.model import LineKey, TakeoffLine, Trace

STOCK = "from-stock"
"""Code of such lines, one for each product."""


def stock_lines(*, lines: tuple[TakeoffLine, ...], book: PriceBook) -> tuple[TakeoffLine, ...]:
    """A line for each product of which the job takes stock, at what it costs to buy it again; none where the
    book leaves it free. Nobody is paid for it now, so it is no part of what suppliers get."""
    taken = sorted(
        (line for line in lines if line.from_stock > 0.0 and book.stock_priced),
        key=lambda line: (line.price_code, line.key.text()),
    )
    return tuple(_line(tuple(group)) for _, group in groupby(taken, key=lambda line: line.price_code))


def _line(taken: tuple[TakeoffLine, ...]) -> TakeoffLine:
    first, packages = taken[0], sum(line.from_stock for line in taken)
    return replace(
        first,
        key=LineKey(code=STOCK, product=first.key.product),
        what=f"{first.what}, from stock",
        net=packages,
        waste_share=0.0,
        order=packages,
        unit=first.package,
        from_stock=0.0,
        left_over=0.0,
        package_size=1.0,
        weight_kg=0.0,
        trace=Trace(
            stage="takeoff",
            formula="packages from stock, which the price book charges",
            inputs={line.key.text(): f"{line.from_stock:g} {line.package}" for line in taken},
        ),
    )
