"""A table as spreadsheets write it (CSV, RFC 4180): rows by their columns' names, with their line numbers."""

import csv
from dataclasses import dataclass

from slab_api.problems import ApiProblem, invalid
from slab_app.errors import Fault

CSV = "text/csv"
MOST_ROWS = 20_000
_SEPARATORS = (",", ";", "\t")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: `line` is where it stands in the file, the heading being line 1; empty cells are left out."""

    line: int
    cells: dict[str, str]


def read_table(raw: bytes, *, columns: tuple[str, ...], needed: tuple[str, ...]) -> tuple[Row, ...]:
    """All rows that are not empty. Separated by comma, semicolon or tab, as the heading is.

    Raises ApiProblem that names every unknown or missing column and every row with too many cells.
    """
    lines = _lines(_text(raw))
    if not lines:
        raise invalid((Fault(detail=f"the table is empty; its heading names {', '.join(needed)}"),))
    heading = [name.strip().lower() for name in lines[0][1]]
    faults = [*_heading_faults(heading, columns=columns, needed=needed)]
    rows = []
    for line, cells in lines[1:]:
        if len(cells) > len(heading) and any(cell.strip() for cell in cells[len(heading) :]):
            detail = f"line {line} has {len(cells)} cells under {len(heading)} columns: is one not in quotes?"
            faults.append(Fault(detail=detail, pointer=f"/rows/{line}"))
        named = {name: cell.strip() for name, cell in zip(heading, cells, strict=False) if cell.strip()}
        if named:
            rows.append(Row(line=line, cells=named))
    if len(rows) > MOST_ROWS:
        faults.append(Fault(detail=f"a table has at most {MOST_ROWS} rows; this one has {len(rows)}"))
    if faults:
        raise invalid(tuple(faults))
    return tuple(rows)


def _text(raw: bytes) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        raise ApiProblem(
            "malformed-table", f"line {line} is not UTF-8: save the table as “CSV UTF-8” and send it again"
        ) from None


def _lines(text: str) -> list[tuple[int, list[str]]]:
    """Line number and cells; a quoted cell may span lines, and then the row has the number of its last."""
    head = text.partition("\n")[0]
    separator = max(_SEPARATORS, key=head.count)
    reader = csv.reader(text.splitlines(keepends=True), delimiter=separator, strict=True)
    try:
        return [(reader.line_num, cells) for cells in reader]
    except csv.Error as problem:
        raise ApiProblem("malformed-table", f"line {reader.line_num} cannot be read: {problem}") from None


def _heading_faults(heading: list[str], *, columns: tuple[str, ...], needed: tuple[str, ...]) -> list[Fault]:
    faults = [
        Fault(
            detail=f"column {place + 1} is headed {name!r}; the columns are {', '.join(columns)}",
            pointer="/rows/1",
        )
        for place, name in enumerate(heading)
        if name not in columns
    ]
    faults += [
        Fault(detail=f"the column {name!r} is missing", pointer="/rows/1")
        for name in needed
        if name not in heading
    ]
    twice = sorted({name for name in heading if heading.count(name) > 1})
    return faults + [Fault(detail=f"the column {name!r} is there twice", pointer="/rows/1") for name in twice]
