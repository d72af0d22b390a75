"""Results as people's programs read them: plain JSON values with units in the names.

The rules, which `slab_api.results.describe` follows for the schema: money carries its currency; a Decimal is
text; a UTC minute (`…_minute`) is a moment (`…_at`); an integer grid (`height`) is millimetres (`height_mm`)
with every n-th node; what only a further computation needs (the spline, a scan's heights, draws) is left out;
infinity is null.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

import numpy as np

MONEY = frozenset(
    {"cost", "overhead", "profit", "subtotal", "tax", "total", "unit_cost", "price", "amount", "allowance"}
    | {"not_to_exceed", "standby_rate", "survey_price", "saves"}
    | {"boards_cost", "laying_cost", "more_cost", "more_price"}
    | {f"{of}_{when}" for of in ("allowance", "overrun") for when in ("now", "after")}
    | {f"{of}_{when}" for of in ("price", "total", "unit_cost") for when in ("before", "after")}
) | {f"{of}p{chance}" for of in ("", "cost_") for chance in (50, 80, 95)}
GRID_MM = {"height": 0.01, "grind": 0.01, "fill": 0.01, "departure": 0.01, "error": 0.001}
"""Integer grids, and how many millimetres one step is."""

LEFT_OUT = frozenset({"blocks", "draws", "spline"})
"""Unless it is a mere number, such as how many draws there were."""

_MINUTE = "_minute"


def json_name(name: str) -> str:
    """What a field is called in JSON."""
    if name in GRID_MM:
        return f"{name}_mm"
    return f"{name.removesuffix(_MINUTE)}_at" if name.endswith(_MINUTE) else name


def to_plain(model: Any, *, every: int = 1, currency: str | None = None) -> dict[str, Any]:
    """A model as JSON values; grids with every `every`-th node in both directions."""
    currency = getattr(model, "currency", currency)
    return {
        json_name(name): _value(value, name=name, every=every, currency=currency)
        for name, value in _items(model)
    }


def moment(value: datetime) -> str:
    """A moment in RFC 3339, in UTC."""
    return value.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _items(model: Any) -> Iterator[tuple[str, Any]]:
    for field in fields(model):
        value = getattr(model, field.name)
        if field.name not in LEFT_OUT or isinstance(value, int):
            yield field.name, value


def _value(value: Any, *, name: str, every: int, currency: str | None) -> Any:
    if name.endswith(_MINUTE) and isinstance(value, int):
        return moment(datetime.fromtimestamp(value * 60, UTC))
    if isinstance(value, Decimal):
        is_money = name in MONEY and currency is not None
        return {"amount": str(value), "currency": currency} if is_money else str(value)
    if isinstance(value, np.ndarray):
        return _array(value, name=name, every=every)
    if isinstance(value, Mapping):
        return {
            str(key): _value(item, name=str(key), every=every, currency=None) for key, item in value.items()
        }
    if isinstance(value, tuple | list):
        return [_value(item, name=name, every=every, currency=currency) for item in value]
    if is_dataclass(value):
        return to_plain(value, every=every, currency=currency)
    return _scalar(value)


def _scalar(value: Any) -> Any:
    if isinstance(value, datetime):
        return moment(value)
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _array(array: Any, *, name: str, every: int) -> list[Any]:
    thinned = array[::every, ::every] if array.ndim == 2 else array
    if name in GRID_MM:
        return list(np.round(thinned * GRID_MM[name], 3).tolist())
    return list(thinned.tolist())
