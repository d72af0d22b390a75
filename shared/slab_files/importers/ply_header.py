"""The header of a PLY file: how its vertices are written, and what stands behind them."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

import numpy as np

from slab_files.importers.refusals import malformed, truncated, unsupported

TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
MOST_HEADER_LINES = 1000
LONGEST_LINE = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """A number of the type `kind`; with `counted`, a list of them behind their number, of that type."""

    name: str
    kind: str
    counted: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """So many rows of the same properties."""

    name: str
    count: int
    properties: list[Property] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlyHeader:
    """`order` is empty for text; the vertices begin at `begin`, the elements `behind` follow them."""

    order: str
    vertices: Element
    behind: tuple[Element, ...]
    begin: int

    @property
    def count(self) -> int:
        """How many vertices are stated."""
        return self.vertices.count

    def row(self) -> np.dtype[Any]:
        """A vertex of a binary file."""
        return np.dtype([(own.name, self.order + own.kind) for own in self.vertices.properties])

    def columns(self) -> tuple[int, ...]:
        """Where x, y and z stand in a row."""
        names = [own.name for own in self.vertices.properties]
        return tuple(names.index(axis) for axis in ("x", "y", "z"))


def read_ply_header(*, path: Path) -> PlyHeader:
    """Raises InputRefused where the header cannot be followed."""
    with path.open("rb") as file:
        if file.readline(16).strip() != b"ply":
            raise malformed("The file does not begin with 'ply'.")
        order: str | None = None
        elements: list[Element] = []
        for words in _lines(file):
            match words:
                case ["format", name, "1.0"] if name in ORDERS:
                    order = ORDERS[name]
                case ["format", *rest]:
                    raise unsupported(
                        f"The format {' '.join(rest)!r} of PLY is not read; ascii and binary 1.0 are."
                    )
                case ["element", name, number]:
                    elements.append(Element(name=name, count=_count(name, number)))
                case ["property", *rest] if elements:
                    elements[-1].properties.append(_property(rest))
        begin = file.tell()
    if order is None:
        raise malformed("The header does not name its format.")
    return PlyHeader(order=order, vertices=_vertices(elements), behind=tuple(elements[1:]), begin=begin)


def _lines(file: IO[bytes]) -> list[list[str]]:
    lines: list[list[str]] = []
    while len(lines) < MOST_HEADER_LINES:
        line = file.readline(LONGEST_LINE)
        if not line.endswith(b"\n"):
            raise (
                truncated("The file ends within its header.")
                if len(line) < LONGEST_LINE
                else malformed("A line of the header is too long.")
            )
        lines.append(line.decode("ascii", "replace").split())
        if lines[-1] == ["end_header"]:
            return lines
    raise malformed(f"The header has more than {MOST_HEADER_LINES:,} lines.")


def _count(name: str, word: str) -> int:
    if not word.isdigit() or len(word) > 15:
        said = "vertices" if name == "vertex" else f"rows of {name[:40]!r}"
        raise malformed(f"The header states {word[:40]!r} {said}.")
    return int(word)


def _property(words: list[str]) -> Property:
    match words:
        case ["list", counted, kind, name] if not _type(counted).startswith("f"):
            return Property(name=name, kind=_type(kind), counted=_type(counted))
        case [kind, name]:
            return Property(name=name, kind=_type(kind))
    raise malformed(f"The header has the property {' '.join(words)[:80]!r}.")


def _type(word: str) -> str:
    if word not in TYPES:
        raise malformed(f"The header names the type {word[:40]!r}, which PLY does not have.")
    return TYPES[word]


def _vertices(elements: list[Element]) -> Element:
    """The first element, which must be the vertices."""
    first = elements[0] if elements else Element(name="vertex", count=0)
    if first.name != "vertex":
        raise unsupported(f"The element {first.name!r} comes before the vertices.")
    if any(other.name == "vertex" for other in elements[1:]):
        raise malformed("The header states the vertices twice.")
    if any(own.counted for own in first.properties):
        raise unsupported("The vertices have a list among their properties.")
    names = [own.name for own in first.properties]
    missing = [axis for axis in ("x", "y", "z") if axis not in names]
    if missing:
        raise malformed(f"The vertices have no property {', '.join(missing)}.")
    twice = {name for name in names if names.count(name) > 1}
    if twice:
        raise malformed(f"The vertices have two properties {', '.join(sorted(twice))}.")
    return first
