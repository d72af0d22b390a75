"""Who acts: every use case takes one, and everything written says who wrote it."""

from dataclasses import dataclass
from uuid import UUID

from slab_store.keys import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """A key at work in one request of one organisation."""

    organisation: UUID
    key_id: str
    role: Role
    scopes: frozenset[str]
    trace_id: str

    @property
    def name(self) -> str:
        """How the actor is written into records."""
        return f"key:{self.key_id}"
