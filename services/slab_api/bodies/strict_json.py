"""JSON read strictly: what RFC 8259 leaves open, and many readers let pass, is refused with its place."""

import json
import math
import re
from typing import Any, NoReturn

import msgspec

from slab_api.bodies.pointers import pointer
from slab_api.problems import ApiProblem
from slab_app.errors import Fault

_NAME = re.compile(rb'"\s*:')
_MOST_FAULTS = 20


def read_json(raw: bytes, *, deepest: int) -> Any:
    """The value of a JSON text. Raises ApiProblem malformed-json or unsafe-json, with the places named."""
    try:
        value = msgspec.json.decode(raw)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        _explain(raw, deepest=deepest)
    # Counting is quick; the slow walk that finds places is for bodies that give a reason.
    try:
        names = _count_names(value, left=deepest)
    except _TooDeep:
        _check(value, deepest=deepest)
        raise
    if b"\\u" in raw:
        _check(value, deepest=deepest)
    if len(_NAME.findall(raw)) != names:
        _refuse_doubles(raw)
    return value


class _TooDeep(Exception):
    """Objects and lists are nested deeper than allowed."""


def _count_names(value: Any, *, left: int) -> int:
    """How many names all objects have; columns of numbers are passed over quickly."""
    if left == 0:
        raise _TooDeep
    if type(value) is dict:
        nested = [item for item in value.values() if type(item) in (dict, list)]
        return len(value) + sum(_count_names(item, left=left - 1) for item in nested)
    if type(value) is list:
        return sum(_count_names(item, left=left - 1) for item in value if type(item) in (dict, list))
    return 0


def _check(value: Any, *, deepest: int) -> None:
    faults: list[Fault] = []
    _walk(value, at=(), deepest=deepest, faults=faults)
    if faults:
        raise ApiProblem("unsafe-json", faults[0].detail, faults=tuple(faults))


def _walk(value: Any, *, at: tuple[str | int, ...], deepest: int, faults: list[Fault]) -> None:
    if len(faults) >= _MOST_FAULTS:
        return
    if isinstance(value, str):
        _check_text(value, at=at, faults=faults)
    elif isinstance(value, float) and not math.isfinite(value):
        faults.append(Fault(detail=f"{_spelt(value)} is not a number in JSON", pointer=pointer(at)))
    elif isinstance(value, dict | list):
        if len(at) >= deepest:
            faults.append(Fault(detail=f"nested deeper than {deepest} levels", pointer=pointer(at)))
            return
        items = value.items() if isinstance(value, dict) else enumerate(value)
        for name, item in items:
            if isinstance(name, str):
                _check_text(name, at=(*at, name), faults=faults)
            _walk(item, at=(*at, name), deepest=deepest, faults=faults)


def _check_text(text: str, *, at: tuple[str | int, ...], faults: list[Fault]) -> None:
    if "\0" in text:
        faults.append(Fault(detail="a NUL character is not allowed in text", pointer=pointer(at)))
    elif any("\ud800" <= letter <= "\udfff" for letter in text):
        faults.append(Fault(detail="half of a surrogate pair is not a character", pointer=pointer(at)))


def _spelt(value: float) -> str:
    return "NaN" if math.isnan(value) else "a number beyond 1.8e308, or Infinity,"


def _explain(raw: bytes, *, deepest: int) -> NoReturn:
    """Read again with a reader that lets more pass, to say where the trouble is. Always raises."""
    try:
        value = json.loads(raw.decode("utf-8"))
    except UnicodeDecodeError as problem:
        raise ApiProblem("malformed-json", f"byte {problem.start} is not UTF-8") from None
    except json.JSONDecodeError as problem:
        if not raw.strip():
            raise ApiProblem("malformed-json", "the body is empty; send a JSON document") from None
        where = f"line {problem.lineno}, column {problem.colno}"
        raise ApiProblem("malformed-json", f"{problem.msg.removesuffix(' at')} at {where}") from None
    except RecursionError:
        raise ApiProblem("unsafe-json", f"nested deeper than {deepest} levels") from None
    except ValueError:
        raise ApiProblem("unsafe-json", "a whole number has too many digits") from None
    _check(value, deepest=deepest)
    raise ApiProblem("malformed-json", "the body is not JSON as RFC 8259 has it")


def _refuse_doubles(raw: bytes) -> None:
    """Raise for names that stand twice in one object; a reader would silently drop the first."""
    doubles: list[str] = []

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        names = [name for name, _ in items]
        doubles.extend(name for name in dict.fromkeys(names) if names.count(name) > 1)
        return dict(items)

    json.loads(raw, object_pairs_hook=pairs)
    if doubles:
        named = ", ".join(repr(name) for name in doubles[:_MOST_FAULTS])
        raise ApiProblem("unsafe-json", f"given twice in one object: {named}")
