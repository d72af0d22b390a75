"""Prices and products as tables: each row a price or an item, merged over what counted before."""

from decimal import Decimal, InvalidOperation
from typing import Any

from slab_api.answers import to_json
from slab_api.bodies.documents import read_document
from slab_api.bodies.table import Row, read_table
from slab_api.problems import ApiProblem, invalid
from slab_api.schemas.firm import POSTS, FirmPost
from slab_app.errors import Fault
from slab_store.firm_versions import FirmKind

Json = dict[str, Any]

COLUMNS: dict[FirmKind, tuple[str, ...]] = {
    "price-book": ("code", "amount", "unit", "tax_class"),
    "catalogue": (
        "id",
        "name",
        "kind",
        "unit",
        "size",
        "size_unit",
        "weight_kg",
        "other_length_of",
        "lead_days",
    ),
}
"""Columns of the kinds that come as tables; the first names the row."""

_LISTS: dict[FirmKind, str] = {"price-book": "prices", "catalogue": "items"}
_NEEDED: dict[FirmKind, tuple[str, ...]] = {"price-book": ("code", "amount"), "catalogue": ("id",)}
_NUMBERS = ("amount", "size", "weight_kg", "lead_days")
_OF_PACKAGE = ("unit", "size", "size_unit", "weight_kg")


def read_firm_table(kind: FirmKind, raw: bytes, *, deepest: int) -> tuple[FirmPost, tuple[Row, ...]]:
    """The table as the document that it stands for, and its rows.

    Raises ApiProblem that names every row and column that is wrong.
    """
    rows = read_table(raw, columns=COLUMNS[kind], needed=_NEEDED[kind])
    faults = [*_numbers(rows), *_repeats(rows, name=COLUMNS[kind][0])]
    if not rows:
        faults.append(Fault(detail="the table has a heading and no rows"))
    if faults:
        raise invalid(tuple(faults))
    name = _LISTS[kind]
    document = to_json({name: [_item(kind, row.cells) for row in rows]})
    try:
        return read_document(POSTS[kind], document, deepest=deepest), rows
    except ApiProblem as problem:
        raise at_rows(problem, kind=kind, rows=rows) from None


def at_rows(problem: ApiProblem, *, kind: FirmKind, rows: tuple[Row, ...]) -> ApiProblem:
    """The problem with its places told by row and column of the table."""
    return invalid(tuple(_at_row(fault, kind=kind, rows=rows) for fault in problem.faults))


def _item(kind: FirmKind, cells: dict[str, str]) -> Json:
    plain: Json = {name: _value(name, text) for name, text in cells.items()}
    if kind == "price-book":
        return {**plain, "amount": cells["amount"]} if "amount" in cells else plain
    package = {name: plain.pop(name) for name in _OF_PACKAGE if name in plain}
    return {**plain, "package": package} if package else plain


def _value(name: str, text: str) -> str | float:
    return float(text) if name in _NUMBERS else text


def _numbers(rows: tuple[Row, ...]) -> list[Fault]:
    """A comma may be a thousand's or a decimal's: neither is guessed."""
    return [
        Fault(
            detail=f"{row.cells[name]!r} is not a number such as 1234.50: digits and a decimal point alone",
            pointer=f"/rows/{row.line}/{name}",
        )
        for row in rows
        for name in _NUMBERS
        if name in row.cells and not _is_number(row.cells[name])
    ]


def _is_number(text: str) -> bool:
    try:
        return Decimal(text).is_finite() and all(letter in "0123456789.-" for letter in text)
    except InvalidOperation:
        return False


def _repeats(rows: tuple[Row, ...], *, name: str) -> list[Fault]:
    first: dict[str, int] = {}
    faults = []
    for row in rows:
        own = row.cells.get(name)
        if own is None:
            detail = f"line {row.line} has no {name}"
            faults.append(Fault(detail=detail, pointer=f"/rows/{row.line}/{name}"))
        elif own in first:
            detail = f"{own!r} stands in lines {first[own]} and {row.line}; give it once"
            faults.append(Fault(detail=detail, pointer=f"/rows/{row.line}/{name}"))
        else:
            first[own] = row.line
    return faults


def _at_row(fault: Fault, *, kind: FirmKind, rows: tuple[Row, ...]) -> Fault:
    """From /prices/3/amount, or /items/3/package/size, to the line in the file and the column."""
    _, name, place, *rest = (*fault.pointer.split("/"), "", "")
    if name != _LISTS[kind] or not place.isdigit() or int(place) >= len(rows):
        return fault
    column = next((part for part in reversed(rest) if part and part != "package"), COLUMNS[kind][0])
    return Fault(detail=fault.detail, pointer=f"/rows/{rows[int(place)].line}/{column}")
