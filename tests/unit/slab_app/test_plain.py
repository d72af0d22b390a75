"""Results as JSON values."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slab_app.plain import to_plain


@dataclass(frozen=True, kw_only=True)
class _Line:
    price: Decimal
    quantity: Decimal


@dataclass(frozen=True, kw_only=True, eq=False)
class _Result:
    currency: str
    total: Decimal
    lines: tuple[_Line, ...]
    start_minute: int
    day: date
    ff: float
    height: NDArray[np.int32]
    inside: NDArray[np.bool_]
    traces: dict[str, str]
    spline: Any = None


def test_each_kind_of_value_follows_its_rule() -> None:
    result = _Result(
        currency="USD",
        total=Decimal("12.50"),
        lines=(_Line(price=Decimal("12.50"), quantity=Decimal("1.5")),),
        start_minute=29_000_000,
        day=date(2026, 3, 2),
        ff=float("inf"),
        height=np.array([[100, 250, 399], [-1, 0, 7]], dtype=np.int32),
        inside=np.array([[True, False, True], [True, True, True]]),
        traces={"area": "12 m²"},
        spline=object(),
    )
    assert to_plain(result, every=2) == {
        "currency": "USD",
        "total": {"amount": "12.50", "currency": "USD"},
        "lines": [{"price": {"amount": "12.50", "currency": "USD"}, "quantity": "1.5"}],
        "start_at": "2025-02-19T21:20:00Z",
        "day": "2026-03-02",
        "ff": None,
        "height_mm": [[1.0, 3.99]],
        "inside": [[True, True]],
        "traces": {"area": "12 m²"},
    }
