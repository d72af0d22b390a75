"""Documents of which any part may be left out, made from the core's own models.

A firm states what differs from its last version or from the starter values; everything else stands.
"""

from dataclasses import fields as fields_of
from dataclasses import is_dataclass
from decimal import Decimal
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from pydantic import Field, create_model

from slab_api.schemas.base import Document


def partial(model: type, *, name: str, leave_out: tuple[str, ...] = ()) -> type[Document]:
    """A document with the fields of a dataclass, all of them optional, nested ones likewise."""
    hints = get_type_hints(model)
    shapes: dict[str, Any] = {
        field.name: (_optional(hints[field.name], name=f"{name}{field.name.title()}"), None)
        for field in fields_of(model)
        if field.name not in leave_out
    }
    return create_model(name, __base__=Document, __doc__=model.__doc__, **shapes)


def _optional(hint: Any, *, name: str) -> Any:
    return _shape(hint, name=name) | None


def _shape(hint: Any, *, name: str) -> Any:
    """The hint with dataclasses turned into partial documents, and no number below zero."""
    if isinstance(hint, type) and is_dataclass(hint):
        return partial(hint, name=name.replace("_", ""))
    if hint is float or hint is Decimal:
        return Annotated[hint, Field(ge=0, le=10**12)]
    if hint is int:
        return Annotated[int, Field(ge=0, le=10**9)]
    if hint is str:
        return Annotated[str, Field(max_length=200)]
    if get_origin(hint) is tuple and get_args(hint)[1:] == (Ellipsis,):
        return tuple[_shape(get_args(hint)[0], name=name), ...]  # type: ignore[misc]  # made at run time
    return hint
