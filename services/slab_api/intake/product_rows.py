"""Rows of a table of products as parts of a catalogue: four kinds that have figures of their own, and items.

Columns are the fields of these products and of their limits, under the same names and in the same units.
Fields that hold several words (hazards, residues, ids) are written with spaces between them.
"""

from collections.abc import Iterator
from dataclasses import fields
from typing import Any, Final, get_type_hints

from slab_api.bodies.table import Row
from slab_api.problems import invalid
from slab_app.errors import Fault
from slab_core.materials.choice import LISTS
from slab_core.materials.model import Adhesive, Compound, Patch, Primer
from slab_core.materials.slab_limits_model import SlabLimits

Json = dict[str, Any]

PARTS: Final[dict[str, type]] = {
    "compound": Compound,
    "primer": Primer,
    "patch": Patch,
    "adhesive": Adhesive,
}
"""Kinds of which a catalogue has a usual product, the first row, and further ones, which a job may name."""

_KIND_OF: Final = {further: kind for kind, further in LISTS.items()}

SMALL_PATCH: Final = "patch-compound"
"""The one item of kind patch: what the borders of pours take."""

_ITEM: Final = (
    "id",
    "name",
    "kind",
    "unit",
    "size",
    "size_unit",
    "weight_kg",
    "other_length_of",
    "lead_days",
)
_OF_PACKAGE: Final = ("unit", "size", "size_unit", "weight_kg")
_WORDS: Final = ("hazards", "not_on", "not_with", "blocks")
_PLAIN: Final = {float: "number", int: "count", bool: "truth", float | None: "number", int | None: "count"}
_TRUTH: Final = {"yes": True, "true": True, "no": False, "false": False}


def _typed(model: type) -> dict[str, str]:
    hints = get_type_hints(model)
    return {field.name: _PLAIN[hints[field.name]] for field in fields(model) if hints[field.name] in _PLAIN}


_OF_LIMITS: Final = _typed(SlabLimits)
_KINDS: Final[dict[str, str]] = {
    **{name: kind for model in PARTS.values() for name, kind in _typed(model).items()},
    **_OF_LIMITS,
    **dict.fromkeys(_WORDS, "words"),
    "size": "number",
    "weight_kg": "number",
    "lead_days": "count",
}
COLUMNS: Final = tuple(dict.fromkeys((*_ITEM, *_KINDS)))


def catalogue_document(rows: tuple[Row, ...]) -> tuple[Json, list[Fault]]:
    """What the rows say, and what of them cannot be read; a cell that cannot is left out of the document."""
    document: Json = {"items": []}
    faults: list[Fault] = []
    for row in rows:
        product = _product(row, faults)
        part = part_of(row)
        if part is None:
            document["items"].append(product)
        else:
            product.pop("kind", None)
            if part in document:
                document.setdefault(LISTS[part], []).append(product)
            else:
                document[part] = product
    return {name: value for name, value in document.items() if value}, faults


def part_of(row: Row) -> str | None:
    """The part of the catalogue that a row is; None for an item."""
    kind = row.cells.get("kind", "")
    return kind if kind in PARTS and row.cells.get("id") != SMALL_PATCH else None


def place_in_table(pointer: str, *, rows: tuple[Row, ...]) -> str | None:
    """From /compound/limits/most_ph or /items/3/package/size to the line in the file and the column."""
    _, name, *rest = pointer.split("/")
    items = [row for row in rows if part_of(row) is None]
    if name == "items" and rest and rest[0].isdigit() and int(rest[0]) < len(items):
        row, rest = items[int(rest[0])], rest[1:]
    elif name in PARTS and (found := _rows_of(name, rows=rows)):
        row = found[0]
    elif name in _KIND_OF and rest and rest[0].isdigit():
        row, rest = _rows_of(_KIND_OF[name], rows=rows)[int(rest[0]) + 1], rest[1:]
    else:
        return None
    column = next((part for part in reversed(rest) if part in COLUMNS), "id")
    return f"/rows/{row.line}/{column}"


def _rows_of(kind: str, *, rows: tuple[Row, ...]) -> list[Row]:
    return [row for row in rows if part_of(row) == kind]


def check_products(document: Json, *, posted: Json) -> None:
    """Raises ApiProblem for posted products that no job would ever take, and for ids that two products have,
    since prices go by them."""
    faults = [*_unused(posted), *_shared_ids(document, posted=posted)]
    if faults:
        raise invalid(tuple(faults))


def _unused(posted: Json) -> Iterator[Fault]:
    for place, item in enumerate(posted.get("items") or ()):
        kind = item.get("kind")
        if kind == "board":
            detail = "boards are no part of a catalogue: a job's covering says what they are"
            yield Fault(detail=detail, pointer=f"/items/{place}/kind")
        elif kind in PARTS and item.get("id") != SMALL_PATCH:
            detail = f"the {kind} that jobs take is the catalogue's own: give it as {kind}, not as an item"
            yield Fault(detail=detail, pointer=f"/items/{place}/kind")


def _shared_ids(document: Json, *, posted: Json) -> Iterator[Fault]:
    """Of what is posted, so that a catalogue from before can be put right step by step."""
    ids = [document[name]["id"] for name in PARTS]
    ids += [one["id"] for name in (*_KIND_OF, "items") for one in document.get(name, ()) if "id" in one]
    for name in PARTS:
        id_ = (posted.get(name) or {}).get("id")
        if id_ is not None and ids.count(id_) > 1:
            yield Fault(detail=f"another product has the id {id_!r} already", pointer=f"/{name}/id")
    for name in (*_KIND_OF, "items"):
        for place, one in enumerate(posted.get(name) or ()):
            if ids.count(one.get("id")) > 1:
                detail = f"the id {one['id']!r} is that of another product of the catalogue"
                yield Fault(detail=detail, pointer=f"/{name}/{place}/id")


def _product(row: Row, faults: list[Fault]) -> Json:
    product: Json = {}
    for name, text in row.cells.items():
        try:
            value = _value(name, text)
        except ValueError as problem:
            faults.append(Fault(detail=str(problem), pointer=f"/rows/{row.line}/{name}"))
            continue
        if name in _OF_PACKAGE:
            product.setdefault("package", {})[name] = value
        elif name in _OF_LIMITS or name in ("not_on", "not_with", "blocks"):
            product.setdefault("limits", {})[name] = value
        else:
            product[name] = value
    return product


def _value(name: str, text: str) -> object:
    """A cell as its column has it. Raises ValueError that says what would be right."""
    kind = _KINDS.get(name)
    if kind == "words":
        return text.split()
    if kind == "truth":
        if text.lower() not in _TRUTH:
            raise ValueError(f"{text!r} is neither yes nor no")
        return _TRUTH[text.lower()]
    if kind is None:
        return text
    if not text.isascii() or not all(letter in "0123456789.-" for letter in text):
        raise ValueError(no_number(text))
    try:
        return int(text) if kind == "count" else float(text)
    except ValueError:
        what = f"{text!r} is not a whole number" if kind == "count" else no_number(text)
        raise ValueError(what) from None


def no_number(text: str) -> str:
    """What is wrong with a cell that should be one, and what would be right."""
    return f"{text!r} is not a number such as 1234.50: digits and a decimal point alone"
