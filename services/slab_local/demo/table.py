"""Plain text tables that fit a terminal."""

from collections.abc import Sequence

Row = Sequence[str]


def table(*, head: Row, rows: Sequence[Row], right: frozenset[int] = frozenset()) -> str:
    """Columns as wide as their widest cell; those numbered in `right` are set flush right."""
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    lines = [_line(head, widths, right), "  ".join("-" * width for width in widths)]
    return "\n".join(f"  {line}" for line in [*lines, *(_line(row, widths, right) for row in rows)])


def _line(row: Row, widths: Sequence[int], right: frozenset[int]) -> str:
    cells = [
        cell.rjust(width) if i in right else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(row, widths, strict=True))
    ]
    return "  ".join(cells).rstrip()


def heading(text: str) -> str:
    """A title with air above it."""
    return f"\n{text}\n{'=' * len(text)}"


def wrapped(text: str, *, width: int = 100, indent: str = "    ") -> str:
    """Text broken at spaces, with a dash before its first line."""
    lines, line = [], ""
    for word in text.split():
        if line and len(line) + len(word) + 1 > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    lines.append(line)
    return f"  - {lines[0]}" + "".join(f"\n{indent}{rest}" for rest in lines[1:])
