"""Prices and products as tables: each row a price or a product, merged over what counted before."""

from decimal import Decimal, InvalidOperation
from typing import Any

from slab_api.answers import to_json
from slab_api.bodies.documents import read_document
from slab_api.bodies.table import Row, read_table
from slab_api.intake import product_rows
from slab_api.intake.product_rows import catalogue_document, no_number, place_in_table
from slab_api.problems import ApiProblem, invalid
from slab_api.schemas.firm import POSTS, FirmPost
from slab_app.errors import Fault
from slab_store.firm_versions import FirmKind

Json = dict[str, Any]

COLUMNS: dict[FirmKind, tuple[str, ...]] = {
    "price-book": ("code", "amount", "unit", "tax_class"),
    "catalogue": product_rows.COLUMNS,
}
"""Columns of the kinds that come as tables; the first names the row."""

_NEEDED: dict[FirmKind, tuple[str, ...]] = {"price-book": ("code", "amount"), "catalogue": ("id",)}


def read_firm_table(kind: FirmKind, raw: bytes, *, deepest: int) -> tuple[FirmPost, tuple[Row, ...]]:
    """The table as the document that it stands for, and its rows.

    Raises ApiProblem that names every row and column that is wrong.
    """
    rows = read_table(raw, columns=COLUMNS[kind], needed=_NEEDED[kind])
    document, faults = _price_document(rows) if kind == "price-book" else catalogue_document(rows)
    faults += _repeats(rows, name=COLUMNS[kind][0])
    if not rows:
        faults.append(Fault(detail="the table has a heading and no rows"))
    try:
        posted = read_document(POSTS[kind], to_json(document), deepest=deepest)
    except ApiProblem as problem:
        named = {fault.pointer for fault in faults}
        told = at_rows(problem, kind=kind, rows=rows).faults
        raise invalid((*faults, *(fault for fault in told if fault.pointer not in named))) from None
    if faults:
        raise invalid(tuple(faults))
    return posted, rows


def at_rows(problem: ApiProblem, *, kind: FirmKind, rows: tuple[Row, ...]) -> ApiProblem:
    """The problem with its places told by row and column of the table."""
    return invalid(tuple(_at_row(fault, kind=kind, rows=rows) for fault in problem.faults))


def _price_document(rows: tuple[Row, ...]) -> tuple[Json, list[Fault]]:
    """A comma may be a thousand's or a decimal's: neither is guessed."""
    faults = [
        Fault(detail=no_number(row.cells["amount"]), pointer=f"/rows/{row.line}/amount")
        for row in rows
        if "amount" in row.cells and not _is_number(row.cells["amount"])
    ]
    wrong = {fault.pointer for fault in faults}
    prices = [
        {name: text for name, text in row.cells.items() if f"/rows/{row.line}/{name}" not in wrong}
        for row in rows
    ]
    return {"prices": prices}, faults


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
    if kind == "catalogue":
        place = place_in_table(fault.pointer, rows=rows)
        return fault if place is None else Fault(detail=fault.detail, pointer=place)
    _, name, row, *rest = (*fault.pointer.split("/"), "", "")
    if name != "prices" or not row.isdigit() or int(row) >= len(rows):
        return fault
    column = next((part for part in reversed(rest) if part), COLUMNS[kind][0])
    return Fault(detail=fault.detail, pointer=f"/rows/{rows[int(row)].line}/{column}")
