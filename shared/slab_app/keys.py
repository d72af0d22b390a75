"""The text of an API key: `slab_<organisation and key>_<secret>_<checksum>`; that of a customer's link begins
with `offer` in place of `slab`, that of a crew's calendar with `crew`.

The first part names organisation and key, so that the look-up happens inside row-level security. The checksum
tells a mistyped key from a wrong one without asking the database, and lets scanners find leaked keys.
"""

import base64
import hashlib
import hmac
import secrets
import zlib
from dataclasses import dataclass
from uuid import UUID

PREFIX, OFFER, CREW = "slab", "offer", "crew"
_SECRET_BYTES = 32
_KEY_BYTES = 5
_ORGANISATION_CHARACTERS = 26
_SHAPE = (34, 52, 7)
_LETTERS = frozenset("abcdefghijklmnopqrstuvwxyz234567")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyText:
    """A key taken apart. `repr` hides the secret."""

    organisation: UUID
    key_id: str
    secret: str
    prefix: str = PREFIX

    def __repr__(self) -> str:
        return f"KeyText(organisation={self.organisation}, key_id={self.key_id}, secret=***)"

    def text(self) -> str:
        """The whole key, as its holder keeps it."""
        head = f"{self.prefix}_{_base32(self.organisation.bytes)}{self.key_id}_{self.secret}"
        return f"{head}_{_checksum(head)}"

    def digest(self) -> bytes:
        """What is kept of the secret: its SHA-256. The secret is random, so nothing slower is needed."""
        return hashlib.sha256(self.secret.encode()).digest()

    def opens(self, stored: bytes) -> bool:
        """Whether the stored digest is of this secret, in a time that does not depend on the answer."""
        return hmac.compare_digest(self.digest(), stored)


def new_key(*, organisation: UUID, prefix: str = PREFIX) -> KeyText:
    """A key, or a link, with 256 random bits."""
    return KeyText(
        organisation=organisation,
        key_id=_base32(secrets.token_bytes(_KEY_BYTES)),
        secret=_base32(secrets.token_bytes(_SECRET_BYTES)),
        prefix=prefix,
    )


def parse_key(text: str, *, prefix: str = PREFIX) -> KeyText | None:
    """The parts of a key, or None when it is not one: wrong prefix, shape, letters or checksum."""
    first, *parts = text.split("_")
    if first != prefix or tuple(map(len, parts)) != _SHAPE or not set("".join(parts)) <= _LETTERS:
        return None
    head, _, checksum = text.rpartition("_")
    if checksum != _checksum(head):
        return None
    organisation = base64.b32decode(f"{parts[0][:_ORGANISATION_CHARACTERS].upper()}======")
    return KeyText(
        organisation=UUID(bytes=organisation),
        key_id=parts[0][_ORGANISATION_CHARACTERS:],
        secret=parts[1],
        prefix=prefix,
    )


def _base32(value: bytes) -> str:
    return base64.b32encode(value).decode().rstrip("=").lower()


def _checksum(head: str) -> str:
    return _base32(zlib.crc32(head.encode()).to_bytes(4, "big"))
