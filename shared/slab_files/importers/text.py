"""Points as lines of text: x, y, z and whatever follows, parted by blanks, tabs, commas or semicolons."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import numpy as np

from slab_core.numerics.grid import Floats
from slab_files.importers.points import CHUNK_BYTES, PointFile
from slab_files.importers.refusals import empty, malformed, not_a_number, truncated

LONGEST_LINE = 4096
COMMENTS = ("#", "//")
AXES = ("x", "y", "z")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """How the lines are written: `skip` lines come before the first point."""

    delimiter: str | None
    columns: tuple[int, int, int]
    skip: int
    claimed: int | None


def open_text(*, path: Path) -> PointFile:
    """A text file of points. A first line may name the columns, or hold the number of points alone."""
    with path.open("rb") as file:
        form = _form_of(file)
    return PointFile(
        kind="text", claimed=form.claimed, unit_m=None, chunks=lambda: _chunks(path=path, form=form)
    )


def _form_of(file: IO[bytes]) -> _Form:
    names: list[str] = []
    claimed = None
    for number in range(1000):
        line = _line(file, number=number + 1)
        if not line:
            raise empty("The file holds no line with three numbers.")
        text = line.strip()
        if not text or text.startswith(COMMENTS):
            continue
        delimiter = _delimiter(text)
        words = _words(text, delimiter)
        if claimed is None and not names and text.isdigit():
            claimed = int(text)
        elif _are_numbers(words, columns := _columns(names, line=number + 1)):
            return _Form(delimiter=delimiter, columns=columns, skip=number, claimed=claimed)
        elif not names:
            names = [word.strip("\"' ").lower() for word in words]
        else:
            raise _bad_line(number + 1, text)
    raise empty("The first 1,000 lines hold no point.")


def _line(file: IO[bytes], *, number: int) -> str:
    line = file.readline(LONGEST_LINE)
    if len(line) == LONGEST_LINE:
        raise malformed(
            f"Line {number:,} is longer than {LONGEST_LINE:,} characters: this is no list of points."
        )
    try:
        return line.decode("utf-8-sig" if number == 1 else "utf-8")
    except UnicodeDecodeError:
        raise malformed(f"Line {number:,} is not text.") from None


def _delimiter(text: str) -> str | None:
    return next((sign for sign in (";", ",") if sign in text), None)


def _words(text: str, delimiter: str | None) -> list[str]:
    return text.split(delimiter)


def _are_numbers(words: list[str], columns: tuple[int, int, int]) -> bool:
    """Whether a line has numbers in three columns."""
    try:
        return len([float(words[at]) for at in columns]) == 3
    except (ValueError, IndexError):
        return False


def _columns(names: list[str], *, line: int) -> tuple[int, int, int]:
    """Where x, y and z stand: by the names of the columns, else in front."""
    found = [
        next((at for at, name in enumerate(names) if re.fullmatch(rf"(//)?{axis}(\W.*|_.*)?", name)), None)
        for axis in AXES
    ]
    if not names or found == [None] * 3:
        return (0, 1, 2)
    if None in found:
        missing = ", ".join(axis for axis, at in zip(AXES, found, strict=True) if at is None)
        raise malformed(f"The columns named above line {line} lack {missing}.")
    x, y, z = (at for at in found if at is not None)
    return (x, y, z)


def _bad_line(number: int, text: str) -> Exception:
    advice = " Write decimals with a point." if re.search(r"\d,\d+;", text) else ""
    return malformed(f"Line {number:,} does not hold three numbers: {text[:80]!r}.{advice}")


def _chunks(*, path: Path, form: _Form) -> Iterator[Floats]:
    read, line = 0, form.skip
    with path.open("rb") as file:
        for _ in range(form.skip):
            file.readline(LONGEST_LINE)
        while block := file.read(CHUNK_BYTES // 2):
            block += _rest_of_line(file)
            points = _parse(block, form=form, line=line)
            line += block.count(b"\n")
            read += len(points)
            if len(points):
                yield points
    if form.claimed is not None and read < form.claimed:
        raise truncated(f"The file states {form.claimed:,} points and holds {read:,}.")
    if form.claimed is not None and read > form.claimed:
        raise malformed(
            f"The file's first line states {form.claimed:,} points, and the file holds {read:,}. Export it "
            "again, or take the first line out if it is no number of points."
        )


def _rest_of_line(file: IO[bytes]) -> bytes:
    rest = file.readline(LONGEST_LINE)
    if len(rest) == LONGEST_LINE:
        raise malformed(f"A line is longer than {LONGEST_LINE:,} characters: this is no list of points.")
    return rest


def _parse(block: bytes, *, form: _Form, line: int) -> Floats:
    lines = [text for text in block.split(b"\n") if text and not text.isspace() and text[0] not in b"#/"]
    if not lines:
        return np.empty((0, 3))
    try:
        points = np.loadtxt(lines, delimiter=form.delimiter, usecols=form.columns, ndmin=2, comments=None)
    except (ValueError, UnicodeDecodeError):
        raise _first_bad(block, form=form, line=line) from None
    if not np.isfinite(points).all():
        raise _first_bad(block, form=form, line=line)
    return points


def _first_bad(block: bytes, *, form: _Form, line: int) -> Exception:
    """The error for the first line that numpy would not take; slow, and only used then."""
    for number, raw in enumerate(block.split(b"\n"), line + 1):
        text = raw.decode("utf-8", "replace").strip()
        if not text or text.startswith(COMMENTS):
            continue
        words = _words(text, form.delimiter)
        try:
            point = [float(words[at]) for at in form.columns]
        except (ValueError, IndexError):
            return _bad_line(number, text)
        if not np.isfinite(point).all():
            return not_a_number(row=number)
    return malformed(f"The lines after line {line:,} do not all hold three numbers.")
