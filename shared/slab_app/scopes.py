"""What a key may do: each role has its scopes, and a key may be given fewer of them."""

from collections.abc import Iterable
from typing import Final

from slab_store.keys import Role

SCOPES: Final = (
    "estimates:read",
    "estimates:write",
    "jobs:read",
    "jobs:write",
    "surveys:read",
    "surveys:write",
    "firm:read",
    "firm:write",
    "quotes:read",
    "quotes:write",
    "closeouts:read",
    "closeouts:write",
    "schedules:read",
    "schedules:write",
    "stock:read",
    "stock:write",
)

ROLE_SCOPES: Final[dict[Role, frozenset[str]]] = {
    "office": frozenset(SCOPES),
    "crew-lead": frozenset(
        {
            "estimates:read",
            "jobs:read",
            "surveys:read",
            "surveys:write",
            "firm:read",
            "closeouts:read",
            "closeouts:write",
            "schedules:read",
            "stock:read",
        },
    ),
    "field-device": frozenset({"surveys:read", "surveys:write"}),
}
"""A field device uploads what was measured and can see that it arrived; it sees no prices."""


class UnknownScope(ValueError):
    """A key was asked for with a scope that its role does not have."""


def granted(*, role: Role, narrowed_to: Iterable[str]) -> frozenset[str]:
    """The scopes of a key: its role's, narrowed to those named if any are."""
    named = frozenset(narrowed_to)
    return ROLE_SCOPES[role] & named if named else ROLE_SCOPES[role]


def check_scopes(*, role: Role, scopes: Iterable[str]) -> None:
    """Raises UnknownScope that names what the role does not have."""
    foreign = sorted(frozenset(scopes) - ROLE_SCOPES[role])
    if foreign:
        have = ", ".join(sorted(ROLE_SCOPES[role]))
        raise UnknownScope(f"the role {role} has no scope {', '.join(foreign)}; it has {have}")
